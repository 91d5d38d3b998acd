// Conveniences for every page. Reading and saving work without them.
(() => {
  // The menu closes on Escape and on a click elsewhere, and gives the focus back.
  const openMenus = () => document.querySelectorAll("details.person[open]");
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    openMenus().forEach((menu) => {
      menu.open = false;
      menu.querySelector("summary").focus();
    });
  });
  document.addEventListener("click", (event) => {
    openMenus().forEach((menu) => {
      if (!menu.contains(event.target)) menu.open = false;
    });
  });

  // A region that scrolls sideways can be reached and scrolled by keyboard.
  const markScrollable = (root) => root.querySelectorAll(".scroll").forEach((region) => {
    if (region.scrollWidth > region.clientWidth + 1) region.tabIndex = 0;
    else region.removeAttribute("tabindex");
  });
  markScrollable(document);
  addEventListener("resize", () => markScrollable(document));

  // A filter marked data-submit-on-change sends its form at once; the button stays for those without scripts.
  document.addEventListener("change", (event) => {
    if (event.target.closest("[data-submit-on-change]")) event.target.form.requestSubmit();
  });
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) print();
  });

  // The page may be older than the login: the cookie holds the valid CSRF token.
  document.addEventListener("submit", (event) => {
    const mark = "csrftoken=";
    const good = document.cookie.split("; ").find((part) => part.startsWith(mark));
    const sent = event.target.querySelector("input[name=csrfmiddlewaretoken]");
    if (good && sent) sent.value = good.slice(mark.length);
  });

  // A section of a page that fails to load is announced.
  const alertBox = document.getElementById("connection");
  const say = (text) => {
    if (!alertBox) return;
    alertBox.textContent = text;
    alertBox.hidden = text === "";
  };
  document.addEventListener("htmx:sendError", () => say("The server does not respond. Your last entry may not be saved: check the connection, then enter it again."));
  document.addEventListener("htmx:responseError", (event) => {
    const xhr = event.detail.xhr;
    const number = xhr.getResponseHeader("X-Request-ID");
    const quote = number ? " Quote this number: " + number + "." : "";
    if (xhr.status === 503) say("The server is busy or not available. Nothing was saved; what you typed is still here. Try again in a moment." + quote);
    else if (xhr.status >= 500) say("The server reported an error (" + xhr.status + "). Try again; if it happens again, tell your Bobbin administrator." + quote);
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.successful) say("");
  });
  document.addEventListener("htmx:afterSettle", (event) => markScrollable(event.detail.elt));
  // Somebody else signed in meanwhile: the answer bears that person's mark, and htmx ignores its controls here.
  document.addEventListener("htmx:beforeSwap", (event) => {
    const came = /data-controls="([0-9a-f]+)"/.exec(event.detail.serverResponse || "");
    if (came && came[1] !== document.body.dataset.controls) say("Another person is now signed in. Reload this page before you continue.");
  });
})();

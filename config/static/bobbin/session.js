// The end of the session: a warning in time, a button that extends it, and no typed value lost afterwards.
(() => {
  const box = document.getElementById("session");
  if (!box) return;
  const part = (name) => box.querySelector("[data-session-" + name + "]");
  const length = Number(box.dataset.seconds) * 1000;
  const warning = Number(box.dataset.warning) * 1000;
  const CHECK_MS = 15000;
  let ends = Date.now() + length;
  let signedOut = false;
  let waiting = null; // a form that waits for the login

  const show = (title, text, { canExtend, canSignIn }) => {
    if (part("title").textContent !== title) part("title").textContent = title;
    part("text").textContent = text;
    part("extend").hidden = !canExtend;
    part("login").hidden = !canSignIn;
    box.hidden = false;
  };
  const tellSignedOut = () => {
    signedOut = true;
    show("You are signed out", "What you typed stays on this page. Sign in in another window, then return here and continue.", { canExtend: false, canSignIn: true });
  };
  const tellLeft = (left) => {
    const minutes = Math.max(1, Math.ceil(left / 60000));
    show("You will be signed out soon", "In about " + minutes + (minutes === 1 ? " minute" : " minutes") + ", unless you use the page before then. Entries that are not saved must then wait until you sign in again.", { canExtend: true, canSignIn: false });
  };

  const token = () => {
    const part = document.cookie.split("; ").find((one) => one.startsWith("csrftoken="));
    return part ? part.slice("csrftoken=".length) : "";
  };

  const ask = async (method) => {
    const answer = await fetch(box.dataset.url, { method, headers: { "X-CSRFToken": token() }, credentials: "same-origin", cache: "no-store" });
    if (!answer.ok) throw new Error(answer.status);
    const { seconds } = await answer.json();
    ends = Date.now() + seconds * 1000;
    if (seconds > 0) signedOut = false;
    return seconds;
  };
  const look = async () => {
    const left = ends - Date.now();
    if (left > warning && !signedOut) {
      box.hidden = true;
      return;
    }
    try {
      const seconds = await ask("GET"); // another window may have extended it
      if (seconds === 0) tellSignedOut();
      else if (seconds * 1000 <= warning) tellLeft(seconds * 1000);
      else box.hidden = true;
    } catch {
      if (left <= 0 && navigator.onLine !== false) tellSignedOut(); // without a network nothing can be sent anyway
    }
  };
  setInterval(look, Math.min(CHECK_MS, Math.max(1000, warning / 4)));
  addEventListener("focus", look);
  document.addEventListener("visibilitychange", () => document.hidden || look());

  part("extend").addEventListener("click", async () => {
    try {
      if ((await ask("POST")) === 0) tellSignedOut();
      else box.hidden = true;
    } catch {
      look();
    }
  });

  document.addEventListener("htmx:afterRequest", (event) => {
    const status = event.detail.xhr && event.detail.xhr.status;
    if (status === 401) tellSignedOut();
    else if (event.detail.successful) {
      ends = Date.now() + length;
      signedOut = false;
    }
  });

  // A form is sent only while somebody is signed in; else it stays on the page with its values.
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.method !== "post" || event.defaultPrevented) return;
    if (form === waiting || (!signedOut && ends - Date.now() > warning)) return;
    event.preventDefault();
    const pressed = event.submitter;
    try {
      if ((await ask("GET")) === 0) {
        tellSignedOut();
        box.scrollIntoView({ block: "center" });
        part("login").focus();
        return;
      }
    } catch {
      // No answer: the browser reports it when it sends the form.
    }
    waiting = form;
    form.requestSubmit(pressed);
    waiting = null;
  });
})();

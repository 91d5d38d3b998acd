// The repair part of the bench page: shows refusals in place, and says so while an entry waits on this device.
(() => {
  const part = () => document.getElementById("step-repair");
  const isRepair = (element) => element && element.matches && element.matches("form[data-repair]");
  const say = (form, text) => {
    const foot = form.querySelector("[data-repair-said]") || form.appendChild(document.createElement("p"));
    foot.dataset.repairSaid = "";
    foot.setAttribute("role", "status");
    foot.textContent = text;
  };

  document.addEventListener("htmx:beforeSwap", (event) => {
    const form = event.detail.requestConfig && event.detail.requestConfig.elt;
    if (!part() || !isRepair(form)) return;
    const answer = event.detail.xhr.getResponseHeader("Bench-Answer");
    event.detail.isError = false;
    event.detail.shouldSwap = answer === "kept" || answer === "refused" || answer === "frozen";
    if (answer === "waiting") say(form, "On this device, not sent yet.");
    else if (!answer) say(form, "Not saved: the server did not accept it. Try again.");
  });
  document.addEventListener("htmx:sendError", (event) => {
    if (isRepair(event.detail.elt)) say(event.detail.elt, "Not saved: the server does not respond. Try again.");
  });
})();

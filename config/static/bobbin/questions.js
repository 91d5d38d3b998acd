// A question about a reading: after its answer the field shows the current reading, and has the focus.
// Without this script the answers are buttons of the step's form.
(() => {
  const isAnswer = (node) => node && node.matches && node.matches("[data-question] button");
  const applied = new WeakSet(); // answers of the server that the page shows already

  document.addEventListener("htmx:beforeSwap", (event) => {
    if (!isAnswer(event.detail.requestConfig.elt) || !event.detail.xhr.getResponseHeader("Bench-Answer")) return;
    event.detail.shouldSwap = true; // also for an inspection that was signed meanwhile, whose answer says so
    event.detail.isError = false;
  });

  document.addEventListener("htmx:afterSettle", (event) => {
    const xhr = event.detail.xhr;
    const header = xhr && isAnswer(event.detail.requestConfig.elt) && xhr.getResponseHeader("Bench-Shows");
    if (!header || applied.has(xhr)) return;
    applied.add(xhr);
    const shows = JSON.parse(header);
    const input = document.getElementById("f-" + shows.place);
    if (!input) return;
    input.value = input.valueBefore = shows.value;
    const place = input.closest("[data-place]");
    const unit = place && place.querySelector("select[data-setting=unit]");
    if (unit) unit.value = shows.unit;
    input.focus();
  });
})();

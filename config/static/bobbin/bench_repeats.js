// Repeats of a reading: the same quantity read again, written behind it with a semicolon. A button adds the semicolon,
// which the keypad of a tablet does not have; Alt+R does the same in the field that has the focus.
(() => {
  const form = document.querySelector("[data-rules]");
  if (!form) return;
  const FIELD = "[data-place] input[inputmode=decimal]";
  const say = (text) => (document.getElementById("said").textContent = text);
  let last = null; // the field of a table that had the focus last

  const add = (input) => {
    if (!input || input.value.trim() === "") return say("There is no value yet. Type the first one, then add a repeat.");
    if (!/^[\d.,;+\-\u2212\s]+$/.test(input.value)) return say("Write the repeats first and the unit behind the last one, such as 4.1; 4.2 L/min.");
    if (!/;\s*$/.test(input.value)) input.value = input.value.trim() + "; ";
    input.focus();
    input.setSelectionRange(input.value.length, input.value.length);
    input.dispatchEvent(new Event("input", { bubbles: true }));
    return say("Type the value that was read again. The mean of all counts.");
  };
  const fieldOf = (button) => {
    const place = button.closest("[data-place]");
    if (place) return place.querySelector(FIELD) || place.querySelector("input[inputmode=decimal]");
    return last && button.closest("[data-table]").contains(last) ? last : null;
  };
  form.addEventListener("focusin", (event) => {
    if (event.target.matches(FIELD)) last = event.target;
  });
  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-repeat]");
    if (button) add(fieldOf(button));
  });
  document.addEventListener("keydown", (event) => {
    if (event.code !== "KeyR" || !event.altKey || event.ctrlKey || event.metaKey || !event.target.matches(FIELD)) return;
    event.preventDefault();
    add(event.target);
  });

  // Beside a single field the button is there once the field has a value.
  const show = () => form.querySelectorAll("[data-repeat]").forEach((button) => {
    const place = button.closest("[data-place]");
    button.hidden = Boolean(place) && place.querySelector("input[inputmode=decimal]").value.trim() === "";
  });
  form.addEventListener("input", show);
  document.addEventListener("bobbin:filled", show);
  show();
})();

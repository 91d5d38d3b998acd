// The code on an instrument's label, typed or scanned (a scanner types it and presses Enter), takes the instrument:
// in a field for that field's column or dimension, elsewhere into the test set.
(() => {
  const form = document.querySelector("[data-step-form]");
  const set = () => document.getElementById("test-set");
  if (!form || !set()) return;

  const PAUSE_MS = 50; // a scanner is faster, a person at a keyboard slower
  const SHORTEST = 3;

  const isCode = (text) => {
    const code = text.trim().replace(/\s+/g, " ").toLowerCase();
    const listed = document.querySelectorAll("#instrument-codes option");
    return /[a-z]/i.test(code) && [...listed].some((option) => option.value.toLowerCase() === code);
  };

  // In a field: the code is sent as a reading would be, the answer empties the field again, and focus stays.
  document.addEventListener(
    "keydown",
    (event) => {
      if (event.key !== "Enter" || !event.target.matches("[data-place] input[inputmode=decimal]")) return;
      if (!isCode(event.target.value)) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      event.target.dispatchEvent(new Event("change", { bubbles: true }));
    },
    true
  );

  // Elsewhere: keys that follow each other as fast as a scanner's are held back until Enter ends the code. What a
  // person pressed is given to the page again, in order: after a short pause, or before the next key that is not held.
  // Where a question has the focus, Y, N and digits answer it at once, and only the code of an instrument is taken there.
  let held = [];
  let timer = 0;
  const isTyped = (target) => target.matches("input:not([type=radio], [type=checkbox]), textarea, select, [contenteditable]");
  const isScanned = (code, target) => code.length >= SHORTEST && (target === document.body || isCode(code));
  const giveBack = () => {
    clearTimeout(timer);
    const keys = held;
    held = [];
    keys.forEach(({ key, code, shiftKey }) => {
      // An earlier key may have moved the focus into a field: what follows is typed there.
      const target = document.activeElement || document.body;
      if (isTyped(target) && target.setRangeText) {
        target.setRangeText(key, target.selectionStart, target.selectionEnd, "end");
        target.dispatchEvent(new Event("input", { bubbles: true }));
        // The browser says “change” only of what was typed in the field itself.
        target.addEventListener("focusout", () => target.dispatchEvent(new Event("change", { bubbles: true })), { once: true });
        return;
      }
      const again = new KeyboardEvent("keydown", { key, code, shiftKey, bubbles: true, cancelable: true });
      again.isGivenBack = true;
      target.dispatchEvent(again);
    });
  };
  // The held keys come first; if one of them moved the focus, the key goes where it would have gone then.
  const giveBackBefore = (event) => {
    const before = document.activeElement;
    giveBack();
    if (document.activeElement === before) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const { key, code, shiftKey, ctrlKey, altKey, metaKey } = event;
    const again = new KeyboardEvent("keydown", { key, code, shiftKey, ctrlKey, altKey, metaKey, bubbles: true, cancelable: true });
    again.isGivenBack = true;
    document.activeElement.dispatchEvent(again);
  };
  const select = (code) => {
    set().querySelector("[data-code]").value = code;
    htmx.process(set()); // it may have been replaced just now
    htmx.trigger(set(), "scanned");
  };
  document.addEventListener(
    "keydown",
    (event) => {
      if (event.isGivenBack || event.key === "Shift") return;
      if (!held.length && /^[yn1-9]$/i.test(event.key) && event.target.closest("[role=radiogroup]")) return;
      const scanned = held.map((one) => one.key).join("");
      if (event.key === "Enter" && !isTyped(event.target) && isScanned(scanned, event.target)) {
        clearTimeout(timer);
        held = [];
        event.preventDefault();
        event.stopImmediatePropagation();
        select(scanned);
        return;
      }
      const isHeld = event.key.length === 1 && !event.ctrlKey && !event.altKey && !event.metaKey && !isTyped(event.target);
      if (!isHeld || (event.key === " " && !held.length)) {
        if (held.length) giveBackBefore(event);
        return;
      }
      event.preventDefault();
      event.stopImmediatePropagation();
      const { key, code, shiftKey } = event;
      held.push({ key, code, shiftKey });
      clearTimeout(timer);
      timer = setTimeout(giveBack, PAUSE_MS);
    },
    true
  );

  // What empty fields start with since an instrument was added. A choice of the person stays.
  document.addEventListener("htmx:afterSwap", () => {
    set().querySelectorAll("[data-proposal]").forEach((proposal) => {
      const name = CSS.escape(proposal.dataset.names);
      const instrument = form.querySelector(`[name="${name}:instrument"][data-setting]`);
      const proposed = form.querySelector(`[name="${name}:proposed"][data-proposed]`);
      if (!instrument || !proposed || instrument.value !== proposed.value) return;
      instrument.value = proposed.value = proposal.dataset.proposal;
    });
    set().querySelectorAll("ul").forEach((list) => list.remove());
  });
})();

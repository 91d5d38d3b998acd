// Units at the bench: one choice at the head for all empty fields, and a unit typed behind a number.
(() => {
  const form = document.querySelector("[data-step-form]");
  if (!form) return;

  const keptOf = (place) => document.getElementById("kept-" + place.dataset.place);
  const seenOf = (place) => {
    const seen = keptOf(place) && keptOf(place).querySelector("[data-seen]");
    return seen ? seen.value : "";
  };
  const textOf = (place) => {
    const input = place.querySelector("input[inputmode=decimal]");
    return input ? input.value.trim() : "";
  };

  // A text that is not stored yet keeps the unit under which it was typed.
  const holdUnit = (place, unit) => {
    const name = place.querySelector("input[inputmode=decimal]").name + ":unit";
    if (place.querySelector(`input[name="${CSS.escape(name)}"]`)) return;
    const held = document.createElement("input");
    Object.assign(held, { type: "hidden", name, value: unit });
    held.dataset.own = "unit";
    keptOf(place).append(held);
  };
  const cellsOf = (settings) => {
    const [field, column] = settings.querySelector("[data-setting=unit]").name.split(":")[0].split(".*.");
    return [...form.querySelectorAll("td[data-place]")].filter((cell) => {
      const input = cell.querySelector("input[inputmode=decimal]");
      return input && input.name.startsWith(field + ".") && input.name.endsWith("." + column);
    });
  };
  const setUnit = (select, unit) => {
    const place = select.closest("[data-place]");
    const settings = select.closest("[id^=settings-]");
    if (place && (seenOf(place) || textOf(place))) return;
    if (settings) {
      cellsOf(settings).forEach((cell) => {
        if (textOf(cell) && !seenOf(cell)) holdUnit(cell, select.value);
      });
    }
    const wanted = unit || select.dataset.declared;
    if ([...select.options].some((option) => option.value === wanted)) select.value = wanted;
  };
  document.addEventListener("change", (event) => {
    const choice = event.target.dataset.unitChoice;
    if (!choice || !event.target.closest("[data-units]")) return;
    form.querySelectorAll(`[data-setting=unit][data-unit-choice="${CSS.escape(choice)}"]`).forEach((select) => {
      setUnit(select, event.target.value);
    });
  });

  // The answer to a change of units is shown, also where it is refused; a login page or a proxy's error is not.
  document.addEventListener("htmx:configRequest", (event) => {
    if (!event.detail.elt.closest("[data-units], [data-test-set]")) return;
    const token = document.cookie.split("; ").find((part) => part.startsWith("csrftoken="));
    if (token) event.detail.parameters.csrfmiddlewaretoken = token.slice("csrftoken=".length);
  });
  const say = (head, text) => {
    const status = head.querySelector("[role=status]");
    if (status) status.textContent = text;
  };
  const LOST = "Not stored: the server did not answer. Choose again.";
  document.addEventListener("htmx:beforeSwap", (event) => {
    const head = event.detail.requestConfig.elt.closest("[data-units], [data-test-set]");
    if (!head) return;
    event.detail.shouldSwap = Boolean(event.detail.xhr.getResponseHeader("Bench-Answer"));
    event.detail.isError = false;
    if (event.detail.xhr.getResponseHeader("Bench-Answer") === "waiting") event.detail.shouldSwap = false;
    else if (!event.detail.shouldSwap) say(head, LOST);
  });
  ["htmx:sendError", "htmx:timeout"].forEach((name) =>
    document.addEventListener(name, (event) => {
      const head = event.detail.elt.closest && event.detail.elt.closest("[data-units], [data-test-set]");
      if (head) say(head, LOST);
    })
  );

  // A reading was stored otherwise than it was sent: “45 psi” becomes 45 in psi, and the instrument is the one that
  // the server took. Text typed in the meantime stays.
  document.addEventListener("htmx:afterSwap", (event) => {
    const config = event.detail.requestConfig;
    const place = config && config.elt && config.elt.closest && config.elt.closest("[data-place]");
    const kept = place && keptOf(place);
    if (!kept || kept.dataset.settled === undefined) return;
    const input = place.querySelector("input[inputmode=decimal]");
    const sent = config.parameters[config.parameters.slot];
    if (!input || input.value.trim() !== String(sent).trim()) return;
    input.value = input.valueBefore = kept.dataset.settled;
    const own = place.querySelector("[data-setting]") ? place : null;
    if (own && !(kept.dataset.named !== undefined)) {
      for (const key of ["Unit", "Zero"]) {
        const select = own.querySelector(`[data-setting=${key.toLowerCase()}]`);
        if (select) select.value = kept.dataset["settled" + key];
      }
    }
    const head = own || (kept.dataset.named !== undefined && document.getElementById("settings-" + columnOf(input)));
    const instrument = head && head.querySelector("[data-setting=instrument]");
    if (!instrument) return;
    instrument.value = kept.dataset.settledInstrument;
    const proposed = head.querySelector("[data-proposed]");
    // What was scanned is a choice of the person, what the server took is not.
    if (proposed) proposed.value = kept.dataset.named !== undefined ? "" : kept.dataset.settledInstrument;
  });
  const columnOf = (input) => {
    const [field, , column] = input.name.split(".");
    return `${field}-${column}`;
  };
})();

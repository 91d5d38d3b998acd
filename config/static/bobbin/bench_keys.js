// The bench page by keyboard: the first empty field has the focus, Enter goes to the next one, and each thing that the
// bar offers has a key. The list of keys is in _bench_keys.html.
(() => {
  const bench = document.querySelector("[data-bench]");
  if (!bench) return;
  const FIELDS = "input[inputmode=decimal], [role=radiogroup]";
  const say = (text) => (document.getElementById("said").textContent = text);
  const isShown = (element) => element.checkVisibility({ visibilityProperty: true });
  const next = bench.querySelector("[data-go=next]");

  const strip = bench.querySelector(".steps ol");
  const current = bench.querySelector(".steps [aria-current]");
  if (strip && current) {
    strip.scrollLeft = current.offsetLeft - strip.offsetLeft - (strip.clientWidth - current.offsetWidth) / 2;
    const list = strip.parentElement;
    list.scrollTop = current.offsetTop - list.offsetTop - (list.clientHeight - current.offsetHeight) / 2;
  }
  bench.querySelectorAll("[data-show-keys]").forEach((button) => (button.hidden = false));

  // Unit, zero and instrument of a field stay out of the way of Tab; Alt+Down goes to them.
  const settle = (root) => root.querySelectorAll("[data-setting]").forEach((setting) => (setting.tabIndex = -1));
  settle(bench);
  const settingsOf = (field) => {
    const cell = field.closest(".cell");
    const [key, , column] = cell ? cell.dataset.place.split("-") : [];
    const own = field.closest(".reading") || document.getElementById(`settings-${key}-${column}`);
    return own && [...own.querySelectorAll("[data-setting]")].find(isShown);
  };
  let cameFrom = null;

  // The stops of the page in order; of a group of options the one that is chosen, else the first.
  const stops = () => [...bench.querySelectorAll(FIELDS)].filter(isShown);
  const focusOf = (stop) => {
    if (stop.matches("input, button, a")) return stop;
    const radios = [...stop.querySelectorAll("input[type=radio]")];
    return radios.find((radio) => radio.checked && radio.value !== "") || radios[0];
  };
  const stopOf = (node) => node.closest && (node.closest("[role=radiogroup]") || (node.matches("input[inputmode=decimal]") ? node : null));
  const go = (stop) => {
    const target = focusOf(stop);
    target.focus();
    if (target.select && target.type !== "radio") target.select();
  };
  const isEmptyStop = (stop) => stop.matches("input") ? stop.value.trim() === "" : !stop.querySelector("input:checked:not([value=''])");
  const after = (stop) => {
    const all = stops();
    return all[all.indexOf(stop) + 1] || next;
  };

  // Enter. A table is never left by it: its last cell leads to a new row, and an empty row is not left at all.
  const rowOf = (stop) => stop.closest("tr[data-row]");
  const isEmptyRow = (row) => [...row.querySelectorAll("input[inputmode=decimal]")].every((input) => input.value.trim() === "");
  const following = (stop) => {
    const row = rowOf(stop);
    if (!row) return after(stop);
    if (isEmptyRow(row)) return null;
    const target = after(stop);
    return rowOf(target) && target.closest("[data-table]") === stop.closest("[data-table]") ? target : null;
  };
  const enter = (stop) => {
    const target = following(stop);
    if (target) return go(target);
    if (rowOf(stop) && isEmptyRow(rowOf(stop))) return say("This row is empty. Page Down goes on to what follows the table.");
    return say("A table has no more rows than these. Page Down goes on to what follows it.");
  };

  // Page Down and Page Up: a table, the fields between tables, and the Next button are the parts of a page.
  const partOf = (stop) => stop.closest("[data-table]") || (stop.closest("[data-check]") ? bench : null);
  const parts = () => {
    const found = [];
    stops().forEach((stop) => {
      const last = found[found.length - 1];
      if (last && last.part === partOf(stop)) last.stops.push(stop);
      else found.push({ part: partOf(stop), stops: [stop] });
    });
    return [...found, { part: next, stops: [next] }];
  };
  const goToPart = (by) => {
    const all = parts();
    const stop = stopOf(document.activeElement);
    const at = stop ? all.findIndex((part) => part.stops.includes(stop)) : document.activeElement === next ? all.length - 1 : -1;
    const wanted = all[Math.min(Math.max(at + by, 0), all.length - 1)];
    go(wanted.stops.find((one) => one !== next && isEmptyStop(one)) || wanted.stops[0]);
  };

  // Y and N answer the check that has the focus, and no other: a key too many answers nothing.
  const answer = (word) => {
    const asked = stopOf(document.activeElement);
    if (!asked || !asked.querySelector("input[value=yes]")) return;
    choose(asked.querySelector(`input[value=${word}]`));
    const rest = stops();
    const later = rest.slice(rest.indexOf(asked) + 1);
    go(bench.querySelector("[data-check]") ? later.find(isEmptyStop) || next : after(asked));
  };
  const choose = (radio) => {
    if (!radio || radio.checked) return;
    radio.checked = true;
    radio.dispatchEvent(new Event("input", { bubbles: true }));
    radio.dispatchEvent(new Event("change", { bubbles: true }));
  };
  const chooseNumber = (number) => {
    const group = document.activeElement.closest("[data-choice] [role=radiogroup]");
    const radio = group && group.querySelectorAll("input[type=radio]")[number - 1];
    choose(radio);
    if (radio) radio.focus();
    return Boolean(radio);
  };

  const openNotTested = () => {
    const check = document.activeElement.closest("[data-check]") || bench.querySelector("[data-check]:has(.not-tested)");
    const details = check ? check.querySelector("details[id^=not-tested]") : document.getElementById("not-tested");
    if (!details) return;
    details.open = true;
    const reason = details.querySelector("input, textarea");
    details.querySelector("[name=reason]").focus();
    (reason || details).scrollIntoView({ block: "center" });
  };
  const press = (name) => {
    const target = bench.querySelector(`[data-go=${name}]`);
    if (name === "not-tested") openNotTested();
    else if (target) target.click();
  };
  const keys = document.getElementById("keys");
  const WITH_ALT = { KeyN: "next", KeyB: "back", KeyT: "not-tested", KeyS: "sign" };

  const isTyping = (node) => node.matches("textarea, select, [contenteditable]") ||
    node.matches("input:not([type=radio], [type=checkbox], [type=button], [type=submit])");
  const act = (event) => {
    const node = event.target;
    if (event.altKey && !event.ctrlKey && !event.metaKey) {
      if (WITH_ALT[event.code]) return press(WITH_ALT[event.code]), true;
      const stop = stopOf(node);
      const setting = event.key === "ArrowDown" && stop && settingsOf(stop);
      if (setting) return (cameFrom = stop), setting.focus(), true;
      return false;
    }
    if (event.altKey || event.ctrlKey || event.metaKey) return false;
    if (event.key === "Enter") {
      if (node.matches("[data-setting]") && cameFrom) return go(cameFrom), true;
      const stop = stopOf(node);
      return stop && bench.contains(stop) ? (enter(stop), true) : false;
    }
    if (event.key === "PageDown" || event.key === "PageUp") return goToPart(event.key === "PageDown" ? 1 : -1), true;
    if (isTyping(node)) return false;
    if (event.key === "?") return keys.showModal(), true;
    if (event.key.toLowerCase() === "y") return answer("yes"), true;
    if (event.key.toLowerCase() === "n") return answer("no"), true;
    return /^[1-9]$/.test(event.key) && chooseNumber(Number(event.key));
  };
  document.addEventListener("keydown", (event) => {
    if (keys.open || !event.target.matches || event.isComposing) return;
    if (act(event)) event.preventDefault();
  });
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-show-keys]")) keys.showModal();
    if (!event.target.closest("[data-go=not-tested]")) return;
    event.preventDefault();
    openNotTested();
  });

  // A table is done with where something after it is filled: its empty row is no more to be filled then.
  const isBehind = (stop, fields) => {
    const table = stop.closest("[data-table]");
    const later = fields.slice(fields.indexOf(stop) + 1);
    return table && isEmptyRow(rowOf(stop)) && later.some((one) => !table.contains(one) && !isEmptyStop(one));
  };

  // On opening: a refused field, else the first empty one; of checks the one that the address names. If nothing is
  // empty, the Next button.
  const begin = () => {
    if (location.hash && document.querySelector(location.hash)) return;
    const wrong = [...bench.querySelectorAll("input[aria-invalid=true]")].find(isShown);
    if (wrong) return goQuietly(wrong);
    const fields = stops().filter((stop) => !stop.closest("[data-choice]"));
    const here = bench.querySelector("[data-here]");
    const isFirst = here && here === bench.querySelector("[data-check]");
    const named = here && here.querySelector("[role=radiogroup]");
    const empty = bench.matches("[data-is-complete]") ? null : fields.find((stop) => isEmptyStop(stop) && !isBehind(stop, fields));
    if (named && (!isFirst || isEmptyStop(named))) return goQuietly(named);
    if (here && !named && !isFirst) return here.querySelector("button").focus();
    return goQuietly(empty || next);
  };
  // Without a jump of the page while its fonts still come: it scrolls only if the field is out of sight then.
  const goQuietly = (stop) => {
    const target = focusOf(stop);
    target.focus({ preventScroll: true });
    if (target.closest("[data-bar]")) return;
    document.fonts.ready.then(() => target === document.activeElement && target.scrollIntoView({ block: "nearest" }));
  };
  begin();
})();

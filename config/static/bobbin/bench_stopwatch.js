// A stop-watch beside each field for a time. It starts and stops by its button or Alt+W, and never by itself. Beside a
// single field, stopping writes the time; above a column, each press writes it into the next empty field and the watch
// runs on. Time is that of the events (performance.now), which a change of the clock does not touch.
(() => {
  const form = document.querySelector("[data-rules]");
  if (!form) return;
  const { decimal } = JSON.parse(form.dataset.rules);
  const FIELD = "input[inputmode=decimal]";
  const TICK_MS = 100;
  const watches = [...form.querySelectorAll("[data-stopwatch]")].map((box) => ({ box, start: null, wasHidden: false, timer: 0 }));
  if (!watches.length) return;

  const say = (text) => (document.getElementById("said").textContent = text);
  const button = (watch, name) => watch.box.querySelector(`[data-watch=${name}]`);
  const isRunning = (watch) => watch.start !== null;
  const isOfColumn = (watch) => "ofColumn" in watch.box.dataset;
  const inSeconds = (ms) => (Math.round(ms / 100) / 10).toFixed(1).replace(".", decimal) + " s";
  // Of a column its empty fields in order; else the one field.
  const targetOf = (watch) => {
    if (!isOfColumn(watch)) return document.getElementById("f-" + watch.box.dataset.stopwatch);
    const head = watch.box.closest("td");
    const column = [...head.parentElement.querySelectorAll("td")].indexOf(head);
    const rows = [...watch.box.closest("[data-table]").querySelectorAll("tr[data-row]")];
    const cells = rows.map((row) => row.querySelectorAll("td[data-place]")[column].querySelector(FIELD));
    return cells.find((input) => input.value.trim() === "");
  };
  const show = (watch) => {
    const elapsed = isRunning(watch) ? inSeconds(performance.now() - watch.start) : "";
    const label = isOfColumn(watch) ? "Write" : "Stop";
    watch.box.querySelector("[data-elapsed]").textContent = elapsed;
    button(watch, "press").firstChild.textContent = isRunning(watch) ? label + " " : "Start stop-watch";
    button(watch, "end").hidden = !isRunning(watch) || !isOfColumn(watch);
  };
  const start = (watch, at) => {
    Object.assign(watch, { start: at, wasHidden: false, timer: setInterval(() => show(watch), TICK_MS) });
    show(watch);
    say("The stop-watch runs.");
  };
  const end = (watch) => {
    clearInterval(watch.timer);
    watch.start = null;
    show(watch);
  };
  const write = (watch, at) => {
    const text = inSeconds(at - watch.start);
    const input = targetOf(watch);
    if (!isOfColumn(watch)) end(watch);
    if (!input) return say("No field of this column is empty. The stop-watch runs on.");
    input.value = text;
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
    const doubt = watch.wasHidden ? " This page was out of sight meanwhile: a device that slept stopped the watch. Compare, or time it again." : "";
    return say((isOfColumn(watch) ? "Written: " : "Stopped: ") + text + "." + doubt);
  };
  const press = (watch, at) => (isRunning(watch) ? write(watch, at) : start(watch, at));

  form.addEventListener("click", (event) => {
    const pressed = event.target.closest("[data-watch]");
    const watch = pressed && watches.find(({ box }) => box.contains(pressed));
    if (!watch) return;
    if (pressed.dataset.watch === "press") return press(watch, event.timeStamp);
    end(watch);
    say("The stop-watch is stopped; nothing more was written.");
    button(watch, "press").focus();
  });
  // Alt+W: the watch of the field or table that has the focus, else the one that runs, else the first in sight.
  const chosen = () => {
    const here = document.activeElement.closest(".reading, [data-table]");
    const own = here && watches.find(({ box }) => here.contains(box));
    return own || watches.find(isRunning) || watches.find(({ box }) => box.checkVisibility({ visibilityProperty: true }));
  };
  document.addEventListener("keydown", (event) => {
    if (event.code !== "KeyW" || !event.altKey || event.ctrlKey || event.metaKey || event.repeat) return;
    const watch = chosen();
    if (!watch) return;
    event.preventDefault();
    press(watch, event.timeStamp);
  });
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) watches.filter(isRunning).forEach((watch) => (watch.wasHidden = true));
  });
  addEventListener("beforeunload", (event) => {
    if (!watches.some(isRunning)) return;
    event.preventDefault();
    setTimeout(() => document.dispatchEvent(new CustomEvent("bench:stayed")), 0); // for whoever chose to stay
  });
  watches.forEach((watch) => {
    watch.box.hidden = false;
    show(watch);
  });
})();

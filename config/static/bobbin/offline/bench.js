// The bench without a network: stores its pages on the device, and shows on each what waits there.
(() => {
  const bench = document.querySelector("[data-bench]");
  const { isHere, onChange, person, plural, post, refresh, time, worker } = bobbinDevice;
  if (!bench || !person || !isHere) return;
  const WAITS = "on this device, not sent yet";
  const step = (/\/bench\/(\d+)\/(?:alone\/)?$/.exec(location.pathname) || [])[1];
  const addresses = JSON.parse(document.getElementById("device").dataset.addresses).map((text) => new RegExp(text));
  const links = () => [...bench.querySelectorAll(".steps a[href]")];
  const isReading = (entry) => entry.path.endsWith("/reading/");
  // A page shows its own step, or several checks.
  const isOnPage = (one) => bobbinStore.stepOf(one) === step || document.getElementById("check-" + bobbinStore.stepOf(one)) !== null;
  const byName = (name) => [...bench.querySelectorAll("[name]")].filter((one) => one.name === name);

  // All steps of this inspection, so that each opens without a network.
  const store = () => post({ kind: "store", person, time, paths: links().flatMap((link) => [new URL(link.href).pathname, ...(link.dataset.alone ? [link.dataset.alone] : [])]) });
  if (worker()) store();
  else navigator.serviceWorker.addEventListener("controllerchange", store, { once: true });

  // Each change says whose page it is from, and what it is called.
  document.addEventListener("htmx:configRequest", (event) => {
    if (event.detail.verb !== "post") return;
    event.detail.headers["Bobbin-Person"] = person;
    const input = event.detail.elt.querySelector("input:not([type=hidden])");
    const label = input && (input.getAttribute("aria-label") || (event.detail.elt.querySelector("label, .label") || {}).textContent);
    if (label) event.detail.headers["Bench-Label"] = encodeURIComponent(label.trim().replace(/\s+/g, " "));
  });

  const placeOf = (name) => document.querySelector(`[data-place="${CSS.escape(name.replaceAll(".", "-"))}"]`);
  const keptOf = (name) => document.getElementById("kept-" + name.replaceAll(".", "-"));
  const say = (name, state, text) => {
    const kept = keptOf(name);
    if (!kept) return;
    kept.dataset.state = state;
    kept.querySelectorAll("span").forEach((said) => said.remove());
    const said = [...kept.childNodes].find((node) => node.nodeType === Node.TEXT_NODE);
    if (said) said.textContent = text;
    else kept.prepend(text);
  };
  const setSeen = (name, seen) => byName(name + ":kept").forEach((input) => (input.value = seen ?? ""));

  // What the field of a place shows now: a later text, which is not stored yet, must not be said to be.
  const shownIn = (name) => {
    const inputs = byName(name).filter((input) => input.type !== "hidden");
    const chosen = inputs.find((input) => input.type !== "radio" || input.checked);
    return chosen ? chosen.value.trim() : "";
  };
  // A row that was made in the browser is made again: a copy of the last one with its own number.
  const makeRow = (name) => {
    const [field, number, column] = name.split(".");
    if (column === undefined) return;
    for (let tries = 0; tries < 200 && !placeOf(name); tries += 1) {
      const places = [...bench.querySelectorAll(`td[data-place^="${CSS.escape(field + "-")}"]`)];
      const last = places.length && places[places.length - 1].closest("tr");
      if (!last) return;
      const was = Number(places[places.length - 1].dataset.place.slice(field.length + 1).split("-")[0]);
      if (was >= Number(number)) return;
      const row = last.cloneNode(true);
      if (row.dataset.row) row.dataset.row = was + 1;
      [row, ...row.querySelectorAll("*")].forEach((one) => [...one.attributes].forEach((attribute) => {
        attribute.value = attribute.value.replaceAll(`${field}-${was}-`, `${field}-${was + 1}-`).replaceAll(`${field}.${was}.`, `${field}.${was + 1}.`).replace(`row ${was + 1}`, `row ${was + 2}`);
      }));
      row.querySelectorAll("input").forEach((input) => (input.value = ""));
      row.querySelectorAll(".saved").forEach((kept) => {
        kept.dataset.state = "";
        [...kept.childNodes].forEach((node) => node.nodeName === "INPUT" || node.remove());
      });
      row.querySelectorAll(".note").forEach((note) => note.remove());
      const head = row.querySelector("th");
      if (head) head.textContent = String(was + 2);
      last.after(row);
      htmx.process(row);
    }
  };

  // Put what was typed back into the page, in the order typed. What was sent after the page was made is saved by now.
  const touched = new Set();
  bench.addEventListener("input", (event) => touched.add(event.target.name));
  const fill = (entry) => {
    const name = bobbinStore.nameOf(entry);
    makeRow(name);
    const hidden = placeOf(name) && placeOf(name).closest("[data-wanted][hidden]");
    if (hidden) hidden.hidden = false;
    for (const [field, value] of entry.fields) {
      if (field === "slot" || field.endsWith(":kept") || touched.has(field)) continue;
      byName(field).forEach((input) => {
        if (input.type === "radio") input.checked = input.value === value;
        else if (typeof value === "string" && (field === name || field.startsWith(name + ":") || field.includes(".*."))) input.value = value;
        if (field === name && "valueBefore" in input) input.valueBefore = value;
      });
    }
    if (entry.state === "sent") setSeen(name, entry.seen);
    if (touched.has(name)) return; // something is typed there by now, about which nothing is known yet
    if (entry.state === "waiting") say(name, "waiting", WAITS);
    else {
      say(name, bobbinStore.fieldOf(entry, name) ? "kept" : "", bobbinStore.fieldOf(entry, name) ? "saved" : "");
    }
  };
  let isFilled = false;
  const fillAll = (entries) => {
    isFilled = true;
    entries
      .filter((one) => isReading(one) && isOnPage(one))
      .filter((one) => one.state === "waiting" || (one.state === "sent" && one.answeredAt >= time))
      .forEach(fill);
    document.dispatchEvent(new CustomEvent("bobbin:filled"));
  };

  // The result is not computed here: until the readings are sent there is none.
  const showNotJudged = (count) => {
    for (const id of ["live", "live-bar"]) {
      const panel = document.getElementById(id);
      if (!panel) continue;
      let note = panel.querySelector(".device-note");
      if (!count) {
        if (note) note.remove();
        delete panel.dataset.waits;
        continue;
      }
      if (!note) {
        note = document.createElement(id === "live" ? "p" : "span");
        note.className = "device-note";
        note.setAttribute("role", "status");
        panel.prepend(note);
      }
      panel.dataset.waits = count;
      const text = "Not judged yet: " + plural(count, "reading waits", "readings wait") + " on this device";
      if (note.textContent !== text) note.textContent = text;
    }
  };
  const markSteps = (entries) => links().forEach((link) => {
    const number = (/\/bench\/(\d+)\/(?:alone\/)?$/.exec(new URL(link.href).pathname) || [])[1];
    const count = entries.filter((one) => one.state === "waiting" && bobbinStore.stepOf(one) === number).length;
    let mark = link.querySelector(".device-mark");
    if (!count) {
      if (mark) mark.remove();
      return;
    }
    if (!mark) {
      mark = document.createElement("span");
      mark.className = "device-mark";
      link.append(" ", mark);
    }
    const text = count + " on this device";
    if (mark.textContent !== text) mark.textContent = text;
  });
  // What waits of this step besides readings: remarks, photographs, “not tested”.
  const listOthers = (entries) => {
    const there = entries.filter((one) => one.state === "waiting" && !isReading(one) && isOnPage(one));
    let list = document.getElementById("device-step");
    if (!there.length) {
      if (list) list.remove();
      return;
    }
    if (!list) {
      list = document.createElement("div");
      list.id = "device-step";
      list.className = "notice warn";
      list.setAttribute("role", "status");
      (bench.querySelector(".bench-entry") || bench).append(list);
    }
    const head = document.createElement("b");
    head.textContent = "On this device, not sent yet";
    const lines = document.createElement("ul");
    there.forEach((one) => {
      const line = document.createElement("li");
      line.textContent = bobbinEntries.inWords(one);
      lines.append(line);
    });
    list.replaceChildren(head, lines);
  };
  let shown = [];
  const show = ({ entries }) => {
    shown = entries;
    if (!isFilled) fillAll(entries);
    const waiting = entries.filter((one) => one.state === "waiting" && isReading(one) && isOnPage(one));
    const newest = new Map(waiting.map((one) => [bobbinStore.nameOf(one), one]));
    newest.forEach((one, name) => {
      if (shownIn(name) === String(bobbinStore.fieldOf(one, name)).trim()) say(name, "waiting", WAITS);
    });
    showNotJudged(waiting.length);
    markSteps(entries);
    listOthers(entries);
  };
  onChange(show);
  document.addEventListener("htmx:afterSettle", () => show({ entries: shown }));
  // An answer without parts of the page: to a change that was sent again, or that can no longer be made.
  document.addEventListener("htmx:afterRequest", ({ detail }) => {
    const place = detail.elt.dataset.place;
    const word = place && detail.xhr.getResponseHeader("HX-Reswap") === "none" && detail.xhr.getResponseHeader("Bench-Answer");
    if (word === "kept") {
      detail.elt.querySelectorAll("[data-seen]").forEach((input) => (input.value = detail.xhr.getResponseHeader("Bench-Seen") || ""));
      say(place, "kept", "saved");
      renewResults();
    } else if (word && word !== "waiting") say(place, "failed", "not saved: " + detail.xhr.responseText);
    refresh();
  });

  // Answers that came after the page stopped waiting for them.
  let isStale = false;
  document.addEventListener("bobbin:device", async ({ detail }) => {
    if (detail.kind === "answered" && !detail.isDelivered && isOnPage(detail)) {
      isStale = isStale || detail.word === "kept" || detail.word === "contested";
      const isShown = detail.place && shownIn(detail.place) === detail.value;
      if (detail.word === "kept" && detail.place) {
        setSeen(detail.place, detail.seen);
        if (isShown) say(detail.place, detail.value ? "kept" : "", detail.value ? "saved" : "");
      } else if (isShown) say(detail.place, "failed", detail.word === "contested" ? "two readings, choose one" : "could not be sent: see “On this device”");
    }
    const { entries } = await bobbinDevice.count();
    if (!isStale || entries.some((one) => one.state === "waiting" && isOnPage(one))) return;
    isStale = false;
    renewResults();
  });
  // The results of what was sent meanwhile, from the page as it is now; the fields stay as they are.
  const renewResults = () => {
    const parts = ["live", "live-bar", ...[...bench.querySelectorAll(".told, .steps a")].map((one) => one.id)].filter((id) => id && document.getElementById(id));
    htmx.ajax("GET", location.pathname, { target: "#live", swap: "none", selectOOB: parts.map((id) => `#${id}`).join(",") }).catch(() => {});
  };

  // A form that the browser would send itself, and lose without a network: sent as a change like all others.
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    const { pathname, origin } = new URL(form.action, location.href);
    if (event.defaultPrevented || form.method !== "post" || origin !== location.origin || !worker() || !addresses.some((one) => one.test(pathname))) return;
    event.preventDefault();
    const button = event.submitter;
    const data = new FormData(form, button);
    try {
      const answer = await fetch(pathname, { method: "POST", body: data, headers: { "Bobbin-Person": person, "Bench-Label": encodeURIComponent(button ? button.textContent.trim() : "") } });
      const word = answer.headers.get("Bench-Answer");
      if (word === "kept") location.assign(answer.headers.get("Bench-Location") || location.pathname);
      else if (word === "waiting") goOn(data.get("then"));
      else HTMLFormElement.prototype.submit.call(form); // refused: the page that the server makes shows why
    } catch {
      HTMLFormElement.prototype.submit.call(form);
    }
  });
  const goOn = (then) => {
    const all = links();
    const here = all.findIndex((link) => link.hasAttribute("aria-current"));
    if (then === "next" && all[here + 1]) location.assign(all[here + 1].href);
    else refresh();
  };
})();

// The page “On this device”: what waits, what could not be sent, and which inspections open without a network.
(() => {
  const root = document.getElementById("device-page");
  const { isHere, onChange, person, post, refresh } = bobbinDevice;
  if (!root) return;
  const part = (name) => root.querySelector(`[data-part="${name}"]`);
  if (!person || !isHere) {
    part("unsupported").hidden = false;
    return;
  }
  if (location.pathname !== document.getElementById("device").dataset.page) {
    part("no-network").hidden = false;
    const isSign = /\/sign\/$/.test(location.pathname);
    part("no-network-what").textContent = isSign ? "Signing needs the network." : "This page needs the network.";
  }
  const cell = (row, text, kind = "td") => {
    const one = document.createElement(kind);
    if (kind === "th") one.scope = "row";
    if (text instanceof Node) one.append(text);
    else one.textContent = text;
    row.append(one);
    return one;
  };
  const link = (path, text) => {
    const one = document.createElement("a");
    one.href = path;
    one.textContent = text;
    return one;
  };
  const button = (text, act) => {
    const one = document.createElement("button");
    one.type = "button";
    one.className = "button small";
    one.textContent = text;
    one.addEventListener("click", () => act(one));
    return one;
  };
  const stepOf = (entry, pages) => pages.find((page) => page.step && page.step === bobbinStore.stepOf(entry));
  const whereOf = (entry, pages) => {
    const page = stepOf(entry, pages);
    return page ? link(page.path, page.title) : document.createTextNode("Step " + bobbinStore.stepOf(entry));
  };
  const copy = async (entry, pages, pressed) => {
    const page = stepOf(entry, pages);
    const text = [page ? page.title : "Step " + bobbinStore.stepOf(entry), bobbinEntries.inWords(entry), bobbinEntries.moment(entry)].join("; ");
    try {
      await navigator.clipboard.writeText(text);
      pressed.textContent = "Copied";
    } catch {
      const field = document.createElement("textarea");
      field.value = text;
      field.readOnly = true;
      field.setAttribute("aria-label", "Text to copy");
      pressed.after(field);
      field.select();
    }
  };
  // Asked once: the second press discards.
  const FOR_GOOD = "Discard it for good";
  const asked = new Set(); // changes about which it was asked
  const discard = async (entry, pressed) => {
    if (!asked.has(entry.id)) {
      asked.add(entry.id);
      pressed.textContent = FOR_GOOD;
      return;
    }
    await bobbinStore.remove(entry.id);
    refresh();
  };
  const again = async (entry) => {
    await bobbinStore.write(["outbox"], (rows) => bobbinStore.done(rows.put({ ...entry, state: "waiting", errors: 0, answer: "", word: "" })));
    post({ kind: "send" });
    refresh();
  };
  const fill = (name, entries, pages, isFailed) => {
    const body = part(name).querySelector("tbody");
    body.replaceChildren();
    entries.forEach((entry) => {
      const row = document.createElement("tr");
      cell(row, whereOf(entry, pages), "th");
      cell(row, [bobbinEntries.kindOf(entry), entry.label].filter(Boolean).join(": "));
      cell(row, bobbinEntries.valueOf(entry));
      cell(row, bobbinEntries.moment(entry));
      if (isFailed) {
        cell(row, bobbinEntries.reasonOf(entry));
        const tools = document.createElement("div");
        tools.className = "buttons";
        tools.append(button("Copy", (pressed) => copy(entry, pages, pressed)), button("Send again", () => again(entry)), button(asked.has(entry.id) ? FOR_GOOD : "Discard", (pressed) => discard(entry, pressed)));
        cell(row, tools);
      }
      body.append(row);
    });
    part(name).hidden = !entries.length;
  };
  const fillSteps = (pages) => {
    const list = part("stored").querySelector("ol");
    const steps = pages.filter((page) => page.step).sort((a, b) => a.inspection - b.inspection || a.order - b.order);
    list.replaceChildren(...steps.map((page) => {
      const item = document.createElement("li");
      item.append(link(page.path, page.title));
      return item;
    }));
    part("stored").hidden = !steps.length;
  };
  // Built anew only when something changed, so that no button goes away under a finger or the focus.
  const signOf = (entries, pages) => JSON.stringify([entries.map(({ id, state, word, status }) => [id, state, word, status]), pages.map(({ path, title, order }) => [path, title, order])]);
  let built = "";
  onChange(async ({ entries }) => {
    const pages = await bobbinStore.pagesOf(person);
    const sign = signOf(entries, pages);
    if (sign === built) return;
    built = sign;
    const waiting = entries.filter((one) => one.state === "waiting");
    const failed = entries.filter((one) => one.state === "failed");
    fill("waiting", waiting, pages, false);
    fill("failed", failed, pages, true);
    fillSteps(pages);
    part("nothing").hidden = Boolean(waiting.length || failed.length);
  });
})();

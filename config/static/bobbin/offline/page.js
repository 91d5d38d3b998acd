// Every page of somebody who is signed in: starts the service worker, counts what waits on this device, has it sent.
const bobbinDevice = (() => {
  const box = document.getElementById("device");
  const WORKER = "/service-worker.js"; // at the root, so that it serves every page; a constant, so that no text names a script
  const KICK_MS = 5000;
  const person = box ? box.dataset.person : "";
  const time = box ? Number(box.dataset.time) : 0;
  const listeners = [];
  const worker = () => navigator.serviceWorker && navigator.serviceWorker.controller;
  const post = (message) => {
    if (worker()) worker().postMessage(message);
  };
  // Send a message and wait until the worker has acted on it, at most `ms`.
  const ask = (message, ms) => new Promise((resolve) => {
    if (!worker()) {
      resolve();
      return;
    }
    const channel = new MessageChannel();
    channel.port1.onmessage = resolve;
    setTimeout(resolve, ms);
    worker().postMessage(message, [channel.port2]);
  });
  const plural = (count, one, many) => count + " " + (count === 1 ? one : many);

  const count = async () => {
    const entries = await bobbinStore.entriesOf(person);
    const waiting = entries.filter((one) => one.state === "waiting").length;
    const failed = entries.filter((one) => one.state === "failed").length;
    return { entries, waiting, failed };
  };
  const words = ({ waiting, failed }, why) => {
    const said = [];
    if (failed) said.push(failed + " could not be sent");
    if (waiting) said.push(plural(waiting, "entry waits", "entries wait") + " on this device" + (why === "sign-in" ? ": sign in again to send" : ""));
    return said.join("; ");
  };
  // With a network a change waits for a moment only; nothing is said of that.
  const AT_ONCE_MS = 1000;
  let waitsSince = -AT_ONCE_MS;
  const withoutBriefOnes = (counted, why) => {
    if (!counted.waiting) waitsSince = 0;
    else if (!waitsSince) {
      waitsSince = performance.now();
      setTimeout(refresh, AT_ONCE_MS + 10);
    }
    if (why || !counted.waiting || performance.now() - waitsSince >= AT_ONCE_MS) return counted;
    return { ...counted, waiting: 0, entries: counted.entries.filter((one) => one.state !== "waiting") };
  };
  let isPersistent = false;
  const refresh = async () => {
    const why = (await bobbinStore.fact("waits-for")) || "";
    const counted = withoutBriefOnes(await count(), why);
    const text = words(counted, why);
    if (box.textContent !== text) box.textContent = text;
    box.hidden = !text;
    box.dataset.state = counted.failed ? "failed" : "waiting";
    box.dataset.waiting = counted.waiting;
    box.dataset.failed = counted.failed;
    if (counted.waiting && !isPersistent && navigator.storage && navigator.storage.persist) {
      isPersistent = true;
      navigator.storage.persist().catch(() => {});
    }
    listeners.forEach((listener) => listener(counted, why));
    return counted;
  };
  const onChange = (listener) => {
    listeners.push(listener);
    if (person && isHere) refresh();
  };
  const isHere = Boolean("serviceWorker" in navigator && self.isSecureContext && self.indexedDB);

  const start = async () => {
    const policy = self.trustedTypes ? trustedTypes.createPolicy("bobbin-worker", { createScriptURL: () => WORKER }) : null;
    navigator.serviceWorker.addEventListener("message", (event) => {
      if (event.data.kind === "changed" || event.data.kind === "answered") refresh();
      document.dispatchEvent(new CustomEvent("bobbin:device", { detail: event.data }));
    });
    const greet = () => post({ kind: "hello", person, time });
    navigator.serviceWorker.addEventListener("controllerchange", greet);
    await navigator.serviceWorker.register(policy ? policy.createScriptURL("") : WORKER, { scope: "/" });
    greet();
    refresh();
    const kick = async () => {
      if ((await count()).waiting) post({ kind: "send" });
    };
    setInterval(kick, KICK_MS);
    addEventListener("online", kick);
    document.addEventListener("visibilitychange", () => document.hidden || kick());
    addEventListener("pageshow", (event) => event.persisted && (greet(), refresh()));
  };

  // Before signing out: say what waits, and let the device forget the pages. What waits stays.
  const isLeaving = (form) => new URL(form.action, location.href).pathname === box.dataset.logout;
  const warn = (form, { waiting, failed }) => {
    const note = document.createElement("p");
    note.className = "note device-leaving";
    note.setAttribute("role", "alert");
    const said = [];
    if (waiting) said.push(plural(waiting, "entry waits", "entries wait") + " on this device. " + (waiting === 1 ? "It stays" : "They stay") + " here, and " + (waiting === 1 ? "is" : "are") + " sent when you sign in again on this device.");
    if (failed) said.push(plural(failed, "entry", "entries") + " could not be sent; see “On this device”.");
    note.textContent = said.join(" ");
    form.prepend(note);
    form.querySelector("button").textContent = "Sign out all the same";
  };
  const leave = async (form) => {
    const counted = await count();
    if ((counted.waiting || counted.failed) && !form.querySelector(".device-leaving")) {
      warn(form, counted);
      return;
    }
    await ask({ kind: "leave" }, 2000);
    HTMLFormElement.prototype.submit.call(form);
  };
  if (person && isHere) {
    start().catch(() => {}); // without a service worker the pages work as they do with the network
    document.addEventListener("submit", (event) => {
      if (event.defaultPrevented || event.target.method !== "post" || !isLeaving(event.target) || !worker()) return;
      event.preventDefault();
      leave(event.target);
    });
  }
  if (document.querySelector("[data-device-left]")) post({ kind: "leave" });
  return { ask, count, isHere, onChange, person, plural, post, refresh, time, worker };
})();

// The service worker: the bench from the device without a network, and the outbox of its changes.
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => {
  event.waitUntil(Promise.all([self.clients.claim(), pages.forgetOldVersions()]));
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (outbox.isChange(request)) event.respondWith(outbox.change(event));
  else if (request.method !== "GET") return;
  else if (pages.isStatic(url)) event.respondWith(pages.staticFile(request));
  else if (pages.isOthers(url)) event.respondWith(pages.others(request));
  else if (request.mode === "navigate") event.respondWith(pages.isStored(url) ? pages.page(event) : pages.otherPage(event));
  else if (request.destination === "image") event.respondWith(pages.picture(request));
});
self.addEventListener("sync", (event) => {
  if (event.tag === "bobbin-outbox") event.waitUntil(outbox.send().then((why) => why && Promise.reject(new Error(why))));
});

// Messages of a page (page.js): who it belongs to, what to store, that something may be sent, that its person signs out.
const answers = {
  async hello({ person, time }, source) {
    outbox.people.set(source.id, person);
    await pages.recognise(person, time, { isOfPage: true });
    await outbox.send();
  },
  store: ({ person, paths, time }) => pages.keepAll(person, [SETTINGS.device, ...paths], time),
  send: () => outbox.send(),
  async leave() {
    const { person, time } = await bobbinStore.current();
    outbox.forget();
    await bobbinStore.setFact("person", { person: "", time });
    if (person) await pages.forget(person);
  },
};
self.addEventListener("message", (event) => {
  const answer = answers[event.data?.kind];
  if (!answer) return;
  const done = Promise.resolve(answer(event.data, event.source)).catch(() => {});
  event.waitUntil(done.then(() => event.ports[0]?.postMessage("done")));
});

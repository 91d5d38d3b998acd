// What the device keeps (IndexedDB): the changes that wait, which pages are stored, and the last contact with the server.
// Part of the service worker (config/offline/views.py puts its scripts together) and of every page.
//
// IndexedDB, Cache and Web Locks are used as browsers have them. The wrappers for them come as npm packages, which would
// have to be built on the machine of every installation; a handful of functions stands here instead.
const bobbinStore = (() => {
  const NAME = "bobbin";
  let opened = null;

  const done = (request) => new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  const open = () => {
    opened ??= new Promise((resolve, reject) => {
      const request = indexedDB.open(NAME, 1);
      request.onupgradeneeded = () => {
        request.result.createObjectStore("outbox", { keyPath: "id", autoIncrement: true }).createIndex("person", "person");
        request.result.createObjectStore("pages", { keyPath: ["person", "path"] });
        request.result.createObjectStore("facts");
      };
      request.onsuccess = () => {
        request.result.onversionchange = () => request.result.close();
        request.result.onclose = () => (opened = null);
        resolve(request.result);
      };
      request.onerror = () => reject(request.error);
    }).catch((error) => {
      opened = null;
      throw error;
    });
    return opened;
  };
  // Run `work` in one transaction; resolve with its value once the change is on the disk ("strict").
  const write = async (names, work) => {
    const database = await open();
    const transaction = database.transaction(names, "readwrite", { durability: "strict" });
    const ended = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error || new Error("not stored"));
    });
    ended.catch(() => {});
    try {
      const value = await work(...names.map((name) => transaction.objectStore(name)));
      await ended;
      return value;
    } catch (error) {
      try {
        transaction.abort();
      } catch {
        // it has ended
      }
      throw error;
    }
  };
  const read = async (name, work) => {
    const database = await open();
    return done(work(database.transaction(name).objectStore(name)));
  };

  const fact = (name) => read("facts", (facts) => facts.get(name));
  const setFact = (name, value) => write(["facts"], (facts) => done(facts.put(value, name)));
  // Who is signed in, as the newest answer of the server says; `person` is empty after signing out.
  const current = async () => (await fact("person")) || { person: "", time: 0 };
  // A page may be older than what is known, an answer that just came is not, even if the server's clock was set back.
  const setCurrent = async (person, time, { isOfPage = false } = {}) => {
    const known = await current();
    const isOlder = time < known.time && (isOfPage || known.time - time < 300000);
    if (isOlder || (person === known.person && Math.abs(time - known.time) < 1000)) return known.person;
    await setFact("person", { person, time });
    return person;
  };

  // The changes of one person in the order in which they were made.
  const entriesOf = async (person) => (person ? read("outbox", (outbox) => outbox.index("person").getAll(person)) : []);
  const waitingOf = async (person) => (await entriesOf(person)).filter((entry) => entry.state === "waiting");
  const entry = (id) => read("outbox", (outbox) => outbox.get(id));
  const remove = (id) => write(["outbox"], (outbox) => done(outbox.delete(id)));
  const pagesOf = async (person) => (await read("pages", (pages) => pages.getAll())).filter((page) => page.person === person);

  const fieldOf = (one, name) => {
    const found = one.fields.find(([key]) => key === name);
    return found ? found[1] : undefined;
  };
  const placeOf = (one) => fieldOf(one, "slot") || "";
  // The field that holds the value of its place: on a page of several steps the step comes first.
  const nameOf = (one) => {
    const place = placeOf(one);
    const ofStep = "s" + stepOf(one) + "." + place;
    return place && fieldOf(one, place) === undefined && fieldOf(one, ofStep) !== undefined ? ofStep : place;
  };
  // The number of the step that a change belongs to, from its address.
  const stepOf = (one) => {
    const found = /^\/inspections\/(?:steps|\d+\/bench)\/(\d+)\//.exec(one.path);
    return found ? found[1] : "";
  };

  return { current, done, entriesOf, entry, fact, fieldOf, nameOf, pagesOf, placeOf, read, remove, setCurrent, setFact, stepOf, waitingOf, write };
})();

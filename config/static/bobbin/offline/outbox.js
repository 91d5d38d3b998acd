// The outbox: every change of a bench page is stored on the device before it is sent, and removed when it is answered.
const outbox = (() => {
  const CONTACT_MS = 60000; // how long the token and the person of a contact are relied on
  const SOON_MS = 250; // how long a page waits for an answer while the network is known to be gone
  const PATIENCE_MS = 2000; // and otherwise
  const SENDING_MS = 25000;
  const FILE_MS = 180000;
  const LOST_MS = 15000;
  const MOST_ERRORS = 6; // answers 500 to one change, after which it no longer holds up those behind it
  const REFUSED = [400, 404, 405, 410, 413, 414, 415, 422];
  const addresses = SETTINGS.addresses.map((text) => new RegExp(text));
  const waitingPages = new Map(); // entry id -> function that gives the page its answer
  const people = new Map(); // client id -> person whose page it is
  let contact = null;
  let lostAt = 0;
  let running = null;
  let isAskedAgain = false;

  const isChange = (request) => {
    const url = new URL(request.url);
    return request.method === "POST" && request.mode !== "navigate" && url.origin === location.origin && addresses.some((one) => one.test(url.pathname));
  };
  const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
  const tell = async (message) => {
    for (const client of await clients.matchAll({ includeUncontrolled: true, type: "window" })) client.postMessage(message);
  };
  const within = (ms) => AbortSignal.timeout(ms);

  // What is stored of a request. Its token and its cookie are those of the moment in which it is sent.
  const NOT_STORED = ["content-type", "content-length", "cookie", "x-csrftoken", "bench-label", "bobbin-person", "idempotency-key"];
  const described = async (request, person) => {
    const headers = [...request.headers].filter(([name]) => !NOT_STORED.includes(name.toLowerCase()));
    const isMultipart = (request.headers.get("Content-Type") || "").startsWith("multipart/");
    const label = request.headers.get("Bench-Label");
    const isEmpty = !request.headers.get("Content-Type");
    const fields = isEmpty ? [] : [...(await request.clone().formData())].filter(([name]) => name !== "csrfmiddlewaretoken");
    const { offset = 0, time = 0 } = (await bobbinStore.fact("contact")) || {};
    return {
      key: request.headers.get("Idempotency-Key") || crypto.randomUUID(),
      person, path: new URL(request.url).pathname, headers, isMultipart, fields,
      label: label ? decodeURIComponent(label) : "",
      typedAt: Date.now(), offset, contactAt: time,
      state: "waiting", errors: 0,
    };
  };
  // The page may still show the reading before one that was saved meanwhile: name the newest that this device saved.
  const withSeen = (entry, earlier) => {
    const place = bobbinStore.placeOf(entry);
    if (!place) return entry;
    for (const one of earlier) {
      if (one.state !== "sent" || one.path !== entry.path || bobbinStore.placeOf(one) !== place) continue;
      renew(entry, one, one.seen);
    }
    return entry;
  };
  const renew = (entry, answered, seen) => {
    if (seen === null || seen === undefined) return;
    const shown = entry.fields.find(([key]) => key === bobbinStore.nameOf(entry) + ":kept");
    if (shown && shown[1] === bobbinStore.fieldOf(answered, bobbinStore.nameOf(answered) + ":kept")) shown[1] = seen;
  };
  const add = async (entry) => {
    entry.id = await bobbinStore.write(["outbox"], async (rows) => {
      const earlier = await bobbinStore.done(rows.index("person").getAll(entry.person));
      return bobbinStore.done(rows.add(withSeen(entry, earlier)));
    });
    return entry;
  };

  const waiting = (reason) => new Response("", { status: 202, headers: { "Bench-Answer": "waiting", "Bench-Waits-For": reason, "HX-Reswap": "none" } });

  // Answer a change of a page: with the server's own answer, or "waiting" if there is none in time.
  const change = async (event) => {
    const request = event.request;
    const person = request.headers.get("Bobbin-Person") || people.get(event.clientId) || (await bobbinStore.current()).person;
    let entry;
    try {
      if (!person) throw new Error("nobody is known to be signed in");
      entry = await add(await described(request, person));
    } catch {
      return fetch(request); // it cannot be stored: the page gets the answer, or the failure, as without this script
    }
    const answered = new Promise((resolve) => waitingPages.set(entry.id, { resolve, client: event.clientId }));
    tell({ kind: "changed" });
    registration.sync?.register("bobbin-outbox").catch(() => {});
    event.waitUntil(send());
    const patience = Date.now() - lostAt < LOST_MS ? SOON_MS : PATIENCE_MS;
    const answer = await Promise.race([answered, pause(patience)]);
    waitingPages.delete(entry.id);
    return answer || waiting("network");
  };
  const giveUp = (reason) => {
    waitingPages.forEach((page) => page.resolve(waiting(reason)));
    waitingPages.clear();
  };
  // Give the page the server's answer. Return whether there is a page that waits for it.
  const deliver = async (id, response) => {
    const page = waitingPages.get(id);
    if (!page) return false;
    waitingPages.delete(id);
    const isThere = Boolean(page.client && (await clients.get(page.client)));
    page.resolve(response);
    return isThere;
  };

  // Ask the server who is signed in and for a token. Return null without an answer.
  const reach = async () => {
    const start = Date.now();
    const response = await fetch(SETTINGS.contact, { cache: "no-store", credentials: "same-origin", signal: within(5000) });
    if (!response.ok || response.redirected) throw new Error(response.status);
    const answer = await response.json();
    const offset = answer.time - (start + Date.now()) / 2;
    contact = { ...answer, offset, at: Date.now() };
    if (answer.person) await pages.recognise(answer.person, answer.time);
    await bobbinStore.setFact("contact", { offset, time: answer.time });
    return contact;
  };
  const isFresh = () => contact && contact.person && Math.abs(Date.now() - contact.at) < CONTACT_MS;

  // When it was typed by the clock of the server. The clock of the device may have been set since: of the two offsets the
  // one counts that puts the moment between the last contact before it and now.
  const typedAt = (entry) => {
    const now = Date.now() + contact.offset;
    const guesses = [entry.typedAt + entry.offset, entry.typedAt + contact.offset];
    const good = guesses.find((moment) => moment >= entry.contactAt && moment <= now);
    return Math.round(good ?? Math.min(Math.max(guesses[0], entry.contactAt), now));
  };
  const post = async (entry) => {
    const headers = new Headers(entry.headers);
    headers.set("X-CSRFToken", contact.token);
    headers.set("Idempotency-Key", entry.key);
    headers.set("Bobbin-Person", entry.person);
    headers.set("Typed-At", String(typedAt(entry)));
    const body = entry.isMultipart ? new FormData() : new URLSearchParams();
    entry.fields.forEach(([name, value]) => body.append(name, value));
    const signal = within(entry.isMultipart ? FILE_MS : SENDING_MS);
    const response = await fetch(entry.path, { method: "POST", headers, body, redirect: "manual", credentials: "same-origin", cache: "no-store", signal });
    return { response, text: response.type === "opaqueredirect" ? "" : await response.text() };
  };

  // Put down what the server said; the changes behind it that name the same reading are renewed in the same transaction.
  const settle = async (entry, { response, text, word }) => {
    const seen = response.headers.get("Bench-Seen");
    const { status } = response;
    const isDelivered = await deliver(entry.id, new Response(text, { status, headers: response.headers }));
    await bobbinStore.write(["outbox"], async (rows) => {
      if (!(await bobbinStore.done(rows.get(entry.id)))) return;
      if (word === "kept") {
        const later = await bobbinStore.done(rows.index("person").getAll(entry.person));
        for (const one of later) {
          if (one.state !== "waiting" || one.id <= entry.id || one.path !== entry.path) continue;
          if (!bobbinStore.placeOf(one) || bobbinStore.placeOf(one) !== bobbinStore.placeOf(entry)) continue;
          renew(one, entry, seen);
          rows.put(one);
        }
        const fields = entry.fields.filter(([, value]) => typeof value === "string");
        const answeredAt = Number(response.headers.get("Bobbin-Time")) || Date.now() + contact.offset;
        rows.put({ ...entry, fields, state: "sent", seen, answeredAt });
      } else if (isDelivered || word === "contested") rows.delete(entry.id);
      else rows.put({ ...entry, state: "failed", word, status, answer: text });
    });
    const place = bobbinStore.nameOf(entry);
    const value = String(bobbinStore.fieldOf(entry, place) ?? "").trim();
    tell({ kind: "answered", path: entry.path, place, value, word, seen, isDelivered });
  };

  // Send one change. Return whether the next one may follow.
  const sendOne = async (entry) => {
    let sent = await post(entry);
    if (sent.response.status === 403 && !sent.response.headers.get("Bench-Answer")) {
      await reach(); // the token has changed, as at every login
      if (contact.person !== entry.person) return false;
      sent = await post(entry);
    }
    const { status } = sent.response;
    const word = sent.response.headers.get("Bench-Answer") || (REFUSED.includes(status) ? "refused" : "");
    if (word && word !== "waiting" && status < 500) {
      await settle(entry, { ...sent, word });
      return true;
    }
    if (status === 0 || status === 401) contact = null;
    if (status !== 500 && status !== 403) return false;
    entry.errors += 1;
    if (entry.errors >= MOST_ERRORS) await settle(entry, { ...sent, word: "error" });
    else await bobbinStore.write(["outbox"], (rows) => bobbinStore.done(rows.put(entry)));
    return entry.errors >= MOST_ERRORS;
  };
  const sendAll = async () => {
    if (!(await bobbinStore.read("outbox", (rows) => rows.count()))) return "";
    if (!isFresh() || contact.person !== (await bobbinStore.current()).person) await reach();
    lostAt = 0;
    const person = contact.person;
    if (!person) return "sign-in";
    for (;;) {
      const [entry] = await bobbinStore.waitingOf(person);
      if (!entry) return "";
      if (!(await sendOne(entry))) return contact ? "server" : "sign-in";
    }
  };
  const attempt = async () => {
    let why = "network";
    try {
      why = await navigator.locks.request("bobbin-send", sendAll);
    } catch {
      lostAt = Date.now();
      contact = null;
    }
    if (why) giveUp(why);
    await bobbinStore.setFact("waits-for", why).catch(() => {});
    tell({ kind: "changed", why });
    return why;
  };
  // Send what waits: one run at a time, and once more if it was asked for meanwhile.
  const send = () => {
    if (running) {
      isAskedAgain = true;
      return running;
    }
    running = attempt().finally(() => {
      running = null;
      if (!isAskedAgain) return undefined;
      isAskedAgain = false;
      return send();
    });
    return running;
  };
  const forget = () => {
    contact = null;
  };

  return { change, forget, isChange, people, send };
})();

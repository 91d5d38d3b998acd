// The pages of an inspection on the device: every step with what it needs to be shown, of the person who opened it.
const pages = (() => {
  const SLOW_MS = 3000; // after which a stored page is shown instead of waiting for the network
  const LOST_MS = 500; // the same while the network is known to be gone
  const RECENT_MS = 15000;
  const OLD_MS = 30 * 60000; // a stored page is fetched again when its inspection is opened after that
  const STATIC = "bobbin-static-";
  const BENCH = /^\/inspections\/(\d+)\/bench\/(?:(\d+)\/(?:alone\/)?)?$/;
  let lostAt = 0;

  const cacheOf = (person) => caches.open("bobbin-pages-" + person);
  const isStatic = (url) => url.pathname.startsWith(SETTINGS.static);
  const isStored = (url) => url.pathname === SETTINGS.device || BENCH.test(url.pathname);
  const isOthers = (url) => /^\/inspections\/\d+\/bench\/others\/$/.test(url.pathname);

  // Answers the network's response, or null if there is none within `ms`; a late one is still waited for in `late`.
  const fromNetwork = async (request, ms) => {
    const asked = fetch(request);
    asked.catch(() => {});
    const timer = new Promise((resolve) => setTimeout(resolve, ms, null));
    try {
      const response = await Promise.race([asked, timer]);
      if (!response) lostAt = Date.now();
      else lostAt = 0;
      return { response, asked };
    } catch {
      lostAt = Date.now();
      return { response: null, asked };
    }
  };
  const patience = () => (Math.abs(Date.now() - lostAt) < RECENT_MS ? LOST_MS : SLOW_MS);

  // Static files. Where their names hold their digest, a stored one is as good as a new one.
  const staticFile = async (request) => {
    const stored = await caches.match(request, { ignoreVary: true });
    if (stored && SETTINGS.isHashed) return stored;
    const { response, asked } = await fromNetwork(request, stored ? patience() : SLOW_MS * 10);
    if (response?.ok) await (await caches.open(STATIC + SETTINGS.version)).put(request, response.clone());
    return response || stored || asked;
  };

  const decoded = (text) => text.replace(/&amp;/g, "&").replace(/&quot;/g, '"').replace(/&#x27;/g, "'").replace(/&lt;/g, "<").replace(/&gt;/g, ">");
  const titleOf = (text) => {
    const found = /<title>([^<]*)<\/title>/.exec(text);
    return found ? decoded(found[1]).replace(/ · Bobbin$/, "").trim() : "";
  };
  // The addresses of style sheets, scripts and pictures in a page, and of fonts in a style sheet.
  const addressesIn = (text, base) => {
    const found = [...text.matchAll(/<(?:link|script|img|use)\b[^>]*?\s(?:href|src)="([^"#]+)/g), ...text.matchAll(/url\(["']?([^"')#]+)/g)];
    const urls = found.map((one) => new URL(decoded(one[1]), base)).filter((url) => url.origin === location.origin && !BENCH.test(url.pathname));
    return [...new Set(urls.map((url) => url.href))];
  };
  const keepFiles = async (text, base, person) => {
    for (const href of addressesIn(text, base)) {
      const url = new URL(href);
      const name = isStatic(url) ? STATIC + SETTINGS.version : "bobbin-pages-" + person;
      const cache = await caches.open(name);
      if (await cache.match(href, { ignoreVary: true })) continue;
      const response = await fetch(href, { credentials: "same-origin" }).catch(() => null);
      if (!response?.ok || response.redirected) continue;
      await cache.put(href, response.clone());
      if (url.pathname.endsWith(".css")) await keepFiles(await response.text(), href, person);
    }
  };

  // Whether a stored page shows a step without a change of it that was sent.
  const isBehind = (stored, entry) => (stored.steps || []).includes(bobbinStore.stepOf(entry)) && entry.answeredAt >= stored.time;

  // Store a page that the server gave to `person`. What this device sent before it was made is on it now.
  const keep = async (path, response, order) => {
    const person = response.headers.get("Bobbin-Person");
    const time = Number(response.headers.get("Bobbin-Time"));
    if (!response.ok || response.redirected || !person || !time) return;
    const text = await response.clone().text();
    const cache = await cacheOf(person);
    await cache.put(path, response);
    const [, inspection = "", step = ""] = BENCH.exec(path) || [];
    await bobbinStore.write(["pages", "outbox"], async (rows, changes) => {
      const stored = (await bobbinStore.done(rows.getAll())).filter((one) => one.person === person);
      const known = stored.find((one) => one.path === path);
      const steps = [step, ...[...text.matchAll(/id="check-([0-9]+)"/g)].map((one) => one[1])]; // a page may show several
      rows.put({ person, path, time, inspection, step, steps, title: titleOf(text), order: order ?? known?.order ?? 0, version: SETTINGS.version });
      for (const one of await bobbinStore.done(changes.index("person").getAll(person))) {
        if (one.state !== "sent" || !steps.includes(bobbinStore.stepOf(one)) || one.answeredAt >= time) continue;
        if (!stored.some((other) => other.path !== path && isBehind(other, one))) changes.delete(one.id);
      }
    });
    await keepFiles(text, new URL(path, location.origin).href, person);
  };

  // A page of the bench, or what waits on the device: from the network, else as stored for who is signed in.
  const page = async (event) => {
    const url = new URL(event.request.url);
    const person = (await bobbinStore.current()).person;
    const stored = person && (await caches.match(url.pathname, { cacheName: "bobbin-pages-" + person, ignoreVary: true }));
    const { response, asked } = await fromNetwork(event.request, stored ? patience() : SLOW_MS * 20);
    if (response) {
      event.waitUntil(arrived(url, response.clone()));
      return response;
    }
    if (stored) {
      event.waitUntil(asked.then((late) => arrived(url, late)).catch(() => {}));
      return stored;
    }
    const [, inspection, step] = BENCH.exec(url.pathname) || [];
    const first = inspection && !step ? await firstStep(person, inspection) : "";
    return first ? Response.redirect(first, 302) : withoutNetwork(person, asked);
  };
  // Somebody is signed in. The stored pages of another person go.
  const recognise = async (person, time, options) => {
    const before = (await bobbinStore.current()).person;
    const now = await bobbinStore.setCurrent(person, time, options);
    if (before && now !== before) await forget(before);
  };
  const arrived = async (url, response) => {
    const person = response.headers.get("Bobbin-Person");
    if (!person) return;
    await recognise(person, Number(response.headers.get("Bobbin-Time")));
    if (response.ok && isStored(url)) await keep(url.pathname, response);
  };
  const firstStep = async (person, inspection) => {
    const steps = (await bobbinStore.pagesOf(person)).filter((one) => one.inspection === inspection && one.step);
    steps.sort((a, b) => a.order - b.order);
    return steps.length ? new URL(steps[0].path, location.origin).href : "";
  };
  // Any other page without the network: the page of the device says what can be done. Without it the browser's own.
  const withoutNetwork = async (person, asked) => {
    const stored = person && (await caches.match(SETTINGS.device, { cacheName: "bobbin-pages-" + person, ignoreVary: true }));
    return stored || asked;
  };
  const otherPage = async (event) => {
    const asked = fetch(event.request);
    try {
      const response = await asked;
      event.waitUntil(arrived(new URL(event.request.url), response.clone()));
      return response;
    } catch {
      return withoutNetwork((await bobbinStore.current()).person, asked);
    }
  };
  const others = (request) => fetch(request).catch(() => new Response(null, { status: 204 }));
  const picture = async (request) => {
    const { person } = await bobbinStore.current();
    const { response, asked } = await fromNetwork(request, SLOW_MS);
    return response || (person && (await caches.match(request, { cacheName: "bobbin-pages-" + person, ignoreVary: true }))) || asked;
  };

  // Store every step of an inspection that is not stored, is old, or shows less than this device has sent.
  let keeping = Promise.resolve();
  const keepAll = (person, paths, now) => {
    keeping = keeping.then(() => keepMissing(person, paths, now)).catch(() => {});
    return keeping;
  };
  const keepMissing = async (person, paths, now) => {
    const known = new Map((await bobbinStore.pagesOf(person)).map((one) => [one.path, one]));
    const sent = (await bobbinStore.entriesOf(person)).filter((one) => one.state === "sent");
    for (const [order, path] of paths.entries()) {
      const one = known.get(path);
      const isStale = one && sent.some((entry) => isBehind(one, entry));
      if (one && one.version === SETTINGS.version && now - one.time < OLD_MS && !isStale) continue;
      const response = await fetch(path, { credentials: "same-origin", redirect: "manual", signal: AbortSignal.timeout(20000) });
      if (response.type === "opaqueredirect" || response.headers.get("Bobbin-Person") !== person) return;
      await keep(path, response, order);
    }
  };

  // The stored pages go when their person signs out; what waits to be sent stays.
  const forget = async (person) => {
    for (const name of await caches.keys()) {
      if (name.startsWith("bobbin-pages-") && (!person || name === "bobbin-pages-" + person)) await caches.delete(name);
    }
    await bobbinStore.write(["pages"], async (rows) => {
      for (const one of await bobbinStore.done(rows.getAll())) if (!person || one.person === person) rows.delete([one.person, one.path]);
    });
  };
  // Static files of this version and the one before stay: pages of the earlier version may still be open.
  const forgetOldVersions = async () => {
    const versions = [SETTINGS.version, ...((await bobbinStore.fact("versions")) || [])];
    const kept = [...new Set(versions)].slice(0, 2);
    await bobbinStore.setFact("versions", kept);
    for (const name of await caches.keys()) {
      if (name.startsWith(STATIC) && !kept.includes(name.slice(STATIC.length))) await caches.delete(name);
    }
  };

  return { forget, forgetOldVersions, isOthers, isStatic, isStored, keepAll, otherPage, others, page, picture, recognise, staticFile };
})();

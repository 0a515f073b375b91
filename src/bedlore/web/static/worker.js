// Keeps the pages last seen, so that they open without a signal. PARTS (our own files), BUILD,
// NO_SIGNAL, PHONE and SIGN_OUT are written above this by the server.
"use strict";
const OURS = "bedlore-files";
const OPEN = `bedlore-open-${BUILD}`;
const PRIVATE = "bedlore-pages-"; // followed by the account they belong to
const MOST_PAGES = 120;
const MOST_FORMS = 60; // taken along unasked
const FORM_FRESH_MS = 12 * 3600 * 1000; // a form changes little; why fetch it with each outlook
const MOST_FILES = 80;
const PATIENCE_MS = 4000; // then the stored copy is shown, and the page is renewed behind it
let era = 0; // counts sign-outs: what was asked for before one is not kept after it

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    await (await caches.open(OURS)).addAll(PARTS);
    await (await caches.open(OPEN)).add(new Request(NO_SIGNAL, { credentials: "omit" }));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("bedlore-open-") && name !== OPEN) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

const forgetPages = async (but = "") => {
  for (const name of await caches.keys()) {
    if (name.startsWith(PRIVATE) && name !== PRIVATE + but) await caches.delete(name);
  }
};

const trim = async (store, most) => {
  const keys = await store.keys(); // oldest first
  await Promise.all(keys.slice(0, Math.max(keys.length - most, 0)).map((key) => store.delete(key)));
};

// Keeps a page that the server says may be kept; an answer to somebody else, or to nobody,
// wipes what was kept before.
const keep = async (address, answer, since) => {
  const account = answer.headers.get("X-Bedlore-Account");
  if (account === null || since !== era) return;
  await forgetPages(account);
  if ([403, 404, 410].includes(answer.status)) { // not, or no longer, for this account
    await (await caches.open(PRIVATE + account)).delete(address, { ignoreVary: true });
  }
  if (!answer.ok || !answer.headers.get("X-Bedlore-Keep")) return;
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  headers.set("X-Bedlore-Stored", new Date().toISOString());
  const body = await answer.blob();
  if (since !== era) return;
  const store = await caches.open(PRIVATE + account);
  await store.delete(address, { ignoreVary: true });
  await store.put(address, new Response(body, { headers }));
  await trim(store, MOST_PAGES);
  if (since !== era) await forgetPages();
};

const plain = (address) => {
  const url = new URL(address);
  url.hash = "";
  return url.href;
};

const stored = async (address) => {
  for (const name of await caches.keys()) {
    if (!name.startsWith(PRIVATE)) continue;
    const found = await (await caches.open(name)).match(plain(address), { ignoreVary: true });
    if (found) return found;
  }
  return null;
};

// A stored page says on its body from when it is.
const copyOf = async (found) => {
  const since = found.headers.get("X-Bedlore-Stored");
  const html = (await found.text()).replace("<body ", `<body data-copy="${since}" `);
  return new Response(html, { headers: found.headers });
};

const noSignal = async () => {
  const found = await (await caches.open(OPEN)).match(NO_SIGNAL, { ignoreVary: true });
  return found || Response.error();
};

// The app opens at "/", which only leads on: without a signal, to the farm seen last.
const lastToday = async () => {
  for (const name of await caches.keys()) {
    if (!name.startsWith(PRIVATE)) continue;
    const keys = await (await caches.open(name)).keys();
    const found = keys.reverse().find((key) => new URL(key.url).pathname.endsWith("/today/"));
    if (found) return Response.redirect(found.url);
  }
  return null;
};

const copyOrNothing = async (request) => {
  const found = await stored(request.url);
  if (found) return copyOf(found);
  return (new URL(request.url).pathname === "/" && await lastToday()) || noSignal();
};

const isDown = (answer) => [502, 503, 504].includes(answer.status);

const page = async (event) => {
  const { request } = event;
  const since = era;
  const asked = fetch(request).then((answer) => {
    if (isDown(answer)) throw new Error("the server is down");
    if (answer.type !== "opaqueredirect") {
      event.waitUntil(keep(plain(request.url), answer.clone(), since));
    }
    return answer;
  });
  event.waitUntil(asked.catch(() => {}));
  const patience = new Promise((good) => { setTimeout(good, PATIENCE_MS, null); });
  try {
    const answer = await Promise.race([asked, patience]);
    if (answer) return answer;
    const found = await stored(request.url);
    return found ? await copyOf(found) : await asked;
  } catch {
    return copyOrNothing(request);
  }
};

const sent = async (request) => {
  if (new URL(request.url).pathname === SIGN_OUT) {
    era += 1;
    await forgetPages();
  }
  try {
    return await fetch(request);
  } catch {
    return noSignal();
  }
};

const file = async (request) => {
  const store = await caches.open(OURS);
  const found = await store.match(request, { ignoreVary: true });
  if (found) return found;
  const answer = await fetch(request);
  if (answer.ok) {
    await store.put(request, answer.clone());
    await trim(store, MOST_FILES);
  }
  return answer;
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (url.pathname.startsWith(STATIC) && request.method === "GET") event.respondWith(file(request));
  else if (request.mode === "navigate") {
    event.respondWith(request.method === "GET" ? page(event) : sent(request));
  }
});

// The forms that a page leads to, most urgent bed first.
const formsOn = (html, base) => [...html.matchAll(/href="([^"]+)"/g)]
  .map(([, href]) => new URL(href.replaceAll("&amp;", "&"), base))
  .filter((url) => url.origin === self.location.origin && url.pathname.includes("/write/"))
  .map((url) => plain(url.href));

const forgetFarmsBut = async (store, farms) => {
  for (const key of await store.keys()) {
    const farm = /^\/farms\/([^/]+)\//.exec(new URL(key.url).pathname);
    if (farm && !farms.includes(farm[1])) await store.delete(key);
  }
};

// The pages to take along, one after the other; done once for each outlook.
const takeAlong = async ({ account, farms, speech, taken, here }) => {
  const since = era;
  const take = async (address, freshMs = 0) => {
    const found = freshMs ? await stored(address) : null;
    const age = found ? Date.now() - Date.parse(found.headers.get("X-Bedlore-Stored")) : Infinity;
    if (age < freshMs) return;
    const answer = await fetch(address, { credentials: "same-origin", redirect: "manual" });
    if (since !== era || answer.headers.get("X-Bedlore-Account") !== account) {
      throw new Error("somebody else is signed in");
    }
    await keep(address, answer, since);
  };
  const store = await caches.open(PRIVATE + account);
  await forgetFarmsBut(store, farms);
  if (here) await take(plain(here));
  for (const { stamp, pages } of taken) {
    const mark = `/phone/taken/${encodeURIComponent(pages[0])}`;
    const before = await store.match(mark);
    const [stampBefore, speechBefore] = before ? await before.json() : [];
    if (stampBefore === stamp && speechBefore === speech + BUILD) continue;
    const forms = new Set();
    for (const path of pages) {
      const address = new URL(path, self.location.origin).href;
      await take(address);
      const found = await stored(address);
      if (found) formsOn(await found.text(), address).forEach((form) => forms.add(form));
    }
    for (const form of [...forms].slice(0, MOST_FORMS)) {
      await take(form, speechBefore === speech + BUILD ? FORM_FRESH_MS : 0);
    }
    if (since !== era) return;
    await store.put(mark, new Response(JSON.stringify([stamp, speech + BUILD])));
  }
};

self.addEventListener("message", (event) => {
  if (event.data.take) event.waitUntil(takeAlong(event.data.take).catch(() => {}));
});

// Where the browser offers it, entries also go out after the page was closed.
self.addEventListener("sync", (event) => {
  event.waitUntil((async () => {
    const { how } = await Queue.send(PHONE);
    for (const client of await self.clients.matchAll()) client.postMessage("queue");
    if (how === "waits") throw new Error("try again");
  })());
});

// Entries that wait on this phone. No page is touched here, so the page and the worker share it.
"use strict";
const Queue = (() => {
  const STORE = "entries";
  const ANSWER_MS = 20000; // a weak signal answers late or never; the entry is sent again then
  const PICTURE_MS = 180000; // photographs take their time
  const LATER = new Set([408, 425, 429]); // not refused: the server wants it another time

  const opened = () => new Promise((good, bad) => {
    const asked = indexedDB.open("bedlore", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "id" });
    asked.onsuccess = () => good(asked.result);
    asked.onerror = () => bad(asked.error);
  });

  const run = async (mode, act) => {
    const base = await opened();
    try {
      return await new Promise((good, bad) => {
        const deal = base.transaction(STORE, mode, { durability: "strict" });
        const asked = act(deal.objectStore(STORE));
        deal.oncomplete = () => good(asked.result);
        deal.onerror = deal.onabort = () => bad(deal.error);
      });
    } finally {
      base.close();
    }
  };

  const put = (entry) => run("readwrite", (store) => store.put(entry));
  const remove = (id) => run("readwrite", (store) => store.delete(id));
  const one = (id) => run("readonly", (store) => store.get(id));
  const all = async () => {
    const found = await run("readonly", (store) => store.getAll());
    return found.sort((a, b) => a.written - b.written || (a.id < b.id ? -1 : 1));
  };

  // crypto.randomUUID is missing without TLS; getRandomValues is everywhere.
  const newId = () => `phone-${[...crypto.getRandomValues(new Uint8Array(16))]
    .map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;

  const ask = async (address, more, patienceMs = ANSWER_MS) => {
    const late = new AbortController();
    const timer = setTimeout(() => late.abort(), patienceMs);
    try {
      const answer = await fetch(address, {
        credentials: "same-origin", cache: "no-store", redirect: "manual", signal: late.signal,
        ...more,
      });
      return { status: answer.status, told: await answer.json().catch(() => null) };
    } finally {
      clearTimeout(timer);
    }
  };

  // Who is signed in now, with the form's secret of the hour; null without a signal.
  const whoIsThere = async (address) => {
    try {
      const { status, told } = await ask(address);
      return status === 200 ? told : null;
    } catch {
      return null;
    }
  };

  const post = (entry, who) => {
    const form = new FormData();
    for (const [name, value] of entry.fields) form.append(name, value);
    form.set("csrfmiddlewaretoken", who.secret);
    const patienceMs = entry.fields.some(([, value]) => value instanceof Blob)
      ? PICTURE_MS : ANSWER_MS;
    const waited = Math.max(0, Math.round((Date.now() - entry.written) / 1000));
    return ask(entry.address, {
      method: "POST", body: form,
      headers: { "X-Bedlore-Phone": entry.account, "X-Bedlore-Waited": String(waited) },
    }, patienceMs);
  };

  // Sends one entry. "sent", "refused", "waits" (try later) or "sign-in" (somebody else is there).
  const sendOne = async (entry, who, whoAddress) => {
    let answer;
    try {
      answer = await post(entry, who);
    } catch {
      return { how: "waits" };
    }
    const { status, told } = answer;
    if (status === 200) {
      await remove(entry.id);
      return { how: "sent", told: told || {} };
    }
    if (status >= 500 || LATER.has(status)) return { how: "waits" };
    const now = await whoIsThere(whoAddress);
    if (!now) return { how: "waits" };
    if (now.account !== entry.account) return { how: "sign-in" };
    if (!told || !told.problem) return { how: "waits" };
    await put({ ...entry, state: "refused", sentence: told.problem, faults: told.faults || {} });
    return { how: "refused", told };
  };

  // Sends what waits, oldest first; only entries of whoever is signed in now.
  const sendAll = async (whoAddress) => {
    const waiting = (await all()).filter((entry) => entry.state === "waiting");
    const outcome = { sent: 0, how: "sent", answers: {} };
    if (!waiting.length) return outcome;
    const who = await whoIsThere(whoAddress);
    if (!who) return { ...outcome, how: "waits" };
    const theirs = waiting.filter((one) => one.account === who.account);
    for (const entry of theirs) {
      const { how, told } = await sendOne(entry, who, whoAddress);
      if (how === "sent") outcome.sent += 1;
      else if (how !== "refused") return { ...outcome, how };
      outcome.answers[entry.id] = told;
    }
    return theirs.length < waiting.length ? { ...outcome, how: "sign-in" } : outcome;
  };

  // One sender at a time where the browser can say so; elsewhere the ids keep repeats apart.
  let running = Promise.resolve();
  const send = (whoAddress) => {
    const turn = () => (self.navigator.locks
      ? navigator.locks.request("bedlore-send", () => sendAll(whoAddress))
      : sendAll(whoAddress));
    running = running.then(turn, turn);
    return running;
  };

  return { put, remove, one, all, newId, send };
})();

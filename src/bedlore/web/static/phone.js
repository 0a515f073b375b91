// Without a signal: forms wait on this phone and are sent later, and pages last seen stay readable.
// Plain http has no worker: there the queue works for as long as a page is open.
"use strict";
(() => {
  const { account, who, phone, worker, signIn } = document.body.dataset;
  const NOBODY = "-";
  const AT_ONCE_MS = 3000; // a keeper with cold hands waits no longer to hear that it is kept
  const FIRST_PAUSE_MS = 15000;
  const LONGEST_PAUSE_MS = 300000;
  const TAKE_EVERY_MS = 30 * 60 * 1000;
  const OLD_H = 30;
  const strip = document.getElementById("carry");
  const words = document.getElementById("carry-words").content;
  const lately = { how: "", sent: 0 };

  const tell = (word, slots = {}) => {
    const said = words.querySelector(`[data-word="${word}"]`).cloneNode(true);
    for (const [name, text] of Object.entries(slots)) {
      said.querySelector(`[data-slot="${name}"]`).textContent = text;
    }
    return said;
  };
  const speech = document.documentElement.lang.replace(/^en$/, "en-GB"); // day before month
  const clock = (moment) => new Date(moment).toLocaleString(speech, {
    weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit",
    hourCycle: "h23",
  });

  // The strip on top of every page: a stored copy, what waits, what was refused.
  const copyNotes = () => {
    const { copy } = document.body.dataset;
    if (!copy) return [];
    const notes = [tell("copy", { when: clock(copy) })];
    const age = document.querySelector("[data-worked]");
    if (age) {
      notes.push(tell("worked", { when: clock(age.dataset.worked) }));
      if (Date.now() - new Date(age.dataset.worked) > OLD_H * 3600000) notes.push(tell("old"));
    }
    return notes;
  };
  const queueNotes = (every) => {
    const mine = every.filter((one) => one.account === account);
    const waiting = mine.filter((one) => one.state === "waiting").length;
    const refused = mine.length - waiting;
    const notes = [];
    if (lately.sent) notes.push(tell("sent", { count: lately.sent }));
    if (waiting) notes.push(tell("waiting", { count: waiting }));
    if (waiting && lately.how === "sign-in") {
      const note = tell("sign-in");
      note.querySelector("a").href = `${signIn}?next=${encodeURIComponent(location.pathname)}`;
      notes.push(note);
    }
    if (refused) notes.push(tell("refused", { count: refused }));
    const others = every.filter((one) => one.account !== account);
    for (const name of new Set(others.map((one) => one.who))) {
      const count = others.filter((one) => one.who === name).length;
      notes.push(tell("not-mine", { who: name, count }));
    }
    return notes;
  };
  const refresh = async () => {
    const every = await Queue.all().catch(() => []);
    const notes = [...copyNotes(), ...queueNotes(every)];
    strip.replaceChildren(...notes);
    if (document.getElementById("waiting")) { // they stand below
      strip.querySelectorAll("[data-list]").forEach((one) => one.remove());
    }
    strip.hidden = notes.length === 0;
    showList(every.filter((one) => one.account === account));
  };

  // The list of what waits, where a page has room for it.
  const showList = (mine) => {
    const list = document.getElementById("waiting");
    if (!list) return;
    list.replaceChildren(...mine.map((entry) => {
      const row = tell("row", { label: entry.label, when: clock(entry.written), said: entry.said });
      const fault = row.querySelector(".fault");
      const lines = Object.values(entry.faults || {}).flat();
      fault.textContent = (lines.length ? lines : [entry.sentence || ""]).join(" ");
      fault.hidden = entry.state !== "refused";
      const again = row.querySelector("a");
      again.href = `${entry.page}#again=${entry.id}`;
      again.hidden = entry.state !== "refused";
      row.querySelector("button").addEventListener("click", async () => {
        await Queue.remove(entry.id);
        await refresh();
      });
      return row;
    }));
    for (const none of document.querySelectorAll("[data-none-waits]")) none.hidden = mine.length > 0;
  };

  // Sending, now and again while something waits.
  let pause = FIRST_PAUSE_MS;
  let timer = 0;
  const send = async () => {
    clearTimeout(timer);
    if (account === NOBODY) return { how: "sign-in", answers: {} };
    const outcome = await Queue.send(phone);
    lately.how = outcome.how;
    lately.sent += outcome.sent;
    const left = (await Queue.all()).some(
      (one) => one.account === account && one.state === "waiting"
    );
    if (left) {
      timer = setTimeout(() => send().then(refresh), pause);
      pause = Math.min(pause * 2, LONGEST_PAUSE_MS);
    }
    return outcome;
  };
  const sendAgain = () => {
    pause = FIRST_PAUSE_MS;
    return send().catch(() => {}).then(refresh);
  };

  // What a form says, for the list of what waits.
  const summary = (form, button) => {
    const said = [];
    for (const set of form.querySelectorAll("fieldset")) {
      const chosen = set.querySelector("input:checked + span");
      const field = set.querySelector("input:not([type=radio]), select, textarea");
      const value = chosen || (field && field.selectedOptions && field.selectedOptions[0]);
      const text = (value ? value.textContent : (field && field.value) || "").trim();
      const asked = set.querySelector("legend");
      if (text && text !== "–" && asked) said.push(`${asked.textContent.trim()}: ${text}`);
    }
    if (button && button.name) said.push(button.textContent.trim());
    return said.join(" · ");
  };
  const entryOf = (form, button) => {
    const id = Queue.newId();
    const data = new FormData(form);
    if (button && button.name) data.append(button.name, button.value);
    data.delete("csrfmiddlewaretoken");
    if (data.has("client_id")) data.set("client_id", id); // a stored page would send its old one
    const fields = [...data].filter(([, value]) => !(value instanceof File && !value.size));
    return {
      id, account, who, fields, state: "waiting", written: Date.now(), said: summary(form, button),
      label: form.dataset.later, address: form.action, page: location.pathname + location.search,
    };
  };

  // A browser fills in no file again: pictures of a refused entry go along with its mended one.
  const keepPictures = async (entry, again) => {
    const before = again && await Queue.one(again);
    if (!before) return;
    const has = new Set(entry.fields.map(([name]) => name));
    entry.fields.push(...before.fields.filter(([name, value]) => value instanceof Blob
      && !has.has(name) && !(before.faults || {})[name]));
  };

  const showFaults = (form, sentence, faults) => {
    form.querySelectorAll(".fault").forEach((old) => old.remove());
    const told = Object.entries(faults || {});
    const lines = told.length ? told : [["", [sentence]]];
    for (const [name, said] of lines) {
      const box = document.createElement("div");
      box.className = "fault";
      box.setAttribute("role", "alert");
      for (const line of said) box.append(Object.assign(document.createElement("p"), { textContent: line }));
      const field = name && form.querySelector(`fieldset [name="${CSS.escape(name)}"]`);
      if (field) field.closest("fieldset").append(box);
      else form.prepend(box);
    }
    form.querySelector(".fault").scrollIntoView({ block: "center" });
  };

  const kept = (form, entry) => {
    const note = tell("kept");
    note.id = `kept-${entry.id}`;
    const card = form.closest("article")?.querySelector("details.cards");
    if (card) card.open = true; // the card says what to do for what was found
    form.replaceWith(note);
    note.focus();
    navigator.serviceWorker?.ready.then((here) => here.sync?.register("entries")).catch(() => {});
  };

  const settle = async (form, entry, outcome) => {
    const left = await Queue.one(entry.id);
    form.removeAttribute("aria-busy");
    delete form.dataset.sent;
    if (!left) {
      const { next } = (outcome.answers || {})[entry.id] || {};
      const note = document.getElementById(`kept-${entry.id}`);
      if (!note && next) location.assign(next);
      else if (note) note.replaceWith(tell("gone"));
      return;
    }
    if (left.state === "refused") {
      form.dataset.again = entry.id;
      if (form.isConnected) showFaults(form, left.sentence, left.faults);
    } else if (form.isConnected) kept(form, entry);
    await refresh();
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    const button = event.submitter;
    if (event.defaultPrevented || !form.matches("[data-later]") || account === NOBODY) return;
    if (button && button.name === "step") return;
    event.preventDefault();
    form.setAttribute("aria-busy", "true");
    const entry = entryOf(form, button);
    try {
      await keepPictures(entry, form.dataset.again);
      await Queue.put(entry);
    } catch { // no room or no right to keep anything: sent the plain way
      if (button && button.name) {
        const { name, value } = button;
        form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
      }
      form.submit();
      return;
    }
    if (form.dataset.again) await Queue.remove(form.dataset.again);
    navigator.storage?.persist?.();
    let done = false;
    const sending = send().then((outcome) => {
      done = true;
      return settle(form, entry, outcome);
    });
    await Promise.race([sending, new Promise((good) => { setTimeout(good, AT_ONCE_MS); })]);
    if (!done) {
      kept(form, entry);
      await refresh();
    }
  });

  // A refused entry is opened again with what was typed.
  const openAgain = async () => {
    if (!location.hash.startsWith("#again=")) return;
    const entry = await Queue.one(location.hash.slice(7));
    if (!entry || entry.account !== account) return;
    const form = [...document.querySelectorAll("form[data-later]")]
      .find((one) => one.action === entry.address);
    if (!form) return;
    for (const [name, value] of entry.fields) {
      const field = form.elements[name];
      if (!field || name === "client_id" || typeof value !== "string") continue;
      if (field.type === "radio" || field.type === "checkbox") field.checked = field.value === value;
      else field.value = value;
    }
    form.dispatchEvent(new Event("change", { bubbles: true }));
    form.dataset.again = entry.id;
    showFaults(form, entry.sentence, entry.faults);
  };

  // The worker, and the pages it takes along for later.
  const takeAlong = async () => {
    const key = `taken-${account}`;
    if (Date.now() - Number(sessionStorage.getItem(key)) < TAKE_EVERY_MS) return;
    if (navigator.connection?.saveData || document.body.dataset.copy) return;
    const { active } = await navigator.serviceWorker.ready;
    const told = await (await fetch(`${phone}?take=1`, { cache: "no-store" })).json();
    if (told.account !== account) return;
    if (!navigator.serviceWorker.controller) told.here = location.href; // it came past the worker
    active.postMessage({ take: told });
    sessionStorage.setItem(key, String(Date.now()));
  };
  const forgetPages = async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("bedlore-pages-")) await caches.delete(name);
    }
  };
  const listPages = async () => {
    const list = document.getElementById("on-phone");
    if (!list || !window.caches) return;
    const isForm = ({ url }) => /\/write\/[^/]/.test(new URL(url).pathname); // others lead there
    const rank = ({ url }) => ["/carried/", "/today/"]
      .findIndex((end) => new URL(url).pathname.endsWith(end));
    for (const name of (await caches.keys()).filter((one) => one.startsWith("bedlore-pages-"))) {
      const store = await caches.open(name);
      const keys = (await store.keys()).filter((key) => !isForm(key)).reverse();
      for (const key of keys.sort((a, b) => rank(b) - rank(a))) {
        const found = await store.match(key, { ignoreVary: true });
        const title = /<title>([^<]*)<\/title>/.exec(await found.text());
        if (!title) continue;
        const row = tell("page", { when: clock(found.headers.get("X-Bedlore-Stored")) });
        const link = row.querySelector("a");
        link.href = key.url;
        link.append(new DOMParser().parseFromString(title[1], "text/html").documentElement.textContent);
        list.append(row);
      }
    }
  };

  for (const one of document.querySelectorAll("[data-insecure]")) one.hidden = isSecureContext;
  for (const button of document.querySelectorAll("[data-forget]")) {
    button.hidden = !window.caches;
    button.addEventListener("click", async () => {
      await forgetPages();
      button.replaceWith(tell("forgotten"));
    });
  }
  if (isSecureContext && "serviceWorker" in navigator && account !== NOBODY) {
    navigator.serviceWorker.register(worker).then(takeAlong).catch(() => {});
    navigator.serviceWorker.addEventListener("message", refresh);
  }
  document.addEventListener("htmx:sendError", () => {
    strip.append(tell("not-here"));
    strip.hidden = false;
  });
  window.addEventListener("online", sendAgain);
  window.addEventListener("pageshow", (event) => { if (event.persisted) sendAgain(); });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) sendAgain(); });
  openAgain();
  listPages();
  refresh().then(sendAgain);
})();

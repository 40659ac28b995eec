/* What was noted on this phone and has not reached the server yet. An entry is stored before it is shown, and leaves only after
   an answer that echoes its key. Any page that notes things in the yard may use it; each entry says where it goes. */
(() => {
  "use strict";

  const BATCH = 50;
  const PATIENCE = 20000; // milliseconds until an answer is given up; the entry stays and is sent again
  const news = "BroadcastChannel" in window ? new BroadcastChannel("recount") : null;
  const listeners = [];
  let opened = null;

  const done = (request) => new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

  function open() {
    opened ??= new Promise((resolve, reject) => {
      const request = indexedDB.open("recount", 1);
      request.onupgradeneeded = () => {
        const entries = request.result.createObjectStore("entries", { keyPath: "n", autoIncrement: true });
        entries.createIndex("key", "key", { unique: true });
        request.result.createObjectStore("known", { keyPath: "url" });
      };
      request.onsuccess = () => {
        request.result.onversionchange = () => { request.result.close(); opened = null; };
        resolve(request.result);
      };
      request.onerror = () => { opened = null; reject(request.error); };
      request.onblocked = () => reject(new Error("blocked"));
    });
    return opened;
  }

  // Strict: the promise is kept only once the entry is on the medium.
  async function write(change) {
    const transaction = (await open()).transaction(["entries", "known"], "readwrite", { durability: "strict" });
    const finished = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = transaction.onerror = () => reject(transaction.error);
    });
    finished.catch(() => {}); // a change that fails is told by its own error
    await change(transaction.objectStore("entries"), transaction.objectStore("known"));
    await finished;
  }

  const read = async (store) => (await open()).transaction(store).objectStore(store);

  function tell() {
    listeners.forEach((heard) => heard());
    news?.postMessage("changed");
  }
  if (news) news.onmessage = () => listeners.forEach((heard) => heard());

  /* A UUID of version 7 (RFC 9562): the time in milliseconds, then chance. */
  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    const now = Date.now();
    for (let place = 0; place < 6; place += 1) bytes[place] = Math.floor(now / 2 ** (8 * (5 - place))) % 256;
    bytes[6] = 0x70 | (bytes[6] & 0x0f);
    bytes[8] = 0x80 | (bytes[8] & 0x3f);
    const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  /* entry: person, url, label (in words, for the list of what was not accepted), body (what is sent; gets the key); key, if it was
     minted before. A key that is here already fails with a ConstraintError. */
  async function add({ key = newKey(), ...entry }) {
    await write((entries) => done(entries.add({ ...entry, key, body: { ...entry.body, key } })));
    tell();
    return key;
  }

  const all = async (person) => (await done((await read("entries")).getAll())).filter((one) => one.person === person);
  const others = async (person) => (await done((await read("entries")).getAll())).filter((one) => one.person !== person);
  const waiting = async (person) => (await all(person)).filter((one) => !one.refused);
  const known = async (url) => (await done((await read("known")).get(url)))?.state ?? null;
  const note = (url, state) => write((entries, states) => { if (state === null) states.delete(url); else states.put({ url, state }); });

  /* Change one entry where `may` allows it: to null takes it off. Gives whether it did; `besides` is done with it or not at all. */
  async function alter(key, may, change, besides = () => {}) {
    let did = false;
    await write(async (entries, states) => {
      const entry = await done(entries.index("key").get(key));
      if (!entry || !may(entry)) return;
      const changed = change(entry);
      if (changed) entries.put(changed);
      else entries.delete(entry.n);
      besides(states);
      did = true;
    });
    tell();
    return did;
  }

  const forget = (key) => alter(key, () => true, () => null);
  // Once a batch left the phone, the server may have its entries, whatever was heard of it.
  const take = (key) => alter(key, (entry) => !entry.tried, () => null);
  // Back to what is begun and known under `url`, in one step: the words are in one of the two places whenever the phone stops.
  const reopen = (key, url, state) => alter(key, (entry) => !entry.tried, () => null, (states) => states.put({ url, state }));
  const mend = (key, more) => alter(key, (entry) => !entry.tried || entry.refused, ({ refused, asked, ...entry }) => (
    { ...entry, ...more, body: { ...more.body, key }, tried: false }));

  /* What this person began and has not kept: known under "visit draft", the person and the yard. */
  const DRAFT = /^visit draft (\d+) /;
  const drafts = async (person) => (await done((await read("known")).getAll())).filter(({ url }) => DRAFT.exec(url)?.[1] === String(person));

  /* All that this person noted and began here, and what the server said last; what others began stays until they are back. */
  async function clear(person) {
    const mine = await all(person);
    await write(async (entries, states) => {
      mine.forEach((one) => entries.delete(one.n));
      const urls = await done(states.getAllKeys());
      urls.filter((url) => (DRAFT.exec(url)?.[1] ?? String(person)) === String(person)).forEach((url) => states.delete(url));
    });
    tell();
  }

  // What is about to leave the phone, as it stands now: an entry may have been undone or mended meanwhile.
  async function begin(batch) {
    const going = [];
    if (!batch.length) return going;
    await write(async (entries) => {
      for (const { n } of batch) {
        const entry = await done(entries.get(n));
        if (!entry || entry.refused) continue;
        const tried = { ...entry, tried: true };
        entries.put(tried);
        going.push(tried);
      }
    });
    return going;
  }

  async function settle(url, batch, told) {
    const answers = new Map((told.answers ?? []).map((answer) => [answer.key, answer]));
    await write(async (entries, states) => {
      for (const { n, key } of batch) {
        const answer = answers.get(key);
        const entry = await done(entries.get(n));
        if (!entry || !answer) continue;
        if (["saved", "here"].includes(answer.state)) entries.delete(n);
        if (answer.state === "refused") entries.put({ ...entry, refused: answer.reason || inWords("No reason was given."), asked: answer });
      }
      states.put({ url, state: told });
      if (told.read_at) states.put({ url: "clock", state: Date.parse(told.read_at) - Date.now() });
    });
    return batch.every((entry) => answers.has(entry.key));
  }

  function kindOf(answer) {
    if (answer.type === "opaqueredirect" || answer.status === 401) return "signed-out";
    return { 403: "not-let", 404: "gone", 409: "other-person", 429: "busy" }[answer.status] ?? "server";
  }

  const ask = (url, batch, { person, token }) => fetch(url, {
    method: "POST",
    redirect: "manual",
    credentials: "same-origin",
    headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
    body: JSON.stringify({ person, sent_at: new Date().toISOString(), entries: batch.map((entry) => entry.body) }),
    signal: AbortSignal.timeout?.(PATIENCE),
  });

  /* One batch to one address; "saved" only if the server answered each of its keys. */
  async function post(url, queued, how) {
    if (navigator.onLine === false) return "no-network"; // surely none, so nothing is tried
    const batch = await begin(queued);
    let answer, told;
    try {
      answer = await ask(url, batch, how);
      if (answer.status === 403) { // perhaps only the token is an old one: any page brings another
        await fetch(window.location.pathname, { credentials: "same-origin", redirect: "manual", cache: "no-store" });
        answer = await ask(url, batch, how);
      }
      if (!answer.ok) return kindOf(answer);
      told = await answer.json();
    } catch (error) {
      return answer?.ok ? "elsewhere" : "no-network";
    }
    if (!Array.isArray(told?.answers)) return "elsewhere";
    return (await settle(url, batch, told)) ? "saved" : "server";
  }

  async function sendAll(how) {
    const queue = await waiting(how.person);
    const urls = new Set(queue.map((entry) => entry.url));
    if (how.ask) urls.add(how.ask);
    let kind = "saved";
    for (const url of urls) {
      const entries = queue.filter((entry) => entry.url === url);
      for (let from = 0; from === 0 || from < entries.length; from += BATCH) {
        const found = await post(url, entries.slice(from, from + BATCH), how);
        if (found !== "saved") { kind = found; break; }
      }
    }
    tell();
    return kind;
  }

  /* Send what waits. how: person; token, a function that gives the CSRF token; ask, an address to hear from in any case.
     Gives: saved, no-network, elsewhere, signed-out, not-let, gone, other-person, busy or server. */
  const send = (how) => (navigator.locks ? navigator.locks.request("recount-send", () => sendAll(how)) : sendAll(how));

  const cookie = (name) => document.cookie.split("; ").find((one) => one.startsWith(`${name}=`))?.slice(name.length + 1) ?? "";
  const heard = (listener) => listeners.push(listener);

  window.recount = { ...window.recount, queue: { newKey, add, all, others, waiting, known, drafts, note, forget, take, reopen, mend, clear, send, cookie, heard } };
})();

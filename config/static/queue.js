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

  const newKey = () => crypto.randomUUID?.() ?? "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (digit) =>
    (digit ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (digit / 4)))).toString(16));

  /* entry: person, url, label (in words, for the list of what was not accepted), body (what is sent; gets the key). */
  async function add(entry) {
    const key = newKey();
    await write((entries) => done(entries.add({ ...entry, key, body: { ...entry.body, key } })));
    tell();
    return key;
  }

  const all = async (person) => (await done((await read("entries")).getAll())).filter((one) => one.person === person);
  const others = async (person) => (await done((await read("entries")).getAll())).filter((one) => one.person !== person);
  const waiting = async (person) => (await all(person)).filter((one) => !one.refused);
  const known = async (url) => (await done((await read("known")).get(url)))?.state ?? null;

  async function forget(key) {
    await write(async (entries) => {
      const n = await done(entries.index("key").getKey(key));
      if (n !== undefined) entries.delete(n);
    });
    tell();
  }

  /* All that this person noted here, and what the server said last. */
  async function clear(person) {
    const mine = await all(person);
    await write((entries, states) => { mine.forEach((one) => entries.delete(one.n)); states.clear(); });
    tell();
  }

  async function settle(url, batch, told) {
    const answers = new Map((told.answers ?? []).map((answer) => [answer.key, answer]));
    await write((entries, states) => {
      batch.forEach((entry) => {
        const answer = answers.get(entry.key);
        if (["saved", "here"].includes(answer?.state)) entries.delete(entry.n);
        if (answer?.state === "refused") entries.put({ ...entry, refused: answer.reason });
      });
      states.put({ url, state: told });
    });
    return batch.every((entry) => answers.has(entry.key));
  }

  function kindOf(answer) {
    if (answer.type === "opaqueredirect" || answer.status === 401) return "signed-out";
    return { 403: "not-let", 404: "gone", 409: "other-person", 429: "busy" }[answer.status] ?? "server";
  }

  /* One batch to one address; "saved" only if the server answered each of its keys. */
  async function post(url, batch, { person, token }) {
    let answer, told;
    try {
      answer = await fetch(url, {
        method: "POST",
        redirect: "manual",
        credentials: "same-origin",
        headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
        body: JSON.stringify({ person, entries: batch.map((entry) => entry.body) }),
        signal: AbortSignal.timeout?.(PATIENCE),
      });
      if (!answer.ok) return kindOf(answer);
      told = await answer.json();
    } catch (error) {
      return answer ? "elsewhere" : "no-network";
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

  window.recount = { ...window.recount, queue: { add, all, others, waiting, known, forget, clear, send, cookie, heard } };
})();

/* Keeps the pages for the yard, so that they open without a network: those that were opened, and the files they need. Nothing else.
   self.kept (version, files) is set by the address that loads this file. */
(() => {
  "use strict";

  const FILES = `files-${self.kept.version}`;
  const PAGES = "pages-"; // with the number of the person, so that signing out can throw away their pages
  const FOR = "X-Keep-For"; // an answer without it is never kept
  const LONG = 4000;
  // Pages for the yard, and the milliseconds until a kept one is shown instead. A count page asks for its news itself.
  const YARD = [
    { pattern: /^\/treatments\/\d+\/rounds\/\d+\/yard\/$/, patience: LONG },
    { pattern: /^\/(yards|colonies)\/\d+\/counts\/new\/$/, patience: 300 },
    { pattern: /^\/visits\/(\d+\/make|yards\/\d+\/new)\/$/, patience: LONG },
  ];
  const patienceOf = (path) => YARD.find(({ pattern }) => pattern.test(path))?.patience;

  const caches_ = async () => (await caches.keys()).filter((name) => name.startsWith(PAGES));
  const match = (path) => caches.match(path, { ignoreSearch: true, ignoreVary: true });

  async function drop(path, but) {
    const names = (await caches_()).filter((name) => name !== but);
    for (const name of names) await (await caches.open(name)).delete(path, { ignoreSearch: true, ignoreVary: true });
  }

  // A sign-in page in its place changes nothing; an answer that is not to be kept, or a refusal, ends the keeping.
  async function remember(path, answer) {
    const person = answer.headers.get(FOR);
    if (answer.type === "opaqueredirect" || answer.redirected || answer.status >= 500) return false;
    const copy = answer.clone();
    const keeps = answer.ok && person;
    if (keeps) await (await caches.open(PAGES + person)).put(path, copy); // before the old one goes: storage may be full
    await drop(path, keeps ? PAGES + person : "");
    return Boolean(keeps);
  }

  // With a question mark it is the same page in another order: worth a wait, and not what is kept.
  async function page(event, { pathname: path, search }) {
    const asked = fetch(event.request);
    if (!search) event.waitUntil(asked.then((answer) => remember(path, answer)).catch(() => false));
    const kept = await match(path);
    if (!kept) return asked;
    const late = new Promise((resolve) => { setTimeout(resolve, search ? LONG : patienceOf(path), null); });
    const answer = await Promise.race([asked.catch(() => null), late]);
    return answer && answer.status < 500 ? answer : kept;
  }

  async function keep(path) {
    try {
      return await remember(path, await fetch(path, { credentials: "same-origin", redirect: "manual" }));
    } catch (error) {
      return Boolean(await match(path));
    }
  }

  self.addEventListener("install", (event) => {
    const fresh = self.kept.files.map((file) => new Request(file, { cache: "reload" }));
    event.waitUntil(caches.open(FILES).then((cache) => cache.addAll(fresh)).then(() => self.skipWaiting()));
  });

  // Kept pages name the files they were made with: those stay until each page was fetched anew.
  async function renewed(path) {
    try {
      const answer = await fetch(path, { credentials: "same-origin", redirect: "manual" });
      await remember(path, answer);
      return answer.status < 500 && answer.type !== "opaqueredirect";
    } catch (error) {
      return false;
    }
  }

  async function renew() {
    const stores = await Promise.all((await caches_()).map(async (name) => (await caches.open(name)).keys()));
    const paths = stores.flat().map((one) => new URL(one.url).pathname);
    const fresh = await Promise.all(paths.map(renewed));
    if (!fresh.every(Boolean)) return;
    const old = (await caches.keys()).filter((name) => name.startsWith("files-") && name !== FILES);
    await Promise.all(old.map((name) => caches.delete(name)));
  }

  self.addEventListener("activate", (event) => event.waitUntil(renew().then(() => self.clients.claim())));

  self.addEventListener("message", (event) => {
    const path = event.data?.keep;
    if (typeof path !== "string" || !patienceOf(path)) return;
    event.waitUntil(keep(path).then((kept) => event.ports[0]?.postMessage({ kept })));
  });

  self.addEventListener("fetch", (event) => {
    const { request } = event;
    const url = new URL(request.url);
    if (request.method !== "GET" || url.origin !== self.location.origin) return;
    if (self.kept.files.includes(url.pathname)) {
      event.respondWith(caches.match(url.pathname, { cacheName: FILES }).then((kept) => kept ?? fetch(request)));
    } else if (["script", "style", "image"].includes(request.destination)) {
      event.respondWith(caches.match(url.pathname).then((kept) => kept ?? fetch(request)));
    } else if (request.mode === "navigate" && patienceOf(url.pathname)) {
      event.respondWith(page(event, url));
    }
  });
})();

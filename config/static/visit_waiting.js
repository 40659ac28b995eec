/* Reports of visits that are on this phone only: begun, waiting to be sent, not accepted. For every page that inspectors pass. */
(() => {
  "use strict";

  const { queue, phone } = window.recount ?? {};
  const told = document.getElementById("visits-data");
  const place = document.querySelector("[data-visits-waiting]");
  if (!queue || !phone || !told || !place) return;

  const data = JSON.parse(told.textContent);
  const find = (name) => place.querySelector(`[data-${name}]`);
  const page = { mend: null, shown: null }; // what the gate's page does besides
  const saved = new Map(); // what was sent while this page stood open, with the answer
  let before = new Map(), sent = "saved", asking = "";

  const draftKey = (yard) => `visit draft ${data.person} ${yard}`;
  const isVisit = (entry) => entry.kind === "visit";
  const here = (entry) => page.mend !== null && entry.url === data.url;

  function said(words, tag = "p") {
    const made = document.createElement(tag);
    made.textContent = words;
    return made;
  }
  function button(words, act, press, css = "button--second") {
    const made = said(words, "button");
    made.type = "button";
    made.className = `button ${css}`;
    made.dataset.act = act;
    made.addEventListener("click", press);
    return made;
  }
  function link(words, href) {
    const made = said(words, "a");
    made.href = href;
    return made;
  }
  function reasons(...parts) {
    const made = document.createElement("div");
    made.className = "reasons";
    made.append(...parts.filter(Boolean));
    return made;
  }

  /* ---- What can be done with one ---- */
  const ask = (key) => { asking = key; return render(); };
  const again = async ({ refused, asked, n, ...entry }, body) => { await queue.mend(entry.key, { ...entry, body: { ...entry.body, ...body } }); send(); };
  const sure = (entry) => again(entry, { boxes: { ...entry.body.boxes, ...entry.asked.sure } });
  const ownVisit = (entry) => again({ ...entry, page: entry.own_page }, { planned: null });
  const drop = async (entry) => { before.delete(entry.key); asking = ""; await queue.forget(entry.key); };

  function waitingItem(entry) {
    const words = said(`${entry.label} `);
    const state = said(inWords("waiting to send"), "span");
    state.className = "entry-state";
    state.dataset.state = "waiting";
    words.append(state);
    const change = here(entry) && !entry.tried ? button(inWords("Change it"), "change", () => page.mend(entry)) : null;
    return [words, reasons(change)];
  }

  function refusedItem(entry) {
    const words = said(inWords("{entry}: not accepted. {why}", { entry: entry.label, why: entry.refused }));
    if (asking === entry.key) {
      return [words, said(inWords("This throws the whole report away. There is no other copy of it.")), reasons(
        button(inWords("Throw it away"), "drop", () => drop(entry), "button--void"), button(inWords("Keep it"), "keep", () => ask("")))];
    }
    const { asks = [], over = false } = entry.asked ?? {};
    return [words, reasons(
      asks.length ? button(inWords("Yes, that is right"), "sure", () => sure(entry)) : null,
      over ? button(inWords("Keep it as a visit of its own"), "own", () => ownVisit(entry)) : null,
      here(entry) ? button(inWords("Mend it"), "mend", () => page.mend(entry)) : link(inWords("Open its page to mend it"), over ? entry.own_page : entry.page),
      button(inWords("Take it off"), "ask", () => ask(entry.key), "button--quiet"),
    )];
  }

  function savedItem(entry) {
    const words = said(entry.report ? inWords("{entry}: recorded as report {number}.", { entry: entry.label, number: entry.report }) : inWords("{entry}: recorded.", { entry: entry.label }));
    if (entry.answerUrl) words.append(" ", link(inWords("Open the report"), entry.answerUrl));
    return [words];
  }

  function draftItem({ state }) {
    const moved = state.page.startsWith(window.location.pathname); // its plan is over, and this page came in its place
    return [said(inWords("{entry}: begun, not kept yet.", { entry: state.label })), reasons(link(inWords("Go on with it"), moved ? state.own_page : state.page))];
  }

  /* ---- The list ---- */
  // Once a report is saved, its page at the gate is no longer needed here.
  async function dropPage(entry) {
    if (!("caches" in window)) return;
    const cache = await caches.open(`pages-${data.person}`);
    await cache.delete(entry.page);
  }

  async function noteSaved(entries) {
    const keys = new Set(entries.map((one) => one.key));
    for (const [key, entry] of before) {
      if (keys.has(key)) continue;
      const answers = (await queue.known(entry.url))?.answers ?? [];
      const answer = answers.find((one) => one.key === key);
      if (!answer) continue; // taken off here or in another tab
      saved.set(key, { ...entry, report: answer.report, answerUrl: answer.url });
      dropPage(entry).catch(() => {});
    }
    before = new Map(entries.map((one) => [one.key, one]));
  }

  function draw(items) {
    const list = find("reports").querySelector("ul");
    const held = list.contains(document.activeElement) ? document.activeElement : null;
    const [key, act] = [held?.closest("[data-key]")?.dataset.key, held?.dataset.act];
    list.replaceChildren(...items.map(([name, parts]) => {
      const item = document.createElement("li");
      item.dataset.key = name;
      item.append(...parts);
      return item;
    }));
    find("reports").hidden = !items.length;
    if (!held) return;
    const item = [...list.children].find((one) => one.dataset.key === key);
    (item?.querySelector(`[data-act="${act}"]`) ?? item?.querySelector("button, a") ?? find("reports").querySelector("h2")).focus({ preventScroll: true });
  }

  function text(element, words) {
    if (element.textContent !== words) element.textContent = words;
  }

  async function render() {
    const entries = (await queue.all(data.person)).filter(isVisit);
    await noteSaved(entries);
    const drafts = (await queue.drafts(data.person)).filter(({ state }) => page.mend === null || state.yard !== data.yard);
    const items = [
      ...entries.map((one) => [one.key, one.refused ? refusedItem(one) : waitingItem(one)]),
      ...drafts.map((one) => [one.url, draftItem(one)]),
      ...[...saved].map(([key, one]) => [key, savedItem(one)]),
    ];
    draw(items);
    place.hidden = !items.length;
    const waiting = entries.filter((one) => !one.refused).length;
    text(find("sent"), waiting || sent !== "saved" || saved.size
      ? phone.sentWords(sent, waiting ? inWordsMany("{n} report waiting to send", "{n} reports waiting to send", waiting) : "", data.name) : "");
    find("sent").dataset.waiting = waiting ? "yes" : "no";
    find("send").hidden = !waiting;
    find("sign-in").hidden = sent !== "signed-out" || !waiting;
    page.shown?.(entries, saved);
  }

  const askServer = (url) => queue.send({ person: data.person, ask: url, token: () => queue.cookie(data.cookie) });
  let sending = false, more = false;
  async function send() {
    more = sending;
    if (sending) return;
    sending = true;
    try {
      if ((await queue.waiting(data.person)).some(isVisit)) sent = await askServer();
    } finally { sending = false; }
    await render();
    if (more) send();
  }

  // What was typed for a report that is recorded: its draft, and what was refused before it was mended with a network.
  async function over(key) {
    for (const { url, state } of await queue.drafts(data.person)) if (state.boxes.entry_key === key) await queue.note(url, null);
    const refused = (await queue.all(data.person)).filter((entry) => isVisit(entry) && entry.refused && entry.key === key);
    for (const entry of refused) await queue.forget(entry.key);
  }

  async function begin() {
    const key = place.dataset.keptKey; // this page shows a report
    try {
      if (key) await over(key);
      await render();
    } catch (error) {
      return; // nothing can be stored in this browser, so nothing waits
    }
    find("send").addEventListener("click", send);
    queue.heard(render);
    phone.sendOften(send);
  }

  window.recount.visits = { data, page, draftKey, said, button, render, send, askServer };
  begin();
})();

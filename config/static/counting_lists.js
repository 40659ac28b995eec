/* Below and above a count page's boxes: the last entries with their states, what was not accepted, and a file of what waits. */
(() => {
  "use strict";

  const { counting } = window.recount ?? {};
  if (!counting) return;

  const { data, day } = counting;
  const MOST = 12;
  const OLD = 3 * 24 * 60 * 60 * 1000;
  const WHY = [inWords("Typed wrongly"), inWords("Wrong colony"), inWords("Jar spilt")];
  const KIND = "counts waiting on a phone";
  const find = (name) => document.querySelector(`[data-${name}]`);

  function button(words, act, press, css = "button--second") {
    const made = document.createElement("button");
    made.type = "button";
    made.className = `button ${css}`;
    made.textContent = words;
    made.dataset.act = act;
    made.addEventListener("click", press);
    return made;
  }

  function said(text, tag = "p") {
    const made = document.createElement(tag);
    made.textContent = text;
    return made;
  }

  /* Draw a list anew only if something in it changed, and leave the focus where it was. */
  function draw(list, items, make) {
    const now = JSON.stringify(items);
    if (list.dataset.drawn === now) return;
    const held = document.activeElement;
    const [key, act] = [held?.closest?.("[data-key]")?.dataset.key, held?.dataset?.act];
    const within = list.contains(held);
    list.dataset.drawn = now;
    list.replaceChildren(...items.map((item) => {
      const made = document.createElement("li");
      made.dataset.key = item.key;
      made.append(...make(item));
      return made;
    }));
    if (!within) return;
    const again = [...list.children].find((one) => one.dataset.key === key);
    (again?.querySelector(`[data-act="${act}"]`) ?? again?.querySelector("button") ?? list.closest("section").querySelector("h2")).focus({ preventScroll: true });
  }

  /* The last entries, the newest first: those on this phone, then those the server has. */
  function lastOf(entries, told) {
    const undone = new Map(entries.filter(({ body, refused }) => body.undo && !refused).map(({ body }) => [body.undo, "undone"]));
    entries.filter(({ body, refused }) => body.corrects && !refused).forEach(({ body }) => undone.set(body.corrects, "corrected"));
    const here = entries.filter(({ body, refused }) => !refused && !body.undo).map((entry) => ({
      key: entry.key, colony: entry.body.colony, words: entry.label, on: entry.body.sampled_on, at: entry.body.at, tried: entry.tried === true, typed: entry.body, seen: 0,
      state: "waiting", gone: undone.get(entry.key) ?? "",
    })).reverse();
    const keys = new Set(here.map((item) => item.key));
    const there = told.last.filter((one) => !keys.has(one.key)).map((one) => ({
      key: one.key, colony: one.colony, words: inWords("Colony {name}: {counted}", { name: one.name, counted: one.words }), on: one.on, at: one.at, tried: true, typed: one.typed, seen: one.seen,
      state: "saved", gone: undone.get(one.key) ?? "",
    }));
    const mine = [...here, ...there].filter((item) => data.only === null || item.colony === data.only);
    return mine.slice(0, MOST);
  }

  const dayOf = (on) => (/^\d{4}-\d\d-\d\d$/.test(on) ? day.dayWords(on) : on);
  const STATES = {
    undone: inWords("undone · waiting to send"), corrected: inWords("corrected · waiting to send"),
    waiting: inWords("waiting to send"), saved: inWords("saved"),
  };
  const stateWords = (item) => STATES[item.gone || item.state];

  /* asking: the key whose undoing wants a reason. does: undo(item, why), ask(key), correct(item). */
  function showLast(items, asking, does) {
    const part = find("last");
    part.hidden = !items.length;
    const shown = items.map((item) => ({ ...item, asking: item.key === asking }));
    draw(part.querySelector("ul"), shown, (item) => {
      const words = said(`${item.words}, ${dayOf(item.on)}`);
      const state = said(stateWords(item), "span");
      state.className = "entry-state";
      state.dataset.state = item.gone || item.state === "waiting" ? "waiting" : "saved";
      words.append(" ", state);
      if (item.gone) return [words];
      const acts = document.createElement("div");
      acts.className = "reasons";
      if (item.asking) {
        const why = said(inWords("Undo: why does it not count?"));
        acts.append(...WHY.map((one) => button(one, `why ${one}`, () => does.undo(item, one))), button(inWords("Keep it"), "keep", () => does.ask(null), "button--quiet"));
        return [words, why, acts];
      }
      const about = said(` ${item.words}`, "span");
      about.className = "visually-hidden";
      const undo = button(inWords("Undo"), "undo", () => does.undo(item));
      const correct = button(inWords("Correct"), "correct", () => does.correct(item));
      undo.append(about);
      correct.append(about.cloneNode(true));
      acts.append(undo, correct);
      return [words, acts];
    });
  }

  /* does: edit(entry), sure(entry), drop(entry). */
  function showRefused(entries, does) {
    const part = find("refused");
    const refused = entries.filter((entry) => entry.refused);
    part.hidden = !refused.length;
    draw(part.querySelector("ul"), refused, (entry) => {
      const words = said(inWords("{entry}: not accepted. {why}", { entry: entry.label, why: entry.refused }));
      const acts = document.createElement("div");
      acts.className = "reasons";
      if (entry.asked?.asks?.length) acts.append(button(inWords("Yes, that is right"), "sure", () => does.sure(entry)));
      const here = entry.url === data.url && (data.only === null || entry.body.colony === data.only);
      if (here && !entry.body.undo) acts.append(button(inWords("Edit"), "edit", () => does.edit(entry)));
      if (!here) {
        const link = document.createElement("a");
        link.href = entry.page;
        link.textContent = inWords("Open its page to mend it");
        acts.append(link);
      }
      acts.append(button(inWords("Take it off"), "drop", () => does.drop(entry), "button--quiet"));
      return [words, acts];
    });
  }

  function waitingWords(entries) {
    const waiting = entries.filter((entry) => !entry.refused);
    if (!waiting.length) return "";
    return waiting.some((entry) => entry.body.undo)
      ? inWordsMany("{n} entry waiting to send", "{n} entries waiting to send", waiting.length)
      : inWordsMany("{n} count waiting to send", "{n} counts waiting to send", waiting.length);
  }

  function refusedWords(entries) {
    const refused = entries.filter((entry) => entry.refused);
    if (!refused.length) return "";
    return refused.every((entry) => entry.asked?.asks?.length && !entry.body.undo)
      ? inWordsMany("{n} count not saved: answer the question above.", "{n} counts not saved: answer the questions above.", refused.length)
      : inWordsMany("{n} entry not saved: see “Not accepted” above.", "{n} entries not saved: see “Not accepted” above.", refused.length);
  }

  function oldWords(entries) {
    const old = entries.filter((entry) => Date.now() - Date.parse(entry.body.at) > OLD).length;
    if (!old) return "";
    return inWordsMany(
      "{n} entry has been on this phone for more than 3 days. A browser may clear what it keeps: send now, or save what waits as a file.",
      "{n} entries have been on this phone for more than 3 days. A browser may clear what it keeps: send now, or save what waits as a file.",
      old,
    );
  }

  function save(entries) {
    const noted = entries.map(({ label, body, refused = "" }) => ({ label, body, refused }));
    const file = { kind: KIND, v: data.v, person: data.person, written_at: new Date().toISOString(), entries: noted };
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([JSON.stringify(file, null, 1)], { type: "application/json" }));
    link.download = `counts-${day.today()}.json`;
    link.click();
    window.setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  }

  window.recount.lists = { lastOf, showLast, showRefused, stateWords, dayOf, waitingWords, refusedWords, oldWords, save };
})();

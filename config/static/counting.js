/* Counting on a phone: an entry is stored here before it is shown as kept, and leaves only when the server answers its key.
   Without this file, or where nothing can be stored, the page is the form for a desk. */
(() => {
  "use strict";

  const { queue, phone, counting, colonies, lists, status, changesOf, rowsOf } = window.recount ?? {};
  if (!queue || !phone || !counting || !colonies || !lists || !status || !changesOf || !rowsOf) return;

  const { data, form, boxes, value, put, day } = counting;
  const { now, single, names, nameOf, needsOwnBees, order } = colonies;
  const DRAFT = 12 * 60 * 60 * 1000; // milliseconds until what was typed and not saved is no longer offered
  const REST = 500; // milliseconds after saving in which a second tap does nothing
  const CLOCK_OFF = 5 * 60 * 1000;
  const ROOM = 200 * 1024; // bytes below which a phone's storage is told to be nearly full
  const find = (name, within = document) => within.querySelector(`[data-${name}]`);
  const submit = form.querySelector(".save-bar [type=submit]");
  const desk = { words: submit.textContent, sent: "sentBefore" in form.dataset };
  let key = "", sent = "saved", typing = 0, resting = false;

  function text(element, words) {
    if (element.textContent !== words) element.textContent = words;
  }
  function note(name, words) {
    const place = find(name);
    place.hidden = !words;
    text(place, words);
  }
  const say = (words) => text(find("said"), words);
  const mitesWords = (number) => inWordsMany("{n} mite", "{n} mites", Number(number));
  const draftOf = (id) => `draft ${data.url} ${id}`;

  /* ---- Which colony ---- */
  async function open(id, { focus = false, draft = null } = {}) {
    now.colony = id;
    const found = draft ?? await queue.known(draftOf(id));
    if (now.colony !== id) return;
    const fresh = found && Date.now() - found.at < DRAFT;
    key = fresh ? found.key : queue.newKey();
    put(names.mites, fresh ? found.mites : "");
    if (!single) put(names.bees, fresh ? found.bees : "");
    if (single && fresh) put("note", found.note);
    window.clearTimeout(typing);
    counting.unsay();
    showColony();
    if (!fresh) await keepDraft();
    if (focus) focusOn(focus);
  }

  function focusOn(what) {
    const box = boxes(names.mites)[0];
    if (colonies.finished()) find("finished-words").focus();
    else if (what === "box") { box.focus(); box.select(); } else (find("colony") ?? document.querySelector("h1")).focus?.();
  }

  async function keepDraft() {
    const draft = { key, at: Date.now(), mites: value(names.mites), bees: value(names.bees), note: value("note") };
    try {
      await queue.note(draftOf(now.colony), draft);
    } catch (error) {
      full(inWords("what you type"));
    }
  }

  const full = (what) => note("problem", inWords("This phone’s storage is full: it does not keep {what}. It still stands here: make room on the phone and save again, or write it down.", { what }));

  function showColony() {
    colonies.show((id) => { changes.leave(); open(id, { focus: "heading" }); });
    showEnd();
  }

  function showEnd() {
    if (!single && !desk.sent) submit.hidden = colonies.showEnd();
  }

  function step(by) {
    changes.leave();
    open(colonies.beside(by), { focus: "heading" });
  }

  function chooseList(wanted) {
    now.which = wanted;
    press("which", wanted);
    note("drawn-words", wanted === "drawn" ? colonies.drawnWords() : "");
    open(colonies.next(null) ?? order()[0]);
  }

  const press = (name, chosen) => document.querySelectorAll(`[data-${name}]`).forEach((button) => {
    button.setAttribute("aria-pressed", String(button.dataset[name] === chosen));
  });

  /* ---- Saving ---- */
  function bodyOf() {
    const typed = counting.typed();
    if (needsOwnBees()) typed.bees = value(names.bees);
    const body = { v: data.v, colony: now.colony, at: new Date().toISOString(), ...typed, mites: value(names.mites) };
    if (now.changing?.corrects) Object.assign(body, { corrects: now.changing.corrects, seen: now.changing.seen, why: changes.why().value.trim() });
    return body;
  }

  const entryOf = (body) => ({
    person: data.person, url: data.url, kind: "count", page: window.location.pathname, body,
    label: inWords("Colony {name}: {counted}", { name: nameOf(body.colony), counted: mitesWords(body.mites) }),
  });

  async function save(focus) {
    if (resting) return;
    const body = bodyOf();
    const problems = counting.wrongIn(body, { mites: names.mites, bees: needsOwnBees() ? names.bees : "bees" });
    counting.say(problems);
    if (problems.length) { say(problems[0][1]); return; }
    if (now.changing?.corrects && !body.why) { note("problem", data.words.why); changes.why().focus(); return; }
    resting = true;
    window.setTimeout(() => { resting = false; }, REST);
    const entry = entryOf(body);
    try {
      if (!(await keep(entry))) return;
    } catch (error) {
      resting = false;
      full(inWords("“{entry}”", { entry: entry.label }));
      say(inWords("Not kept."));
      return;
    }
    note("problem", "");
    try { navigator.vibrate?.(60); } catch (error) { /* not allowed here: the words are enough */ }
    say(inWords("{entry}. Stored on this phone, waiting to send.", { entry: entry.label }));
    await after(body, focus);
  }

  // Gives whether the entry is on this phone now, whatever became of it.
  async function keep(entry) {
    if (now.changing?.mend) {
      if (now.changing.entry.asked?.conflict) {
        await queue.add(entry);
        await queue.forget(now.changing.mend);
      } else if (!(await queue.mend(now.changing.mend, entry))) {
        const words = inWords("{entry} was sent meanwhile. To correct it:", { entry: now.changing.entry.label });
        changes.begin({ corrects: now.changing.mend, seen: 0, words });
        return false;
      }
      return true;
    }
    try {
      await queue.add({ ...entry, key });
    } catch (error) {
      if (error?.name !== "ConstraintError") throw error;
      await twice(entry);
    }
    return true;
  }

  // Another tab saved this form: the same is one count, something else is shown, never lost.
  async function twice(entry) {
    const other = (await queue.all(data.person)).find((one) => one.key === key);
    const same = other && Object.keys(entry.body).every((name) => name === "at" || String(other.body[name]) === String(entry.body[name]));
    if (same) return;
    const which = other ? ` (${other.label})` : "";
    const refused = inWords("Another tab saved this form with other numbers{which}. Edit and save it if it is one more count, or take it off.", { which });
    await queue.add({ ...entry, refused });
  }

  async function after(body, focus) {
    window.clearTimeout(typing);
    const id = now.colony;
    await queue.note(draftOf(id), null).catch(() => {});
    await queue.note(`choice ${data.url}`, { at: Date.now(), method: body.method, bees_how: body.bees_how, bees: body.bees_how === "nominal" ? body.bees : "" }).catch(() => {});
    changes.leave();
    now.again = false;
    await render();
    if (single) put("note", "");
    const next = single ? id : colonies.next(id);
    if (next === null) say(inWords("Every colony on this list is counted."));
    await open(next ?? id, { focus });
    find("settled")?.closest("details")?.removeAttribute("open");
    send();
    navigator.storage?.persist?.().catch(() => {});
  }

  /* ---- The whole page ---- */
  async function load() {
    const [all, kept] = await Promise.all([queue.all(data.person), queue.known(data.url)]);
    now.entries = all.filter((entry) => entry.kind === "count");
    if (kept && kept.read_at > now.told.read_at) now.told = kept;
    const off = (await queue.known("clock")) ?? 0;
    day.setClock(Math.abs(off) > CLOCK_OFF ? off : 0);
    note("clock-note", Math.abs(off) > CLOCK_OFF ? inWords("This phone’s clock and the server’s are {span} apart. The day is taken from the server’s: {day}. Set the phone’s clock.", { span: phone.spanWords(off), day: day.dayWords(day.today()) }) : "");
  }

  async function render() {
    await load();
    now.items = lists.lastOf(now.entries.filter((entry) => entry.url === data.url), now.told);
    lists.showLast(now.items, now.asking, { ...changes, ask: (id) => { now.asking = id; render(); } });
    lists.showRefused(now.entries, { ...changes, drop: (entry) => queue.forget(entry.key) });
    status.show(sent);
    find("send").hidden = !lists.waitingWords(now.entries);
    find("sign-in").hidden = sent !== "signed-out";
    find("export").hidden = !now.entries.length;
    note("old-note", lists.oldWords(now.entries));
    if (!desk.sent) showColony();
  }

  const ask = () => queue.send({ person: data.person, ask: data.url, token: () => queue.cookie(data.cookie) });
  let sending = false, again = false;
  async function send() {
    again = sending;
    if (sending) return;
    sending = true;
    try { sent = await ask(); } finally { sending = false; }
    await render();
    status.goToRefused();
    if (again) send();
  }

  function showMode() {
    const table = find("rows")?.closest(".table-wrap");
    if (single || desk.sent || !table) {
      text(submit, desk.words);
      return;
    }
    const one = now.mode === "one";
    find("one").hidden = !one;
    find("desk").hidden = one;
    table.hidden = one;
    press("mode", now.mode);
    text(submit, one ? inWords("Save, next colony") : desk.words);
    showEnd();
  }

  function setMode(wanted) {
    now.mode = wanted;
    showMode();
    if (now.mode === "one" && now.colony === null) open(colonies.next(null) ?? order()[0]);
  }

  async function choices() {
    const choice = await queue.known(`choice ${data.url}`);
    if (choice && choice.at > Date.parse(data.state.read_at)) ["method", "bees_how", "bees"].forEach((name) => { if (choice[name]) put(name, choice[name]); });
    put("entry_key", queue.newKey()); // a kept page is opened many times
    if (window.location.search.includes("earlier")) day.leaveDay();
    else day.showToday();
    settle();
    const fold = find("settled").closest("details");
    if (value("method")) fold.open = counting.kindOf(value("method")) !== "jar" || !day.ofForm();
  }

  function settle() {
    text(find("settled"), counting.settledWords());
    if (now.colony !== null) showColony();
  }

  function hear() {
    form.addEventListener("change", settle);
    form.addEventListener("input", () => status.show(sent));
    find("again")?.addEventListener("click", () => { now.again = true; find("choose").open = true; showColony(); focusOn("heading"); });
    form.addEventListener("input", () => { window.clearTimeout(typing); if (now.mode === "one" && !now.changing) typing = window.setTimeout(keepDraft, 300); });
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const token = queue.cookie(data.cookie); // of a kept page the written one may be old
      if (token) form.querySelector("[name=csrfmiddlewaretoken]").value = token;
      if (colonies.finished()) return;
      if (now.mode === "rows") rows.save();
      else save(document.activeElement?.matches("input[type=text]") ? "box" : "heading");
    });
    document.querySelectorAll("[data-mode]").forEach((button) => button.addEventListener("click", () => {
      try { localStorage.setItem("count-mode", button.dataset.mode); } catch (error) { /* it is only a habit */ }
      setMode(button.dataset.mode);
    }));
    document.querySelectorAll("[data-which]").forEach((button) => button.addEventListener("click", () => chooseList(button.dataset.which)));
    document.querySelectorAll("[data-go]").forEach((button) => button.addEventListener("click", () => step(Number(button.dataset.go))));
    document.querySelectorAll("[data-why]").forEach((button) => button.addEventListener("click", () => { changes.why().value = button.textContent; }));
    find("changing-no").addEventListener("click", () => { changes.leave(); open(now.colony, { focus: "heading" }); });
  }

  const changes = changesOf({ open, focusOn, render, send, say, full, setMode, showMode });
  const rows = rowsOf({ ask, render, say, full, note, entryOf });

  async function begin() {
    try {
      await load();
    } catch (error) {
      note("problem", inWords("This browser stores nothing here (a private window?): counts go straight to the server, and need a network."));
      return;
    }
    ["bar", "more"].forEach((name) => { find(name).hidden = false; });
    find("send").addEventListener("click", send);
    find("undo-last").addEventListener("click", () => changes.undo(status.last()));
    find("export").addEventListener("click", () => lists.save(now.entries));
    queue.heard(render);
    if (!desk.sent) {
      hear();
      await choices();
      await render();
      if (!single) {
        find("modes").hidden = false;
        const habit = (() => { try { return localStorage.getItem("count-mode"); } catch (error) { return null; } })();
        const sheet = new URLSearchParams(window.location.search).has("sheet");
        setMode(sheet ? "rows" : habit ?? (window.matchMedia("(min-width: 48rem)").matches ? "rows" : "one"));
      } else await open(now.colony);
    }
    await render();
    const number = (await queue.others(data.person)).length;
    const room = await navigator.storage?.estimate?.().catch(() => null);
    if (number) note("problem", phone.othersWords(number));
    else if (room && room.quota - room.usage < ROOM) note("problem", inWords("This phone’s storage is nearly full: counts may not be kept. Make room before you go on, or write them down."));
    form.dataset.ready = "";
    phone.sendOften(send, () => render().then(send));
    phone.keepPage((words) => text(find("kept"), words));
  }

  begin();
})();

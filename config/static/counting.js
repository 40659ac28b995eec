/* Counting on a phone: an entry is stored here before it is shown as kept, and leaves only when the server answers its key.
   Without this file, or where nothing can be stored, the page is the form for a desk. */
(() => {
  "use strict";

  const { queue, phone, counting, lists } = window.recount ?? {};
  if (!queue || !phone || !counting || !lists) return;

  const { data, form, boxes, value, put, day } = counting;
  const single = data.only !== null;
  const DRAFT = 12 * 60 * 60 * 1000; // milliseconds until what was typed and not saved is no longer offered
  const REST = 500; // milliseconds after saving in which a second tap does nothing
  const CLOCK_OFF = 5 * 60 * 1000;
  const ROOM = 200 * 1024; // bytes below which a phone's storage is told to be nearly full
  const find = (name, within = document) => within.querySelector(`[data-${name}]`);
  const submit = form.querySelector(".save-bar [type=submit]");
  const names = single ? { mites: "mites", bees: "bees" } : { mites: "one-mites", bees: "one-bees" };
  const desk = { words: submit.textContent, sent: "sentBefore" in form.dataset };
  let mode = single ? "one" : "rows", which = "all", colony = data.only, key = "", changing = null, asking = null;
  let entries = [], told = data.state, items = [], sent = "saved", typing = 0, resting = false;

  function text(element, words) {
    if (element.textContent !== words) element.textContent = words;
  }
  function note(name, words) {
    const place = find(name);
    place.hidden = !words;
    text(place, words);
  }
  const say = (words) => text(find("said"), words);
  const nameOf = (id) => told.colonies.find((one) => one.id === id)?.name ?? "?";
  const mitesWords = (number) => `${number} ${Number(number) === 1 ? "mite" : "mites"}`;
  const draftOf = (id) => `draft ${data.url} ${id}`;
  const needsOwnBees = () => !single && value("bees_how") === "counted" && counting.kindOf(value("method")) === "jar";

  /* ---- Which colony ---- */
  function order() {
    const all = told.colonies.map((one) => one.id);
    if (which === "all") return all;
    return [...data.drawn.chosen, ...data.drawn.spares].filter((id) => all.includes(id));
  }

  // By colony, what was counted on the day that stands in the form.
  function counted() {
    const on = day.ofForm();
    return new Map(items.filter((item) => item.on === on && item.gone !== "undone").map((item) => [item.colony, item]).reverse());
  }

  function nextOf(id) {
    const ids = order(), done = counted();
    const from = ids.indexOf(id) + 1;
    return [...ids.slice(from), ...ids.slice(0, from)].find((one) => !done.has(one) && one !== id) ?? null;
  }

  async function open(id, { focus = false, draft = null } = {}) {
    colony = id;
    const found = draft ?? await queue.known(draftOf(id));
    if (colony !== id) return;
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
    if (what === "box") { box.focus(); box.select(); } else (find("colony") ?? document.querySelector("h1")).focus?.();
  }

  async function keepDraft() {
    const draft = { key, at: Date.now(), mites: value(names.mites), bees: value(names.bees), note: value("note") };
    try {
      await queue.note(draftOf(colony), draft);
    } catch (error) {
      full("what you type");
    }
  }

  const full = (what) => note("problem", `This phone’s storage is full: it does not keep ${what}. It still stands here: make room on the phone and save again, or write it down.`);

  function showColony() {
    if (single || colony === null) return;
    const ids = order(), done = counted(), place = ids.indexOf(colony);
    text(find("colony"), `Colony ${nameOf(colony)}`);
    const spare = which === "drawn" && data.drawn.spares.includes(colony) ? ", a spare" : "";
    const where = place < 0 ? "not on this list" : `${place + 1} of ${ids.length}${spare}`;
    text(find("place"), `${where} · ${done.has(colony) ? `counted: ${done.get(colony).words.replace(/^.*?: /, "")}` : "not counted yet"}`);
    boxes(names.mites)[0].setAttribute("aria-label", `Mites found, colony ${nameOf(colony)}`);
    find("one-bees").hidden = !needsOwnBees();
    showPicks(ids, done);
  }

  function showPicks(ids, done) {
    const list = find("picks");
    const wanted = ids.map((id) => `${nameOf(id)}${done.has(id) ? " ✓" : ""}`).join("|") + colony;
    if (list.dataset.drawn === wanted) return;
    list.dataset.drawn = wanted;
    list.replaceChildren(...ids.map((id) => {
      const item = document.createElement("li"), pick = document.createElement("button");
      pick.type = "button";
      pick.className = "button button--second";
      pick.textContent = `${nameOf(id)}${done.has(id) ? " ✓ counted" : ""}`;
      if (id === colony) pick.setAttribute("aria-current", "true");
      pick.addEventListener("click", () => { find("choose").open = false; leaveChange(); open(id, { focus: "heading" }); });
      item.append(pick);
      return item;
    }));
  }

  function step(by) {
    const ids = order();
    const place = ids.indexOf(colony);
    leaveChange();
    open(ids[(Math.max(place, 0) + by + ids.length) % ids.length], { focus: "heading" });
  }

  function chooseList(wanted) {
    which = wanted;
    press("which", wanted);
    note("drawn-words", which === "drawn" ? `Drawn by chance for ${day.dayWords(data.drawn.on)}: ${data.drawn.chosen.length} in this order, then spares for those that cannot be opened.` : "");
    open(nextOf(null) ?? order()[0]);
  }

  const press = (name, chosen) => document.querySelectorAll(`[data-${name}]`).forEach((button) => {
    button.setAttribute("aria-pressed", String(button.dataset[name] === chosen));
  });

  /* ---- Saving ---- */
  function bodyOf() {
    const typed = counting.typed();
    if (needsOwnBees()) typed.bees = value(names.bees);
    const body = { v: data.v, colony, at: new Date().toISOString(), ...typed, mites: value(names.mites) };
    if (changing?.corrects) Object.assign(body, { corrects: changing.corrects, why: find("changing-why").querySelector("input").value.trim() });
    return body;
  }

  const entryOf = (body) => ({
    person: data.person, url: data.url, kind: "count", page: window.location.pathname, body,
    label: `Colony ${nameOf(body.colony)}: ${mitesWords(body.mites)}`,
  });

  async function save(focus) {
    if (resting) return;
    const body = bodyOf();
    const problems = counting.wrongIn(body, { mites: names.mites, bees: needsOwnBees() ? names.bees : "bees" });
    counting.say(problems);
    if (problems.length) { say(problems[0][1]); return; }
    if (changing?.corrects && !body.why) { note("problem", data.words.why); find("changing-why").querySelector("input").focus(); return; }
    resting = true;
    window.setTimeout(() => { resting = false; }, REST);
    const entry = entryOf(body);
    try {
      if (!(await keep(entry))) return;
    } catch (error) {
      resting = false;
      full(`“${entry.label}”`);
      say("Not kept.");
      return;
    }
    note("problem", "");
    try { navigator.vibrate?.(60); } catch (error) { /* not allowed here: the words are enough */ }
    say(`${entry.label}. Stored on this phone, waiting to send.`);
    await after(body, focus);
  }

  // Gives whether the entry is on this phone now, whatever became of it.
  async function keep(entry) {
    if (changing?.mend) {
      if (changing.entry.asked?.conflict) {
        await queue.add(entry);
        await queue.forget(changing.mend);
      } else if (!(await queue.mend(changing.mend, entry))) {
        change({ corrects: changing.mend, words: `${changing.entry.label} was sent meanwhile. To correct it:` });
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
    const refused = `Another tab saved this form with other numbers${other ? ` (${other.label})` : ""}. Edit and save it if it is one more count, or take it off.`;
    await queue.add({ ...entry, refused });
  }

  async function after(body, focus) {
    window.clearTimeout(typing);
    const id = colony;
    await queue.note(draftOf(id), null).catch(() => {});
    await queue.note(`choice ${data.url}`, { at: Date.now(), method: body.method, bees_how: body.bees_how, bees: body.bees_how === "nominal" ? body.bees : "" }).catch(() => {});
    leaveChange();
    await render();
    if (single) put("note", "");
    const next = single ? id : nextOf(id);
    if (next === null) say("Every colony on this list is counted.");
    await open(next ?? id, { focus });
    find("settled")?.closest("details")?.removeAttribute("open");
    send();
    navigator.storage?.persist?.().catch(() => {});
  }

  /* ---- Changing what was entered ---- */
  function change(to) {
    changing = to;
    find("changing").hidden = false;
    text(find("changing-words"), to.words);
    find("changing-why").hidden = !to.corrects;
    find("changing-why").querySelector("input").value = to.why ?? "";
    text(submit, to.corrects ? "Save the correction" : "Save it again");
  }

  function leaveChange() {
    if (!changing) return;
    changing = null;
    find("changing").hidden = true;
    showMode();
  }

  async function fill(id, typed) {
    if (mode === "rows") setMode("one");
    if (single && id !== data.only) return;
    ["method", "bees_how", "board_days", "cells_counted", "cells_total", "cells_opened", "treatment_in_hive", "brood", "note"].forEach((name) => put(name, typed[name] ?? ""));
    if (typed.bees_how !== "counted" || single) put("bees", typed.bees ?? "");
    day.leaveDay(/^\d{4}-\d\d-\d\d$/.test(typed.sampled_on) ? day.dayWords(typed.sampled_on) : typed.sampled_on);
    await open(id, { draft: { key: queue.newKey(), at: Date.now(), mites: typed.mites ?? "", bees: typed.bees ?? "", note: typed.note ?? "" } });
    form.scrollIntoView({ block: "start" });
    focusOn("box");
  }

  async function edit(entry) {
    await fill(entry.body.colony, entry.body);
    change({ mend: entry.key, entry, corrects: entry.body.corrects, why: entry.body.why, words: `${entry.label}: mend it, then save it again.` });
    const fields = Object.entries(entry.asked?.fields ?? {}).map(([name, [words]]) => [names[name] && (name !== "bees" || needsOwnBees()) ? names[name] : name, words]);
    find("settled").closest("details").open = true;
    counting.say(fields.filter(([name]) => boxes(name).length));
  }

  async function correct(item) {
    await fill(item.colony, item.typed);
    const entry = entries.find((one) => one.key === item.key);
    if (!item.tried && entry) change({ mend: item.key, entry, corrects: entry.body.corrects, why: entry.body.why, words: `${item.words}: change it, then save it again.` });
    else change({ corrects: item.key, words: `Correcting ${item.words}. The old count stays, struck through.` });
  }

  async function undo(item, why) {
    if (!item) return;
    if (!why && !item.tried && (await queue.take(item.key))) {
      say(`${item.words}: undone, it was on this phone only.`);
    } else if (!why) {
      asking = item.key;
      await render();
      find("last").querySelector(`[data-key="${item.key}"] button`)?.focus();
      return;
    } else {
      asking = null;
      const body = { v: data.v, undo: item.key, why, at: new Date().toISOString() };
      try {
        await queue.add({ person: data.person, url: data.url, kind: "count", page: window.location.pathname, label: `Undo ${item.words}`, body });
      } catch (error) { full("the undoing"); return; }
      say(`${item.words}: undone, waiting to send.`);
    }
    await render();
    if (!single && item.colony !== colony) open(item.colony);
    send();
  }

  async function sure(entry) {
    await queue.mend(entry.key, { body: { ...entry.body, sure: entry.asked.sure } });
    send();
  }

  /* ---- Rows of a whole yard, where the network is away ---- */
  async function saveRows() {
    if ((await ask()) === "saved") { form.submit(); return; }
    const rows = [...form.querySelectorAll("[data-rows] tbody tr")].map((row) => {
      const [mites, bees] = ["-mites", "-bees"].map((end) => row.querySelector(`input[name$="${end}"]`));
      return { mites, bees, id: Number(mites.name.slice(1).split("-")[0]) };
    }).filter(({ mites, bees }) => mites.value.trim() || bees.value.trim());
    if (!rows.length) { note("problem", "Nothing is typed yet. Enter the mites of at least one colony, 0 if none were found."); return; }
    const typed = counting.typed();
    const made = rows.map((row) => ({ v: data.v, at: new Date().toISOString(), ...typed, colony: row.id, mites: row.mites.value.trim(), bees: row.bees.value.trim() || typed.bees }));
    const problems = made.flatMap((body, place) => counting.wrongIn(body, { mites: rows[place].mites.name, bees: rows[place].bees.name }));
    counting.say(problems);
    if (problems.length) return;
    for (const [place, body] of made.entries()) {
      try { await queue.add(entryOf(body)); } catch (error) { full("these rows"); return; }
      [rows[place].mites, rows[place].bees].forEach((box) => { box.value = ""; });
    }
    say(`${made.length} stored on this phone, waiting to send.`);
    await render();
  }

  /* ---- The whole page ---- */
  async function load() {
    const [all, kept] = await Promise.all([queue.all(data.person), queue.known(data.url)]);
    entries = all.filter((entry) => entry.kind === "count");
    if (kept && kept.read_at > told.read_at) told = kept;
    const off = (await queue.known("clock")) ?? 0;
    day.setClock(Math.abs(off) > CLOCK_OFF ? off : 0);
    note("clock-note", Math.abs(off) > CLOCK_OFF ? `This phone’s clock and the server’s are ${phone.spanWords(off)} apart. The day is taken from the server’s: ${day.dayWords(day.today())}. Set the phone’s clock.` : "");
  }

  async function render() {
    await load();
    items = lists.lastOf(entries.filter((entry) => entry.url === data.url), told);
    lists.showLast(items, asking, { undo, ask: (id) => { asking = id; render(); }, correct });
    lists.showRefused(entries, { edit, sure, drop: (entry) => queue.forget(entry.key) });
    const waiting = lists.waitingWords(entries);
    text(find("sent"), phone.sentWords(sent, waiting, data.name));
    find("sent").dataset.waiting = waiting ? "yes" : "no";
    find("send").hidden = !waiting;
    find("sign-in").hidden = sent !== "signed-out";
    find("export").hidden = !entries.length;
    note("old-note", lists.oldWords(entries));
    const last = items.find((item) => !item.gone);
    find("last-line").hidden = !last;
    text(find("last-words"), last ? `${last.words}, ${last.state}` : "");
    text(find("undo-what"), last ? `: ${last.words}` : "");
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
    if (again) send();
  }

  function showMode() {
    const rows = find("rows")?.closest(".table-wrap");
    if (single || desk.sent || !rows) return;
    const one = mode === "one";
    find("one").hidden = !one;
    find("desk").hidden = one;
    rows.hidden = one;
    press("mode", mode);
    text(submit, one ? "Save, next colony" : desk.words);
  }

  function setMode(wanted) {
    mode = wanted;
    showMode();
    if (mode === "one" && colony === null) open(nextOf(null) ?? order()[0]);
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
    if (colony !== null) showColony();
  }

  function hear() {
    form.addEventListener("change", settle);
    form.addEventListener("input", () => { window.clearTimeout(typing); if (mode === "one" && !changing) typing = window.setTimeout(keepDraft, 300); });
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const token = queue.cookie(data.cookie); // of a kept page the written one may be old
      if (token) form.querySelector("[name=csrfmiddlewaretoken]").value = token;
      if (mode === "rows") saveRows();
      else save(document.activeElement?.matches("input[type=text]") ? "box" : "heading");
    });
    document.querySelectorAll("[data-mode]").forEach((button) => button.addEventListener("click", () => {
      try { localStorage.setItem("count-mode", button.dataset.mode); } catch (error) { /* it is only a habit */ }
      setMode(button.dataset.mode);
    }));
    document.querySelectorAll("[data-which]").forEach((button) => button.addEventListener("click", () => chooseList(button.dataset.which)));
    document.querySelectorAll("[data-go]").forEach((button) => button.addEventListener("click", () => step(Number(button.dataset.go))));
    document.querySelectorAll("[data-why]").forEach((button) => button.addEventListener("click", () => { find("changing-why").querySelector("input").value = button.textContent; }));
    find("changing-no").addEventListener("click", () => { leaveChange(); open(colony, { focus: "heading" }); });
  }

  async function begin() {
    try {
      await load();
    } catch (error) {
      note("problem", "This browser stores nothing here (a private window?): counts go straight to the server, and need a network.");
      return;
    }
    ["bar", "more"].forEach((name) => { find(name).hidden = false; });
    find("send").addEventListener("click", send);
    find("undo-last").addEventListener("click", () => undo(items.find((item) => !item.gone)));
    find("export").addEventListener("click", () => lists.save(entries));
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
      } else await open(colony);
    }
    await render();
    const number = (await queue.others(data.person)).length;
    const room = await navigator.storage?.estimate?.().catch(() => null);
    if (number) note("problem", `${number} waiting to send from another person on this phone. They go when that person signs in and opens this page.`);
    else if (room && room.quota - room.usage < ROOM) note("problem", "This phone’s storage is nearly full: counts may not be kept. Make room before you go on, or write them down.");
    form.dataset.ready = "";
    phone.sendOften(send, () => render().then(send));
    phone.keepPage((words) => text(find("kept"), words));
  }

  begin();
})();

/* The page for the yard: ticks, countdowns, what comes next. Everything shown follows from the ticks, so that it survives a locked
   screen, a reload and a closed browser. A tick is stored on this phone before it is shown. */
(() => {
  "use strict";

  const place = document.querySelector("[data-yard]");
  const data = place && JSON.parse(document.getElementById("yard-data").textContent);
  const { queue, yard, phone } = window.recount ?? {};
  if (!data || !queue || !yard || !phone) return;

  const SECOND = 1000, MINUTE = 60 * SECOND;
  const REST = 600; // milliseconds without a tick after rows moved, so that a second tap does not hit another hive
  const CLOCK_OFF = MINUTE; // a phone's clock that is further off is told
  const find = (name, within = place) => within.querySelector(`[data-${name}]`);
  const lists = { todo: find("todo"), over: find("over").querySelector("ol") };
  const cards = new Map([...place.querySelectorAll("[data-hive]")].map((card) => [Number(card.dataset.hive), card]));
  const STAGES = {
    waiting: inWords("Not begun"), started: inWords("Shut, heater in"), drawn: inWords("Shut, heater out"),
    opened: inWords("Opened"), done: inWords("Done"), left_out: inWords("Left out"),
  };
  let hives = [], ticks = [], resting = false, sent = "saved", told = data.state, known = new Map();

  /* ---- Words ---- */
  const clockWith = (zone) => new Intl.DateTimeFormat(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", timeZone: zone });
  const yardClock = clockWith(data.zone);
  const clock = (moment) => yardClock.format(moment);
  const clockUp = (moment) => clock(Math.ceil(moment / MINUTE) * MINUTE); // never earlier than it is
  const two = (number) => String(number).padStart(2, "0");
  function span(milliseconds) {
    const seconds = Math.ceil(Math.abs(milliseconds) / SECOND);
    const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor((seconds % 3600) / 60)];
    return hours ? `${hours}:${two(minutes)}:${two(seconds % 60)}` : `${minutes}:${two(seconds % 60)}`;
  }
  const stepWords = (tick) => {
    const time = clock(tick.at);
    return {
      started: data.vapour ? inWords("started {time}", { time }) : inWords("done {time}", { time }),
      drawn: inWords("heater out {time}", { time }),
      opened: inWords("opened {time}", { time }),
      left_out: inWords("left out {time}", { time }),
    }[tick.step];
  };
  const nameOf = (id) => hives.find((hive) => hive.id === id)?.name ?? "?";
  const waitingWords = (number) => inWordsMany("{n} waiting to send", "{n} waiting to send", number);

  function put(element, words) {
    if (element.textContent !== words) element.textContent = words;
  }
  const say = (words) => put(find("said"), words);
  function problem(words) {
    const note = find("problem");
    note.hidden = !words;
    put(note, words);
  }

  /* ---- A card ---- */
  function stageWords(hive) {
    const stage = STAGES[hive.stage];
    const words = hive.undo ? inWords("{stage} {time}", { stage, time: clock(hive.undo.at) }) : stage;
    return hive.left_out?.remark ? `${words}: ${hive.left_out.remark}` : words;
  }

  function shapeOf(hive, due) {
    if (due) return "due";
    if (["started", "drawn"].includes(hive.stage)) return "shut";
    return { waiting: "waiting", left_out: "left_out" }[hive.stage] ?? "over";
  }

  function dueWords(hive, due) {
    if (hive.due === null) return inWords("Open: after heater out");
    if (hive.stage === "started") {
      const time = clockUp(hive.due);
      return due ? inWords("Heater out now. Since {time}:", { time }) : inWords("Heater out from {time}, in", { time });
    }
    const time = clock(hive.due);
    return due ? inWords("Open now. Since {time}:", { time }) : inWords("Open from {time}, in", { time });
  }

  function count(hive, now) {
    const card = cards.get(hive.id);
    const due = hive.due !== null && hive.due <= now;
    card.dataset.due = due ? "yes" : "no";
    card.dataset.shape = shapeOf(hive, due);
    if (!["started", "drawn"].includes(hive.stage)) return;
    put(find("due-words", card), dueWords(hive, due));
    put(find("left", card), hive.due === null ? "" : span(hive.due - now));
    put(find("later", card), hive.stage === "started" && hive.openFrom ? inWords("Open from {time} at the earliest", { time: clock(hive.openFrom) }) : "");
  }

  function show(hive, isNext) {
    const card = cards.get(hive.id);
    const acts = { started: hive.stage === "waiting", drawn: hive.stage === "started", opened: hive.stage === "drawn" };
    card.dataset.stage = hive.stage;
    card.dataset.next = isNext ? "yes" : "no";
    put(find("stage-words", card), stageWords(hive));
    card.querySelector(".yard-card__stage").hidden = false;
    find("clock", card).hidden = !["started", "drawn"].includes(hive.stage);
    find("acts", card).hidden = told.closed;
    card.querySelectorAll("[data-step]").forEach((button) => { button.hidden = !acts[button.dataset.step]; });
    find("leave", card).hidden = hive.stage !== "waiting";
    find("undo", card).hidden = !hive.undo;
    if (hive.undo) put(find("undo-words", card), stepWords(hive.undo));
    if (hive.stage !== "drawn") find("early", card).hidden = true;
    if (hive.stage !== "waiting") find("leaving", card).hidden = true;
  }

  function line(list, wanted) {
    const now = [...list.children];
    if (now.length === wanted.length && wanted.every((card, index) => card === now[index])) return;
    const held = document.activeElement;
    list.replaceChildren(...wanted);
    if (held?.isConnected && held !== document.activeElement) held.focus({ preventScroll: true });
    rest();
  }

  function rest() {
    resting = true;
    place.dataset.resting = "yes";
    window.setTimeout(() => { resting = false; delete place.dataset.resting; }, REST);
  }

  /* ---- The whole page ---- */
  async function load() {
    const [entries, kept] = await Promise.all([queue.all(data.person), queue.known(data.url)]);
    if (kept && kept.read_at > told.read_at) told = kept;
    ticks = yard.ticksOf(told.marks, entries.filter((entry) => entry.url === data.url && !entry.refused));
    hives = yard.hivesOf(data, ticks);
    return entries;
  }

  async function render() {
    const entries = await load();
    const now = Date.now();
    const order = yard.inOrder(hives, now);
    hives.forEach((hive) => { show(hive, hive === order.next); count(hive, now); });
    line(lists.todo, order.todo.map((hive) => cards.get(hive.id)));
    line(lists.over, order.over.map((hive) => cards.get(hive.id)));
    find("over").hidden = !order.over.length;
    find("all-over").hidden = order.todo.length > 0 || told.closed;
    showBar(entries);
    showRefused(entries.filter((entry) => entry.refused));
    if (told.made !== data.state.made) problem(inWords("The sheet was planned anew. Load this page again to see it."));
  }

  function last() {
    return ticks.filter((tick) => cards.has(tick.hive)).reduce((one, other) => (!one || other.at >= one.at ? other : one), null);
  }

  function showBar(entries) {
    const number = entries.filter((entry) => !entry.refused).length;
    const tick = last();
    find("bar").hidden = false;
    const what = tick && { name: nameOf(tick.hive), tick: stepWords(tick) };
    put(find("last"), tick ? inWords("Last: colony {name}, {tick}", what) : inWords("Nothing ticked yet"));
    find("undo-last").hidden = !tick || told.closed;
    if (tick) put(find("undo-what"), inWords(": colony {name}, {tick}", what));
    find("sent").dataset.waiting = number ? "yes" : "no";
    put(find("sent"), phone.sentWords(sent, number ? waitingWords(number) : "", data.name));
    find("send").hidden = !number;
    find("sign-in").hidden = sent !== "signed-out";
  }

  function showRefused(entries) {
    const part = find("refused");
    part.hidden = !entries.length;
    part.querySelector("ul").replaceChildren(...entries.map((entry) => {
      const item = document.createElement("li");
      const words = document.createElement("p");
      words.textContent = `${entry.label}: ${entry.refused}`;
      const off = document.createElement("button");
      off.type = "button";
      off.className = "button button--second";
      off.textContent = inWords("Take it off");
      off.addEventListener("click", () => queue.forget(entry.key));
      item.append(words, off);
      return item;
    }));
  }

  /* ---- Time ---- */
  function ring(hive) {
    const { name } = hive;
    say(hive.stage === "started" ? inWords("Colony {name}: heater out now.", { name }) : inWords("Colony {name}: may be opened now.", { name }));
    try { navigator.vibrate?.([300, 150, 300]); } catch (error) { /* not allowed here: the words are enough */ }
  }

  function tickClock() {
    const now = Date.now();
    hives.forEach((hive) => {
      count(hive, now);
      if (hive.due === null || hive.due > now) { known.delete(hive.id); return; }
      const what = `${hive.stage} ${hive.due}`;
      if (known.get(hive.id) !== what) { known.set(hive.id, what); ring(hive); }
    });
  }

  let lock = null;
  async function stayAwake() {
    const wanted = hives.some((hive) => ["started", "drawn"].includes(hive.stage));
    if (!navigator.wakeLock || !wanted || document.hidden || (lock && !lock.released)) return;
    try { lock = await navigator.wakeLock.request("screen"); } catch (error) { lock = null; }
  }

  /* ---- Ticking ---- */
  async function keep(body, words) {
    try {
      await queue.add({ person: data.person, url: data.url, label: words, body });
    } catch (error) {
      problem(inWords("Not kept: this phone did not store “{words}”. Write it on the printed sheet.", { words }));
      say(inWords("Not kept."));
      return false;
    }
    problem("");
    say(inWords("{words}. Stored on this phone.", { words }));
    return true;
  }

  async function tick(hive, step, remark = "") {
    if (resting) return;
    rest();
    const at = new Date();
    const words = inWords("Colony {name}, {tick}", { name: hive.name, tick: stepWords({ step, at: at.getTime() }) });
    if (!(await keep({ hive: hive.id, step, at: at.toISOString(), remark, undo: null }, words))) return;
    await after(hive.id);
  }

  async function undo(mark) {
    if (resting || !mark) return;
    rest();
    const body = { hive: mark.hive, step: mark.step, at: new Date().toISOString(), remark: "", undo: mark.key };
    const words = inWords("Undone: colony {name}, {tick}", { name: nameOf(mark.hive), tick: stepWords(mark) });
    if (!(await keep(body, words))) return;
    await after(mark.hive);
  }

  // The next button of the same hive, so that a keyboard goes on where it was.
  async function after(id) {
    await render();
    const card = cards.get(id);
    (card.querySelector("[data-step]:not([hidden])") ?? card.querySelector("h3")).focus({ preventScroll: true });
    stayAwake();
    send();
    navigator.storage?.persist?.().catch(() => {});
  }

  function press(event) {
    const card = event.target.closest("[data-hive]");
    const button = event.target.closest("button");
    const hive = card && hives.find((one) => one.id === Number(card.dataset.hive));
    if (!button || !hive) return;
    if (button.dataset.step) pressStep(card, hive, button.dataset.step);
    else if ("undo" in button.dataset) undo(hive.undo);
    else if ("leave" in button.dataset) open(find("leaving", card), card.querySelector("input"));
    else if ("leavingNo" in button.dataset) shut(find("leaving", card), find("leave", card));
    else if ("earlyNo" in button.dataset) shut(find("early", card), card.querySelector("[data-step=opened]"));
    else if ("earlyYes" in button.dataset) tick(hive, "opened");
  }

  function pressStep(card, hive, step) {
    if (step !== "opened" || hive.openFrom === null || hive.openFrom <= Date.now()) { tick(hive, step); return; }
    if (resting) return;
    put(find("early-words", card), inWords("It is to stay shut until {time}. Is it open already?", { time: clock(hive.openFrom) }));
    open(find("early", card), find("early-no", card));
  }

  function open(part, focus) { part.hidden = false; focus.focus(); }
  function shut(part, focus) { part.hidden = true; focus.focus(); }

  function leave(event) {
    event.preventDefault();
    const hive = hives.find((one) => one.id === Number(event.target.closest("[data-hive]").dataset.hive));
    tick(hive, "left_out", event.target.elements.remark.value.trim());
  }

  /* ---- Sending ---- */
  let sending = false, again = false;
  async function send() {
    again = sending;
    if (sending) return;
    sending = true;
    const before = sent;
    try {
      sent = await queue.send({ person: data.person, ask: data.url, token: () => queue.cookie(data.cookie) });
    } finally {
      sending = false;
    }
    await render();
    clockNote();
    if (again) { send(); return; }
    if (sent !== before) say(find("sent").textContent);
  }

  function clockNote() {
    const note = find("clock-note");
    const off = sent === "saved" ? Math.abs(Date.parse(told.read_at) - Date.now()) : 0;
    if (sent === "saved") note.hidden = off <= CLOCK_OFF;
    if (off > CLOCK_OFF) put(note, inWords("This phone’s clock and the server’s are {span} apart. Ticks carry the phone’s time; set its clock if it is wrong.", { span: phone.spanWords(off) }));
  }

  /* ---- Kept for no network ---- */
  const keepPage = () => (told.closed ? null : phone.keepPage((words) => put(find("kept"), words)));

  async function othersNote() {
    const number = (await queue.others(data.person)).length;
    if (number) problem(phone.othersWords(number));
  }

  const back = () => render().then(() => { tickClock(); stayAwake(); send(); });

  async function begin() {
    find("no-script").hidden = true;
    place.addEventListener("click", press);
    place.addEventListener("submit", leave);
    find("undo-last").addEventListener("click", () => undo(last()));
    find("send").addEventListener("click", send);
    queue.heard(render);
    try {
      await render();
    } catch (error) {
      problem(inWords("This browser stores nothing here (a private window?), so nothing can be ticked. Use the printed sheet."));
      return;
    }
    hives.filter((hive) => hive.due !== null && hive.due <= Date.now()).forEach((hive) => known.set(hive.id, `${hive.stage} ${hive.due}`));
    tickClock();
    window.setInterval(tickClock, SECOND);
    if (clock(Date.now()) !== clockWith(undefined).format(Date.now())) {
      place.dataset.zone = data.zone;
      keptZone();
    }
    othersNote();
    stayAwake();
    phone.sendOften(send, back);
    keepPage();
  }

  function keptZone() {
    const note = document.createElement("p");
    note.className = "muted small";
    note.textContent = inWords("Times are on the yard’s clock ({zone}); this phone is on another.", { zone: data.zone });
    find("kept").before(note);
  }

  begin();
})();

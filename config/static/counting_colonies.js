/* Which colony comes next, in reading order or by the drawn list, and what the page shows of it. */
(() => {
  "use strict";

  const { counting } = window.recount ?? {};
  if (!counting) return;

  const { data, boxes, value, day } = counting;
  const single = data.only !== null;
  const names = single ? { mites: "mites", bees: "bees" } : { mites: "one-mites", bees: "one-bees" };
  const find = (name) => document.querySelector(`[data-${name}]`);

  /* What the scripts of the page share: now.told (the server's last word), now.items (last entries), now.colony, now.which list. */
  const now = { told: data.state, items: [], entries: [], colony: data.only, which: "all", mode: single ? "one" : "rows", changing: null, asking: null, again: false };

  const nameOf = (id) => now.told.colonies.find((one) => one.id === id)?.name ?? "?";
  const needsOwnBees = () => !single && value("bees_how") === "counted" && counting.kindOf(value("method")) === "jar";

  function order() {
    const all = now.told.colonies.map((one) => one.id);
    if (now.which === "all") return all;
    return [...data.drawn.chosen, ...data.drawn.spares].filter((id) => all.includes(id));
  }

  // By colony, what was counted on the day that stands in the form: by anybody here, and what waits on this phone.
  // What was not accepted is on no list of counts, but is not to be typed again either: null.
  function counted() {
    const on = day.read(day.ofForm());
    const here = now.entries.filter(({ url, body }) => url === data.url && !body.undo && day.read(body.sampled_on) === on);
    const done = new Map(here.filter(({ refused }) => refused).map(({ body }) => [body.colony, null]));
    (now.told.counted ?? []).filter(([, when]) => when === on).forEach(([id]) => done.set(id, ""));
    here.filter(({ refused }) => !refused).forEach((entry) => done.set(entry.body.colony, entry.label));
    now.items.filter((item) => day.read(item.on) === on).reverse().forEach((item) => (item.gone === "undone" ? done.delete(item.colony) : done.set(item.colony, item.words)));
    return done;
  }

  function next(id) {
    const ids = order(), done = counted();
    const from = ids.indexOf(id) + 1;
    return [...ids.slice(from), ...ids.slice(0, from)].find((one) => !done.has(one) && one !== id) ?? null;
  }

  function beside(by) {
    const ids = order();
    return ids[(Math.max(ids.indexOf(now.colony), 0) + by + ids.length) % ids.length];
  }

  function text(element, words) {
    if (element.textContent !== words) element.textContent = words;
  }

  function whereWords(place, all) {
    if (place < 0) return inWords("not on this list");
    const values = { place: place + 1, all };
    const spare = now.which === "drawn" && data.drawn.spares.includes(now.colony);
    return spare ? inWords("{place} of {all}, a spare", values) : inWords("{place} of {all}", values);
  }

  // What was counted stands in an entry's words after the colony; empty where others counted it.
  function countedWords(entry) {
    if (entry === undefined) return inWords("not counted yet");
    if (entry === null) return inWords("not accepted, see above");
    return entry ? inWords("counted: {mites}", { mites: entry.replace(/^.*?: /, "") }) : inWords("counted");
  }

  /* The end of a round: every colony of the list is counted on the day that stands in the form, and nothing else is begun. */
  function finished() {
    if (single || now.mode !== "one" || now.changing || now.again || value(names.mites)) return false;
    const ids = order(), done = counted();
    return ids.length > 0 && ids.every((id) => done.has(id));
  }

  function finishedWords() {
    const all = order().length, done = counted(), on = day.read(day.ofForm());
    const values = { day: /^\d{4}-\d\d-\d\d$/.test(on) ? day.dayWords(on) : on };
    if (order().some((id) => done.get(id) === null)) return inWordsMany("The colony is entered, {day}, but not all is saved.", "All {n} colonies are entered, {day}, but not all are saved.", all, values);
    if (now.which === "drawn") return inWordsMany("The colony of the drawn list is counted, {day}.", "All {n} colonies of the drawn list are counted, {day}.", all, values);
    return inWordsMany("The colony is counted, {day}.", "All {n} colonies are counted, {day}.", all, values);
  }

  function showEnd() {
    const over = finished();
    find("finished").hidden = !over;
    find("next").hidden = over;
    if (over) text(find("finished-words"), finishedWords());
    return over;
  }

  /* pick: hears which colony was chosen. */
  function show(pick) {
    if (single || now.colony === null) return;
    const ids = order(), done = counted(), place = ids.indexOf(now.colony), name = nameOf(now.colony);
    text(find("colony"), inWords("Colony {name}", { name }));
    text(find("place"), `${whereWords(place, ids.length)} · ${countedWords(done.get(now.colony))}`);
    boxes(names.mites)[0].setAttribute("aria-label", inWords("Mites found, colony {name}", { name }));
    find("one-bees").hidden = !needsOwnBees();
    showPicks(ids, done, pick);
  }

  function showPicks(ids, done, pick) {
    const list = find("picks");
    const wanted = `${ids.map((id) => `${nameOf(id)}${done.has(id) ? ` ✓${done.get(id) === null}` : ""}`).join("|")} ${now.colony}`;
    if (list.dataset.drawn === wanted) return;
    list.dataset.drawn = wanted;
    list.replaceChildren(...ids.map((id) => {
      const item = document.createElement("li"), button = document.createElement("button");
      button.type = "button";
      button.className = "button button--second";
      const marked = done.get(id) === null ? inWords("{name}, not accepted", { name: nameOf(id) }) : inWords("{name} ✓ counted", { name: nameOf(id) });
      button.textContent = done.has(id) ? marked : nameOf(id);
      if (id === now.colony) button.setAttribute("aria-current", "true");
      button.addEventListener("click", () => { find("choose").open = false; pick(id); });
      item.append(button);
      return item;
    }));
  }

  const drawnWords = () => inWords("Drawn by chance for {day}: {number} in this order, then spares for those that cannot be opened.", {
    day: day.dayWords(data.drawn.on), number: data.drawn.chosen.length,
  });

  window.recount.colonies = { now, single, names, nameOf, needsOwnBees, order, next, beside, show, showEnd, finished, drawnWords };
})();

/* Undoing, correcting and mending what was entered: taken off the phone while it surely never left it, else sent as an entry of its own. */
(() => {
  "use strict";

  const { queue, counting, colonies } = window.recount ?? {};
  if (!queue || !counting || !colonies) return;

  const { data, form, boxes, put, day } = counting;
  const { now, single, names, needsOwnBees } = colonies;
  const TYPED = ["method", "bees_how", "board_days", "cells_counted", "cells_total", "cells_opened", "treatment_in_hive", "brood", "note"];
  const find = (name, within = document) => within.querySelector(`[data-${name}]`);
  const submit = form.querySelector(".save-bar [type=submit]");
  const why = () => find("changing-why").querySelector("input");

  /* page: open(id, how), focusOn(what), render(), send(), say(words), full(what), setMode(mode), showMode(). */
  function changesOf(page) {
    function begin(to) {
      now.changing = to;
      find("changing").hidden = false;
      find("changing-words").textContent = to.words;
      find("changing-why").hidden = !to.corrects;
      why().value = to.why ?? "";
      submit.textContent = to.corrects ? inWords("Save the correction") : inWords("Save it again");
    }

    function leave() {
      if (!now.changing) return;
      now.changing = null;
      find("changing").hidden = true;
      page.showMode();
    }

    async function fill(id, typed) {
      if (now.mode === "rows") page.setMode("one");
      TYPED.forEach((name) => put(name, typed[name] ?? ""));
      if (typed.bees_how !== "counted" || single) put("bees", typed.bees ?? "");
      day.leaveDay(/^\d{4}-\d\d-\d\d$/.test(typed.sampled_on) ? day.dayWords(typed.sampled_on) : typed.sampled_on);
      await page.open(id, { draft: { key: queue.newKey(), at: Date.now(), mites: typed.mites ?? "", bees: typed.bees ?? "", note: typed.note ?? "" } });
      form.scrollIntoView({ block: "start" });
      page.focusOn("box");
    }

    const mending = (entry, words) => ({ mend: entry.key, entry, corrects: entry.body.corrects, seen: entry.body.seen, why: entry.body.why, words });

    async function edit(entry) {
      await fill(entry.body.colony, entry.body);
      begin(mending(entry, inWords("{entry}: mend it, then save it again.", { entry: entry.label })));
      const here = (name) => (names[name] && (name !== "bees" || needsOwnBees()) ? names[name] : name);
      const fields = Object.entries(entry.asked?.fields ?? {}).map(([name, [words]]) => [here(name), words]);
      find("settled").closest("details").open = true;
      counting.say(fields.filter(([name]) => boxes(name).length));
    }

    async function correct(item) {
      await fill(item.colony, item.typed);
      const entry = now.entries.find((one) => one.key === item.key);
      if (!item.tried && entry) begin(mending(entry, inWords("{entry}: change it, then save it again.", { entry: item.words })));
      else begin({ corrects: item.key, seen: item.seen, words: inWords("Correcting {entry}. The old count stays, struck through.", { entry: item.words }) });
    }

    async function undo(item, reason) {
      if (!item) return;
      if (!reason && !item.tried && (await queue.take(item.key))) {
        page.say(inWords("{entry}: undone, it was on this phone only.", { entry: item.words }));
      } else if (!reason) {
        now.asking = item.key;
        await page.render();
        find("last").querySelector(`[data-key="${item.key}"] button`)?.focus();
        return;
      } else {
        now.asking = null;
        const body = { v: data.v, undo: item.key, seen: item.seen, why: reason, at: new Date().toISOString() };
        try {
          const label = inWords("Undo {entry}", { entry: item.words });
          await queue.add({ person: data.person, url: data.url, kind: "count", page: window.location.pathname, label, body });
        } catch (error) { page.full(inWords("the undoing")); return; }
        page.say(inWords("{entry}: undone, waiting to send.", { entry: item.words }));
      }
      await page.render();
      if (!single && now.mode === "one" && item.colony !== now.colony) page.open(item.colony);
      page.send();
    }

    // Colonies noted from one day on: whether they stood there before is asked of all of them at once, not of each.
    const sameDayAsked = (entry, other) => entry.asked.early && other.refused && other.url === entry.url
      && other.asked?.early === entry.asked.early && other.asked.asks.length === 1 && other.body.sampled_on === entry.body.sampled_on;

    async function sure(entry) {
      for (const one of [entry, ...now.entries.filter((other) => other.key !== entry.key && sameDayAsked(entry, other))]) {
        await queue.mend(one.key, { body: { ...one.body, sure: one.asked.sure } });
      }
      await page.render();
      page.send();
    }

    return { begin, leave, edit, correct, undo, sure, why };
  }

  window.recount.changesOf = changesOf;
})();

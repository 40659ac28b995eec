/* The rows of a whole yard, typed at a desk: straight to the server, or onto this machine where the network is away. */
(() => {
  "use strict";

  const { queue, counting } = window.recount ?? {};
  if (!queue || !counting) return;

  const { data, form } = counting;

  function filled() {
    return [...form.querySelectorAll("[data-rows] tbody tr")].map((row) => {
      const [mites, bees] = ["-mites", "-bees"].map((end) => row.querySelector(`input[name$="${end}"]`));
      return { mites, bees, colony: Number(mites.name.slice(1).split("-")[0]) };
    }).filter(({ mites, bees }) => mites.value.trim() || bees.value.trim());
  }

  /* page: ask() says how the network is; entryOf(body), render(), say(words), full(what), note(name, words). */
  function rowsOf(page) {
    async function save() {
      if ((await page.ask()) === "saved") { form.submit(); return; }
      const rows = filled();
      if (!rows.length) { page.note("problem", inWords("Nothing is typed yet. Enter the mites of at least one colony, 0 if none were found.")); return; }
      const typed = counting.typed();
      const made = rows.map(({ mites, bees, colony }) => ({
        v: data.v, at: new Date().toISOString(), ...typed, colony, mites: mites.value.trim(), bees: bees.value.trim() || typed.bees,
      }));
      const problems = made.flatMap((body, place) => counting.wrongIn(body, { mites: rows[place].mites.name, bees: rows[place].bees.name }));
      counting.say(problems);
      if (problems.length) return;
      for (const [place, body] of made.entries()) {
        try { await queue.add(page.entryOf(body)); } catch (error) { page.full(inWords("these rows")); return; }
        [rows[place].mites, rows[place].bees].forEach((box) => { box.value = ""; });
      }
      page.note("problem", "");
      page.say(inWordsMany("{n} stored on this phone, waiting to send.", "{n} stored on this phone, waiting to send.", made.length));
      await page.render();
    }
    return { save };
  }

  window.recount.rowsOf = rowsOf;
})();

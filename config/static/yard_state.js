/* What stands at each hive, from the ticks that the server knows and those that wait on this phone. Pure. */
(() => {
  "use strict";

  const STEPS = ["started", "drawn", "opened", "left_out"];

  function addTick(ticks, tick) {
    const there = [...ticks.values()].some((one) => one.hive === tick.hive && one.step === tick.step && !one.undone);
    if (!ticks.has(tick.key) && !there) ticks.set(tick.key, tick);
  }

  // Marks come from the server, entries from the queue in the order made; ticked twice counts once.
  function ticksOf(marks, entries) {
    const ticks = new Map(marks.map((mark) => [mark.key, { ...mark, at: Date.parse(mark.at) }]));
    entries.forEach(({ body }) => {
      if (!body.undo) addTick(ticks, { ...body, at: Date.parse(body.at), undone: false });
      else if (ticks.has(body.undo)) ticks.set(body.undo, { ...ticks.get(body.undo), undone: true });
    });
    return [...ticks.values()].filter((tick) => !tick.undone);
  }

  function stageOf(own, vapour) {
    if (own.started && !vapour) return "done";
    if (own.opened) return "opened";
    if (own.drawn) return "drawn";
    if (own.started) return "started";
    return own.left_out ? "left_out" : "waiting";
  }

  function dueOf(stage, times) {
    if (stage === "started") return times.drawFrom;
    return stage === "drawn" ? times.openFrom : null;
  }

  /* Each hive with its ticks, its stage, what is due when, and the tick that undo takes back. */
  function hivesOf(data, ticks) {
    const own = data.hives.map((hive) => {
      const mine = ticks.filter((tick) => tick.hive === hive.id);
      return { ...hive, ...Object.fromEntries(STEPS.map((step) => [step, mine.find((tick) => tick.step === step) ?? null])) };
    });
    const at = (tick) => tick?.at ?? null;
    const times = window.recount.openTimes(
      own.map((one) => ({ hive: one.id, loads: one.loads, started: at(one.started), drawn: at(one.drawn), opened: at(one.opened) })),
      data.minutes,
    );
    return own.map((one) => {
      const stage = stageOf(one, data.vapour);
      const undo = ["opened", "drawn", "started", "left_out"].map((step) => one[step]).find(Boolean) ?? null;
      return { ...one, stage, undo, ...times.get(one.id), due: dueOf(stage, times.get(one.id)) };
    });
  }

  const over = (hive) => ["opened", "done", "left_out"].includes(hive.stage);
  const shut = (hive) => ["started", "drawn"].includes(hive.stage);

  function rank(hive, next, now) {
    if (shut(hive) && hive.due !== null && hive.due <= now) return 0;
    if (hive === next) return 1;
    if (shut(hive)) return hive.due === null ? 2 : 3;
    return 4;
  }

  /* What comes next, the next first: what is due, the next hive to start, what runs, the others in the order walked. */
  function inOrder(hives, now) {
    const todo = hives.filter((hive) => !over(hive));
    const next = todo.find((hive) => hive.stage === "waiting");
    const key = (hive) => [rank(hive, next, now), shut(hive) ? hive.due ?? 0 : 0, hive.place];
    const compare = (one, other) => {
      const [a, b] = [key(one), key(other)];
      return a[0] - b[0] || a[1] - b[1] || a[2] - b[2];
    };
    return { next, todo: todo.sort(compare), over: hives.filter(over) };
  }

  window.recount = { ...window.recount, yard: { ticksOf, hivesOf, inOrder } };
})();

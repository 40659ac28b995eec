/* The boxes of a count page: what is typed, what is wrong with it before it is sent, and the day on the yard's calendar. */
(() => {
  "use strict";

  const form = document.querySelector("form[data-counting]");
  const told = document.getElementById("counting-data");
  if (!form || !told) return;

  const data = JSON.parse(told.textContent);
  const SHARED = ["method", "bees_how", "bees", "board_days", "cells_counted", "cells_total", "cells_opened", "treatment_in_hive", "brood", "note"];
  const DAY = 24 * 60 * 60 * 1000;
  const boxes = (name) => [...form.querySelectorAll(`[name="${name}"]`)];
  const isRadio = (box) => box?.type === "radio";

  function value(name) {
    const found = boxes(name);
    if (isRadio(found[0])) return found.find((box) => box.checked)?.value ?? "";
    return found[0]?.value.trim() ?? "";
  }

  function put(name, text) {
    const found = boxes(name);
    if (isRadio(found[0])) found.forEach((box) => { box.checked = box.value === text; });
    else if (found[0]) found[0].value = text;
    found[0]?.dispatchEvent(new Event("input", { bubbles: true }));
    found[0]?.dispatchEvent(new Event("change", { bubbles: true }));
  }

  /* ---- The day ---- */
  // By the phone's clock, put right by what the server's said last; typed, it is what was typed.
  // A form that came back keeps its day: the person has seen it, and answers about it.
  let off = 0, byClock = !form.matches("[data-sent-before]"), setting = false;
  const parts = new Intl.DateTimeFormat("en-CA", { year: "numeric", month: "2-digit", day: "2-digit", timeZone: data.zone });
  const dayAt = (moment) => parts.format(moment);
  const today = () => dayAt(Date.now() + off);
  const dayWords = (iso) => dayInWords(new Date(`${iso}T12:00Z`));
  const dayBox = boxes("sampled_on")[0];

  function showToday() {
    if (!byClock || dayBox.value === dayWords(today())) return;
    setting = true;
    put("sampled_on", dayWords(today()));
    setting = false;
  }

  function setClock(milliseconds) { off = milliseconds; showToday(); }

  function leaveDay(text = "") {
    byClock = false;
    put("sampled_on", text);
  }

  /* ISO where it is the clock's, today's or yesterday's, else as typed: the server may read it on another day. */
  function day() {
    const typed = dayBox.value.trim();
    const named = { today: 0, yesterday: DAY, [inWords("today")]: 0, [inWords("yesterday")]: DAY }[typed.toLowerCase()];
    if (byClock) return today();
    return named === undefined ? typed : dayAt(Date.now() + off - named);
  }

  /* A day as the server would read it, in ISO, to hold it against other days; what is not read stays as typed. */
  const months = (name) => Array.from({ length: 12 }, (none, place) => name(new Date(Date.UTC(2026, place, 15))).toLowerCase().slice(0, 3));
  const MONTHS = [months((date) => monthInWords(date)), months((date) => date.toLocaleString("en-GB", { month: "short", timeZone: "UTC" }))];
  const WRITTEN = [
    [/^(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})$/, (found) => [found[3], Number(found[2]), found[1]]],
    [/^(\d{1,2})\.? (\p{L}{3,})\.?,? (\d{4})$/u, (found) => [found[3], monthOf(found[2]), found[1]]],
    [/^(\p{L}{3,})\.? (\d{1,2}),? (\d{4})$/u, (found) => [found[3], monthOf(found[1]), found[2]]],
  ];
  const monthOf = (word) => 1 + Math.max(...MONTHS.map((names) => names.indexOf(word.slice(0, 3))));
  const two = (number) => String(number).padStart(2, "0");
  function read(text) {
    const plain = text.trim().toLowerCase().replace(/\s+/g, " ");
    for (const [pattern, parts] of WRITTEN) {
      const found = pattern.exec(plain);
      const [year, month, date] = found ? parts(found) : ["", 0, ""];
      if (month) return `${year}-${two(month)}-${two(date)}`;
    }
    return text;
  }
  dayBox.addEventListener("input", () => { if (!setting) byClock = false; });

  /* ---- What is typed ---- */
  const kindOf = (method) => (["board", "drone_brood"].includes(method) ? method : "jar");
  const typed = () => ({ ...Object.fromEntries(SHARED.map((name) => [name, value(name)])), sampled_on: day(), day_by_clock: byClock });

  function settledWords() {
    const label = (name) => boxes(name).find((box) => box.checked)?.closest("label")?.textContent.trim();
    const method = label("method");
    if (!method) return inWords("method, bees and day");
    const way = kindOf(value("method")) === "jar" ? label("bees_how") : "";
    return [method, way, dayBox.value.trim()].filter(Boolean).map((one) => `${one}.`).join(" ");
  }

  /* ---- What is wrong ---- */
  const whole = (text) => /^\d{1,5}$/.test(text);
  const positive = (text) => whole(text) && Number(text) > 0;

  /* Names of boxes that cannot be right; `names` says which boxes hold mites and bees here. */
  function wrongIn(body, { mites = "mites", bees = "bees" }) {
    const kind = kindOf(body.method);
    const found = [];
    if (!whole(body.mites)) found.push([mites, data.words.mites]);
    if (!body.method) found.push(["method", data.words.method]);
    if (body.method && kind === "jar" && ["counted", "nominal"].includes(body.bees_how) && !positive(body.bees)) found.push([bees, data.words.bees]);
    if (kind === "board" && !/^\d{1,2}([.,]\d)?$/.test(body.board_days)) found.push(["board_days", data.words.board_days]);
    if (kind === "board" && !body.treatment_in_hive) found.push(["treatment_in_hive", data.words.treatment_in_hive]);
    if (kind === "drone_brood" && !positive(body.cells_opened)) found.push(["cells_opened", data.words.cells_opened]);
    if (!body.sampled_on) found.push(["sampled_on", data.words.sampled_on]);
    return found;
  }

  function unsay(within = form) {
    within.querySelectorAll("[data-wrong-here]").forEach((note) => {
      note.closest(".field")?.classList.remove("field--wrong");
      note.remove();
    });
    within.querySelectorAll("[data-wrong-box]").forEach((box) => {
      ["aria-invalid", "aria-describedby", "data-wrong-box"].forEach((name) => box.removeAttribute(name));
    });
  }
  // Another answer: what was wrong with the one before is no longer so, and saving looks at it again.
  form.addEventListener("change", ({ target }) => { if (target.closest(".field")) unsay(target.closest(".field")); });

  /* Each problem at its box, the first one with the focus. */
  function say(problems) {
    unsay();
    problems.forEach(([name, text], place) => {
      const box = boxes(name)[0];
      const field = box.closest(".field");
      const note = document.createElement("span");
      note.className = "problem";
      note.id = `wrong-${name}`;
      note.dataset.wrongHere = "";
      note.textContent = inWords("Error: {problem}", { problem: text });
      field.classList.add("field--wrong");
      const label = field.querySelector("legend, label");
      if (label) label.after(note); else field.prepend(note);
      Object.entries({ "aria-invalid": "true", "aria-describedby": note.id, "data-wrong-box": "" }).forEach(([key, set]) => box.setAttribute(key, set));
      const fold = box.closest("details");
      if (fold) fold.open = true;
      if (!place) box.focus();
    });
  }

  window.recount.counting = {
    data, form, boxes, value, put, typed, wrongIn, say, unsay, settledWords, kindOf,
    day: { setClock, showToday, leaveDay, today, dayAt, dayWords, read, ofForm: day },
  };
})();

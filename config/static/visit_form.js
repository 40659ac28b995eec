/* The boxes of a visit at the gate: read, filled, rows added, colonies drawn, looked over before they are kept, told as answers. */
(() => {
  "use strict";

  const { visits, steppers } = window.recount ?? {};
  const form = document.querySelector("form[data-visit]");
  if (!visits || !form) return;

  const { data } = visits;
  const OURS = ["csrfmiddlewaretoken", "step"];
  const find = (name, within = document) => within.querySelector(`[data-${name}]`);
  const boxes = () => [...form.elements].filter((box) => box.name && !OURS.includes(box.name));
  const named = (name) => boxes().filter((box) => box.name === name);
  const isTick = (box) => ["radio", "checkbox"].includes(box.type);

  /* As the form would send them, empty ones left out. */
  const typed = () => Object.fromEntries([...new FormData(form)].filter(([name, text]) => !OURS.includes(name) && text !== ""));
  const value = (name) => (new FormData(form).get(name) ?? "").trim();

  function put(name, text) {
    named(name).forEach((box) => {
      if (box.type === "radio") box.checked = box.value === text;
      else if (box.type === "checkbox") box.checked = text !== "";
      else box.value = text;
    });
    named(name)[0]?.dispatchEvent(new Event("input", { bubbles: true }));
  }

  /* All boxes at once; those that are not told become empty. */
  function fill(told) {
    addRows((told.rows ?? "").split(",").map(Number));
    keepRowless(told);
    [...new Set(boxes().map((box) => box.name))].forEach((name) => { if (name !== "rows") put(name, told[name] ?? ""); });
    form.querySelectorAll("details").forEach((fold) => { if (filled(fold)) fold.open = true; });
    showLot();
  }
  /* What was typed of a colony that has no row here any more goes along unseen: the server says what becomes of it. */
  function keepRowless(told) {
    Object.entries(told).filter(([name, text]) => /^[fc]\d+-/.test(name) && text !== "" && !named(name).length).forEach(([name]) => {
      const box = document.createElement("input");
      box.type = "hidden";
      box.name = name;
      form.append(box);
    });
  }
  const filled = (fold) => [...fold.querySelectorAll("input, select, textarea")].some((box) => (isTick(box) ? box.checked && box.value !== "" : box.value !== "") && !box.name.startsWith("count-"));

  /* ---- Rows of colonies ---- */
  const rowKeys = () => named("rows")[0].value.split(",").filter(Boolean).map(Number);
  const colonyOf = (key) => data.colonies.find(([one]) => one === key);
  const rows = () => [...form.querySelectorAll("details.visit-colony")];
  const pattern = rows()[0]?.cloneNode(true);
  const from = rowKeys()[0];
  const NAMES = ["id", "name", "for", "aria-describedby", "aria-controls", "data-for"];

  function blankRow([key, name]) {
    const row = pattern.cloneNode(true);
    const old = pattern.querySelector(`label[for="id_c${from}-mites"]`)?.firstChild.textContent.trim() ?? "";
    const mites = inWords("Mites in colony {name}", { name });
    row.open = false;
    row.querySelectorAll("[id$=_error]").forEach((wrong) => wrong.remove());
    row.querySelectorAll("*").forEach((part) => {
      NAMES.filter((one) => part.hasAttribute(one)).forEach((one) => {
        part.setAttribute(one, part.getAttribute(one).replaceAll(new RegExp(`\\b((?:id_)?[fc])${from}-`, "g"), `$1${key}-`));
      });
      if (old && part.hasAttribute("aria-label")) part.setAttribute("aria-label", part.getAttribute("aria-label").replace(old, mites));
      part.classList.remove("field--wrong");
      part.removeAttribute("aria-invalid");
      if (isTick(part)) part.checked = part.type === "radio" && part.value === "";
      else if (part.matches("input, select")) part.value = "";
    });
    row.querySelector("summary strong").textContent = inWords("Colony {name}", { name });
    const [labelMites, labelBees] = ["mites", "bees"].map((box) => row.querySelector(`label[for="id_c${key}-${box}"]`)?.firstChild);
    if (labelMites) labelMites.textContent = `${mites} `;
    if (labelBees) labelBees.textContent = `${inWords("Bees of colony {name}, if counted or different", { name })} `;
    return row;
  }

  /* Never more rows than the page may have, but for those that were filled before. */
  const MOST = data.most_rows ?? Infinity;
  function addRows(keys, most = Infinity) {
    if (!pattern) return;
    const there = new Set(rowKeys());
    const fresh = keys.map(colonyOf).filter((one) => one && !there.has(one[0]));
    fresh.slice(0, Math.max(0, most - there.size)).forEach((one) => {
      const row = blankRow(one);
      rows().at(-1).after(row);
      steppers(row);
      named("rows")[0].value = [...rowKeys(), one[0]].join(",");
    });
    const more = find("more-rows", form);
    if (more) more.hidden = rowKeys().length >= MOST || data.colonies.every(([key]) => rowKeys().includes(key));
  }
  const addAllRows = () => addRows(data.colonies.map(([key]) => key), MOST);

  /* ---- Which colonies to open ---- */
  const present = () => { const text = value("colonies_present"); return /^\d+$/.test(text) ? Number(text) : data.colonies.length; };

  function showLot() {
    const lot = data.lots[Number(value("draw"))];
    const number = data.to_open[present()];
    const words = find("lot-number");
    if (!words) return;
    if (number === undefined || !lot || value("drawn_on") !== data.drawn_on) {
      words.textContent = inWords("How many to open of so many, and this lot, are told where there is a network.");
      return;
    }
    words.textContent = inWordsMany("{n} of {present} colonies to open.", "{n} of {present} colonies to open.", number, { present: present() });
    const names = (places) => places.map((one) => data.colonies[one][1]).join(", ");
    const [drawn, spares] = [lot.slice(0, number), lot.slice(number, number + data.spares)];
    const lots = find("lot-drawn");
    if (lots) lots.textContent = drawn.length ? `${inWords("Drawn by chance, in this order: {names}.", { names: names(drawn) })} ${spares.length ? inWords("Spares for colonies that cannot be opened: {names}.", { names: names(spares) }) : ""}` : "";
    const keys = new Set(drawn.map((one) => data.colonies[one][0]));
    addRows([...drawn, ...spares].map((one) => data.colonies[one][0]), MOST);
    rows().forEach((row) => {
      const key = Number(row.querySelector("[name$='-opened']").name.slice(1).split("-")[0]);
      row.querySelector("summary span").textContent = keys.has(key) ? inWords("drawn to be opened") : "";
    });
  }

  function drawAnew() {
    const next = Number(value("draw")) + 1;
    if (!data.lots[next]) return false;
    put("draw", String(next));
    showLot();
    return true;
  }

  /* ---- What is wrong before it is kept; the server looks at everything once more ---- */
  function problems() {
    const found = [];
    const wrong = (name, key) => found.push([named(name)[0], data.words[key]]);
    ["visited_on", "present", "told"].forEach((name) => { if (!value(name)) wrong(name, name); });
    if (!/^\d+$/.test(value("colonies_present"))) wrong("colonies_present", "colonies_present");
    if (value("present") === data.other && !value("present_who")) wrong("present_who", "present_who");
    const counted = boxes().some((box) => /^c\d+-mites$/.test(box.name) && box.value.trim());
    if (counted && !value("count-method")) wrong("count-method", "method");
    rowKeys().forEach((key) => {
      const other = boxes().some((box) => box.name.startsWith(`f${key}-`) && box.checked && box.value === data.other);
      if (other && !value(`f${key}-remark`)) wrong(`f${key}-remark`, "remark");
    });
    return found;
  }

  /* ---- Answers, by the headings they stand under: [heading, [[label, words], …]] ---- */
  function answerOf(field) {
    const label = field.querySelector("legend, label").cloneNode(true);
    const ticks = [...field.querySelectorAll("input")].filter(isTick);
    const box = field.querySelector("select, textarea, input");
    let words = box.value.trim();
    if (ticks.length === 1 && ticks[0].type === "checkbox") words = ticks[0].checked ? inWords("Yes") : "";
    else if (ticks.length) {
      const tick = ticks.find((one) => one.checked && one.value !== "");
      words = tick ? tick.closest("label")?.textContent.trim() ?? tick.value : "";
    } else if (box.matches("select")) words = box.value ? box.selectedOptions[0].textContent.trim() : "";
    label.querySelectorAll(".optional").forEach((one) => one.remove());
    return [label.textContent.trim(), words];
  }

  function answers() {
    const counted = boxes().some((box) => /^c\d+-mites$/.test(box.name) && box.value.trim());
    const found = new Map();
    form.querySelectorAll(".field").forEach((field) => {
      const fold = field.closest("details");
      if (fold && !fold.classList.contains("visit-colony") && !counted && field.querySelector("[name^='count-']")) return;
      const heading = (fold?.querySelector("summary strong") ?? field.closest("section")?.querySelector("h2"))?.textContent.trim() ?? "";
      const [label, words] = answerOf(field);
      if (words) found.set(heading, [...(found.get(heading) ?? []), [label, words]]);
    });
    return [...found];
  }

  /* Each disease that is chosen, with the name of its colony or nothing for the yard. */
  const suspected = () => boxes().filter((box) => /(^|-)disease$/.test(box.name) && box.value).map((box) => {
    const key = Number(/^f(\d+)-/.exec(box.name)?.[1] ?? 0);
    return { disease: box.value, colony: key ? colonyOf(key)?.[1] ?? String(key) : "" };
  });

  window.recount.visitForm = { form, typed, value, put, fill, addAllRows, showLot, drawAnew, problems, answers, suspected };
})();

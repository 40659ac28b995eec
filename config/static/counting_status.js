/* The line at the button of a count page: what is saved and what is not, and the last entry. It never says more than is so. */
(() => {
  "use strict";

  const { phone, counting, colonies, lists } = window.recount ?? {};
  if (!phone || !counting || !colonies || !lists) return;

  const { data, form, value, day } = counting;
  const { now, names } = colonies;
  const opened = Date.now();
  const find = (name) => document.querySelector(`[data-${name}]`);
  const leave = form.querySelector(".save-bar a.button--quiet");
  let seen = null; // keys of the refusals that were shown
  let kept = false; // whether anything was entered in this visit, or waited when it began

  function text(element, words) {
    if (element.textContent !== words) element.textContent = words;
  }

  const refused = () => new Set(now.entries.filter((entry) => entry.refused).map((entry) => entry.key));

  function isTyped() {
    if (now.mode === "one") return value(names.mites) !== "";
    return [...form.querySelectorAll("[data-rows] input[type=text]")].some((box) => box.value.trim());
  }

  function words(sent, waiting) {
    const refused = lists.refusedWords(now.entries);
    if (waiting || sent !== "saved") return [refused, phone.sentWords(sent, waiting, data.name)].filter(Boolean).join(" ");
    if (refused) return refused;
    if (isTyped()) return inWords("Not saved yet.");
    return kept ? phone.sentWords(sent, waiting, data.name) : "";
  }

  // Of this visit or this day: an older one stands in its list, with its day.
  function isRecent({ at }) {
    const moment = Date.parse(at);
    return moment >= opened || (moment > 0 && [day.today(), day.dayAt(Date.now())].includes(day.dayAt(moment)));
  }
  const last = () => now.items.find((item) => !item.gone && isRecent(item));

  function showLast() {
    const item = last();
    find("last-line").hidden = !item;
    const on = item && day.read(item.on) !== day.today() ? `, ${lists.dayOf(item.on)}` : "";
    text(find("last-words"), item ? `${item.words}${on}, ${lists.stateWords(item)}` : "");
    text(find("undo-what"), item ? `: ${item.words}` : "");
  }

  /* sent: how the last send went. */
  function show(sent) {
    const waiting = lists.waitingWords(now.entries);
    if (waiting) kept = true;
    seen ??= refused();
    const says = words(sent, waiting);
    text(find("sent"), says);
    find("sent").dataset.waiting = waiting || isTyped() || now.entries.length ? "yes" : "no";
    if (kept && leave) text(leave, inWords("Done"));
    showLast();
  }

  /* A refusal that is new is shown; whoever types the next number is told at the button, and led there once it is saved. */
  function goToRefused() {
    if (isTyped()) return;
    const isNew = [...refused()].some((key) => !seen.has(key));
    seen = refused();
    if (!isNew) return;
    const heading = find("refused").querySelector("h2");
    heading.scrollIntoView({ block: "start" });
    heading.focus({ preventScroll: true });
  }

  window.recount.status = { show, last, goToRefused };
})();

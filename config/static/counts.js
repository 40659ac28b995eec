/* Count forms: show what belongs to the chosen method. Without this file all is shown and what does not belong is left aside. */
(() => {
  "use strict";

  const form = document.querySelector("form[data-count]");
  if (!form) return;

  const chosen = (name) => form.querySelector(`[name="${name}"]:checked`)?.value ?? "";
  const kindOf = (method) => (["board", "drone_brood"].includes(method) ? method : "jar");

  function show() {
    const method = chosen("method");
    const way = chosen("bees_how");
    form.querySelectorAll("[data-for-kind]").forEach((part) => {
      part.hidden = !method || part.dataset.forKind !== kindOf(method);
    });
    form.querySelectorAll("[data-for-method]").forEach((part) => { part.hidden = part.dataset.forMethod !== method; });
    form.querySelectorAll("[data-for-way]").forEach((part) => {
      part.hidden = !part.dataset.forWay.split(" ").includes(way) || part.dataset.notWay === way;
    });
  }
  form.addEventListener("change", show);
  show();

  // A sheet typed at night: Enter and the arrows go up and down a column; saving is left to its button.
  const rows = form.querySelector("[data-rows]");
  if (!rows) return;
  const columns = ["-mites", "-bees"];
  rows.querySelectorAll("[data-step]").forEach((button) => { button.tabIndex = -1; });
  rows.addEventListener("keydown", (event) => {
    const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    const column = columns.find((name) => event.target.name?.endsWith(name));
    if (!step || !column) return;
    event.preventDefault();
    const boxes = [...rows.querySelectorAll(`input[name$="${column}"]`)];
    const next = boxes[boxes.indexOf(event.target) + step];
    if (next) { next.focus(); next.select(); } else if (step > 0) form.querySelector("[type=submit]").focus();
  });
})();

/* Recount. Small helps; every page works without this file. */
(() => {
  "use strict";

  const whole = (box) => (/^\s*\d+\s*$/.test(box.value) ? parseInt(box.value, 10) : null);
  const chipsOf = (box) => document.querySelector(`.chips[data-for="${box.id}"]`);

  function mark(box) {
    chipsOf(box)?.querySelectorAll("button").forEach((chip) => {
      chip.setAttribute("aria-pressed", String(whole(box) !== null && chip.dataset.set === String(whole(box))));
    });
  }

  function put(box, number) {
    box.value = String(number);
    box.dispatchEvent(new Event("input", { bubbles: true }));
    box.dispatchEvent(new Event("change", { bubbles: true }));
  }

  /* Minus, plus and quick choices of all numbers within a part of the page. */
  const steppers = (within) => within.querySelectorAll("[data-stepper]").forEach((stepper) => {
    const box = stepper.querySelector("input");
    stepper.querySelectorAll("[data-step]").forEach((button) => {
      button.hidden = false;
      button.addEventListener("click", () => {
        // An empty box is "not counted": the first press of either button makes it an explicit number.
        const step = Number(button.dataset.step);
        const now = whole(box);
        put(box, now === null ? Math.max(0, step) : Math.max(0, now + step));
      });
    });
    box.addEventListener("input", () => mark(box));
    const chips = chipsOf(box);
    if (chips) {
      chips.hidden = false;
      chips.addEventListener("click", (event) => {
        const chip = event.target.closest("[data-set]");
        if (chip) put(box, chip.dataset.set);
      });
    }
    mark(box);
  });
  steppers(document);
  window.recount = { ...window.recount, steppers };

  // Read the problems first; they link to the fields.
  document.querySelector("#problems")?.focus();

  // The account menu closes on Escape and when the focus or a tap goes elsewhere.
  document.querySelectorAll("details.account").forEach((menu) => {
    const close = (event) => { if (!menu.contains(event.target)) menu.open = false; };
    document.addEventListener("click", close);
    document.addEventListener("focusin", close);
    menu.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !menu.open) return;
      menu.open = false;
      menu.querySelector("summary").focus();
    });
  });

  // A published dose is put into its box only when somebody says so.
  document.querySelectorAll("[data-fills]").forEach((button) => {
    const box = document.getElementById(button.dataset.fills);
    if (!box) return;
    button.hidden = false;
    button.addEventListener("click", () => {
      box.value = button.dataset.with;
      box.dispatchEvent(new Event("input", { bubbles: true }));
      box.focus();
    });
  });

  document.querySelectorAll("[data-print]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  });
})();

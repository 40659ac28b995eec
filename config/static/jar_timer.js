/* A timer for the jar. It keeps the moment of its end, so that it holds over a locked screen and a reload. */
(() => {
  "use strict";

  const place = document.querySelector("[data-jar]");
  if (!place || !place.closest("[data-more]")) return;

  const NAME = "jar-until";
  const find = (name) => place.querySelector(`[data-${name}]`);
  const clock = new Intl.DateTimeFormat(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", second: "2-digit" });
  let ticking = 0;

  const until = () => Number(localStorage.getItem(NAME));

  function show() {
    const left = Math.ceil((until() - Date.now()) / 1000);
    const over = left <= 0;
    find("left").textContent = over ? inWords("Time is up") : `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`;
    const time = clock.format(until());
    find("until").textContent = over ? inWords("It ended at {time}", { time }) : inWords("It ends at {time}", { time });
    if (!over || !ticking) return;
    window.clearInterval(ticking);
    ticking = 0;
    find("rung").textContent = inWords("Jar timer: time is up.");
    try { navigator.vibrate?.([300, 150, 300]); } catch (error) { /* not allowed here: the words are enough */ }
  }

  function run() {
    window.clearInterval(ticking);
    find("rung").textContent = "";
    find("halt").hidden = false;
    ticking = window.setInterval(show, 500);
    show();
  }

  function halt() {
    window.clearInterval(ticking);
    ticking = 0;
    localStorage.removeItem(NAME);
    ["left", "until", "rung"].forEach((name) => { find(name).textContent = ""; });
    find("halt").hidden = true;
  }

  place.addEventListener("click", (event) => {
    const minutes = Number(event.target.closest("[data-minutes]")?.dataset.minutes);
    if (!minutes) return;
    localStorage.setItem(NAME, String(Date.now() + minutes * 60000));
    run();
  });
  find("halt").addEventListener("click", halt);
  if (until() > Date.now()) {
    place.open = true;
    run();
  } else localStorage.removeItem(NAME);
})();

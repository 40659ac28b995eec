/* A stopwatch beside each box of a timed trial. Without this file the minutes are typed. It survives a locked screen and a reload. */
(() => {
  "use strict";

  const trial = document.querySelector("form[data-trial]");
  if (!trial) return;

  const words = (milliseconds) => {
    const seconds = Math.max(0, Math.round(milliseconds / 1000));
    return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  };

  trial.querySelectorAll("[data-watch]").forEach((watch) => {
    const box = document.getElementById(watch.dataset.watch);
    const start = watch.querySelector("[data-start]");
    const stop = watch.querySelector("[data-stop]");
    const shown = watch.querySelector("output");
    const key = `trial-${trial.dataset.trial}-${box.id}`;
    let ticking = 0;

    const since = () => Number(sessionStorage.getItem(key));
    const show = () => { shown.textContent = words(Date.now() - since()); };

    function run() {
      start.disabled = true;
      stop.disabled = false;
      show();
      ticking = window.setInterval(show, 1000);
    }

    start.addEventListener("click", () => {
      sessionStorage.setItem(key, String(Date.now()));
      run();
      stop.focus();
    });
    stop.addEventListener("click", () => {
      box.value = words(Date.now() - since());
      sessionStorage.removeItem(key);
      window.clearInterval(ticking);
      shown.textContent = "";
      start.disabled = false;
      start.focus();
      stop.disabled = true;
    });
    watch.hidden = false;
    if (since()) run();
  });
})();

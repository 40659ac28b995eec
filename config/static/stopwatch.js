/* A stopwatch beside each box of a timed trial. Without this file the minutes are typed. It goes on while the screen is locked or the page is loaded anew. */
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
    const button = watch.querySelector("button");
    const told = watch.querySelector("[data-words]");
    const shown = watch.querySelector("output");
    const key = `trial-${trial.dataset.trial}-${box.id}`;
    let ticking = 0;

    const since = () => Number(sessionStorage.getItem(key));
    const show = () => { shown.textContent = inWords("running: {time}", { time: words(Date.now() - since()) }); };

    function run() {
      told.textContent = inWords("Stop the watch");
      show();
      ticking = window.setInterval(show, 1000);
    }

    function halt() {
      box.value = words(Date.now() - since());
      sessionStorage.removeItem(key);
      window.clearInterval(ticking);
      told.textContent = inWords("Start the watch");
      shown.textContent = "";
    }

    button.addEventListener("click", () => {
      if (since()) return halt();
      sessionStorage.setItem(key, String(Date.now()));
      return run();
    });
    watch.hidden = false;
    if (since()) run();
  });
})();

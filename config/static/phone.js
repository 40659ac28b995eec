/* What the pages for the yard have in common: how sending went, in words; keeping the page for no network; the phone's clock. */
(() => {
  "use strict";

  const { queue } = window.recount ?? {};
  if (!queue) return;

  const MINUTE = 60 * 1000;
  const SENT = (name) => ({ // what happened, and what becomes of those that wait
    saved: [inWords("All saved."), ""],
    "no-network": [inWords("No network."), inWords("They are sent when there is one.")],
    elsewhere: [inWords("The network answered in the server’s place: does it want you to sign in to it?"), inWords("Nothing is lost.")],
    "signed-out": [inWords("You are signed out."), inWords("They are sent once you sign in again on this phone.")],
    "other-person": [inWords("Somebody else is signed in on this phone."), inWords("They are sent once {name} signs in again.", { name })],
    "not-let": [inWords("The server did not let you through. Load this page anew; if that does not help, ask the keeper whether you still help here."), inWords("They stay on this phone.")],
    gone: [inWords("This page is gone, or is no longer yours to see."), inWords("They stay on this phone.")],
    busy: [inWords("The server asks to wait."), inWords("They are sent again in a while.")],
    server: [inWords("The server had a fault."), inWords("They are sent again in a while.")],
  });

  /* How the last send went; waiting: what still waits, in words, or nothing. */
  function sentWords(kind, waiting, name) {
    const [what, then] = SENT(name)[kind];
    if (!waiting) return what;
    return kind === "saved" ? `${waiting}.` : `${waiting}. ${what} ${then}`;
  }

  /* Ask the service worker to keep this page; told: hears in words whether it did. */
  async function keepPage(told) {
    if (!("serviceWorker" in navigator)) {
      told(inWords("This browser does not keep the page here: do not close it where there is no network."));
      return;
    }
    try {
      await navigator.serviceWorker.register("/worker.js");
      const { active } = await navigator.serviceWorker.ready;
      const channel = new MessageChannel();
      channel.port1.onmessage = ({ data: answer }) => told(answer.kept
        ? inWords("This page is kept on this phone: it opens without a network.")
        : inWords("This page is not kept on this phone yet: do not close it where there is no network."));
      active.postMessage({ keep: window.location.pathname }, [channel.port2]);
    } catch (error) {
      told(inWords("This page could not be kept on this phone: do not close it where there is no network."));
    }
  }

  /* How far apart two clocks are, in words; off: milliseconds. */
  function spanWords(off) {
    const minutes = Math.round(Math.abs(off) / MINUTE);
    if (minutes < 120) return inWordsMany("{n} minute", "{n} minutes", minutes);
    const hours = Math.round(minutes / 60);
    return hours < 48 ? inWordsMany("{n} hour", "{n} hours", hours) : inWordsMany("{n} day", "{n} days", Math.round(hours / 24));
  }

  /* What waits here of somebody else. */
  const othersWords = (number) => inWordsMany(
    "{n} waiting to send from another person on this phone. They go when that person signs in and opens this page.",
    "{n} waiting to send from another person on this phone. They go when that person signs in and opens this page.",
    number,
  );

  /* Send on load, when the network is back, when the page is looked at again, and every half minute. */
  function sendOften(send, back = send) {
    window.addEventListener("online", send);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) back(); });
    window.setInterval(() => { if (!document.hidden) send(); }, MINUTE / 2);
    send();
  }

  window.recount.phone = { sentWords, keepPage, spanWords, othersWords, sendOften };
})();

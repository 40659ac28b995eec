/* Signing out clears what this phone kept of the person: asked first where something was not sent. Without this file nothing is kept either. */
(() => {
  "use strict";

  const forms = document.querySelectorAll("form[data-sign-out]");
  if (!forms.length || !window.indexedDB || !window.recount?.queue) return;

  const person = Number(forms[0].dataset.signOut);
  const pagesOf = async () => ("caches" in window ? (await caches.keys()).filter((name) => name.startsWith("pages-")) : []);
  const dropPages = async (which) => Promise.all((await pagesOf()).filter(which).map((name) => caches.delete(name)));

  // Somebody else used this browser before: their pages go, what they noted stays until they are back.
  dropPages((name) => name !== `pages-${person}`).catch(() => {});

  async function unsent(form) {
    const { queue } = window.recount;
    if ((await queue.waiting(person)).length) {
      await queue.send({ person, token: () => form.querySelector("[name=csrfmiddlewaretoken]").value });
    }
    return (await queue.all(person)).length + (await queue.drafts(person)).length;
  }

  function button(words, kind, press) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = `button ${kind}`;
    made.textContent = words;
    made.addEventListener("click", press);
    return made;
  }

  function ask(number, leave) {
    const dialog = document.createElement("dialog");
    dialog.className = "ask";
    dialog.setAttribute("aria-labelledby", "ask-title");
    const title = document.createElement("h2");
    title.id = "ask-title";
    title.textContent = inWordsMany("{n} entry was not sent. Sign out all the same?", "{n} entries were not sent. Sign out all the same?", number);
    const why = document.createElement("p");
    why.textContent = inWords("What was not sent is on this phone only, and signing out throws it away. Counts can be saved as a file first, on the page of their yard.");
    const actions = document.createElement("div");
    actions.className = "actions";
    actions.append(
      button(inWords("Stay signed in"), "", () => dialog.close()),
      button(inWords("Sign out, throw them away"), "button--void", leave),
    );
    dialog.append(title, why, actions);
    dialog.addEventListener("close", () => dialog.remove());
    document.body.append(dialog);
    dialog.showModal();
  }

  async function leave(form) {
    try {
      await window.recount.queue.clear(person);
      await dropPages(() => true);
    } finally {
      form.submit();
    }
  }

  forms.forEach((form) => form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      const number = await unsent(form);
      if (number) ask(number, () => leave(form));
      else await leave(form);
    } catch (error) {
      form.submit(); // nothing can be stored in this browser, so nothing waits
    }
  }));
})();

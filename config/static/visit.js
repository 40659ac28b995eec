/* A visit at the gate with or without a network: what is typed is kept on the phone as it is typed, and a report that is kept here
   is sent once there is a network. Without this file, or where nothing can be stored, the page is the plain form. */
(() => {
  "use strict";

  const { queue, phone, visits, visitForm } = window.recount ?? {};
  if (!queue || !phone || !visits || !visitForm) return;

  const { data, page } = visits;
  const { form, typed, value, put } = visitForm;
  const WAIT = 300; // milliseconds after the last letter until what is typed is kept
  const find = (name) => document.querySelector(`[data-${name}]`);
  const draftKey = visits.draftKey(data.yard);
  const label = () => inWords("Report of {yard}, {day}", { yard: data.yard_name, day: value("visited_on") });
  let typing = 0, begun = false;

  function note(name, words) {
    find(name).textContent = words;
    find(name).hidden = !words;
  }
  const say = (words) => { find("said").textContent = words; };
  const full = () => note("problem", inWords("This phone’s storage is full: it does not keep what you type. It still stands here: make room on the phone and go on, or write it down."));

  /* ---- What is typed ---- */
  const draftOf = (boxes, words) => ({ at: Date.now(), yard: data.yard, page: window.location.pathname, own_page: data.own_page, label: words, boxes });
  async function keepDraft() {
    window.clearTimeout(typing);
    typing = 0;
    try {
      await queue.note(draftKey, draftOf(typed(), label()));
      note("problem", "");
    } catch (error) {
      full();
    }
  }
  const soon = () => { if (!begun) return; window.clearTimeout(typing); typing = window.setTimeout(keepDraft, WAIT); };
  const dropDraft = () => { window.clearTimeout(typing); typing = 0; return queue.note(draftKey, null); };

  const dayAt = (moment) => dayInWords(new Date(`${new Intl.DateTimeFormat("en-CA", { year: "numeric", month: "2-digit", day: "2-digit", timeZone: data.zone }).format(moment)}T12:00Z`));

  // A day that is named by its distance from today is another one when it is sent later.
  function settleDays() {
    const days = { today: 0, yesterday: 1, [inWords("today")]: 0, [inWords("yesterday")]: 1 };
    const back = days[value("visited_on").toLowerCase()];
    if (back !== undefined) put("visited_on", dayAt(Date.now() - back * 24 * 60 * 60 * 1000));
  }

  async function fresh() {
    put("entry_key", queue.newKey()); // a kept page is opened many times
    put("visited_on", dayAt(Date.now() + ((await queue.known("clock")) ?? 0)));
    visitForm.showLot();
  }

  /* ---- Look over the answers, keep them ---- */
  function showProblems(found) {
    const part = find("wrong");
    part.hidden = !found.length;
    const title = Object.assign(document.createElement("h2"), { id: "wrong-title", textContent: inWords("There is a problem") });
    const list = document.createElement("ul");
    list.append(...found.map(([box, words]) => {
      const item = document.createElement("li");
      const link = document.createElement("a");
      link.href = `#${box?.id ?? ""}`;
      link.textContent = words;
      link.addEventListener("click", (event) => {
        event.preventDefault();
        box?.closest("details")?.setAttribute("open", "");
        box?.focus();
      });
      item.append(link);
      return item;
    }));
    part.replaceChildren(title, list);
    if (found.length) { part.focus(); part.scrollIntoView({ block: "start" }); }
  }

  function listOf([heading, lines]) {
    const title = document.createElement("h3");
    title.textContent = heading;
    const list = document.createElement("dl");
    list.className = "facts";
    lines.forEach(([name, words]) => ["dt", "dd"].forEach((tag, place) => {
      const made = document.createElement(tag);
      made.textContent = place ? words : name;
      list.append(made);
    }));
    return [title, list];
  }

  function tells() {
    const suspected = visitForm.suspected();
    const made = suspected.map(({ disease, colony }) => {
      const template = document.querySelector(`template[data-tell="${CSS.escape(disease)}"]`);
      const copy = template.content.cloneNode(true);
      if (colony) copy.querySelector("strong").textContent = inWords("Suspected in colony {colony}: {disease}", { colony, disease: template.dataset.name });
      return copy;
    });
    return made.length ? [...made, find("tell-until").content.cloneNode(true)] : [];
  }

  function show(what) {
    find("gate").hidden = what !== "form";
    find("check").hidden = what !== "check";
    if (what === "check") { find("check").querySelector("h2").focus(); window.scrollTo(0, 0); }
  }

  function check() {
    settleDays();
    const found = visitForm.problems();
    showProblems(found);
    if (found.length) { say(found[0][1]); return; }
    find("tells").replaceChildren(...tells());
    find("answers").replaceChildren(...visitForm.answers().flatMap(listOf));
    show("check");
  }

  async function keep() {
    const { entry_key: key, ...rest } = typed();
    const entry = {
      person: data.person, url: data.url, kind: "visit", page: window.location.pathname, own_page: data.own_page, label: label(),
      body: { v: data.v, planned: data.planned, at: new Date().toISOString(), boxes: rest },
    };
    try {
      await queue.add({ ...entry, key });
    } catch (error) {
      if (error?.name !== "ConstraintError") { full(); say(inWords("Not kept.")); return; }
      if (!(await queue.mend(key, entry))) {
        note("problem", inWords("This report was kept before, perhaps in another tab, and may have been sent. Correct it on its page once it is recorded."));
        return;
      }
    }
    note("problem", "");
    await dropDraft().catch(() => {});
    begun = false;
    say(inWords("{entry}. Stored on this phone, waiting to send.", { entry: entry.label }));
    await visits.render();
    document.querySelector("#waiting-title")?.focus();
    navigator.storage?.persist?.().catch(() => {});
    visits.send();
  }

  /* With a network the server looks over the answers; without one this page does. */
  async function submit(event) {
    event.preventDefault();
    if (event.submitter?.value === "more") { visitForm.addAllRows(); soon(); return; }
    settleDays();
    await keepDraft();
    say(inWords("Asking the server…"));
    if ((await visits.askServer(data.url)) !== "saved") { check(); return; }
    const token = queue.cookie(data.cookie); // of a kept page the written one may be old
    if (token) form.querySelector("[name=csrfmiddlewaretoken]").value = token;
    const step = Object.assign(document.createElement("input"), { type: "hidden", name: "step", value: "check" });
    form.append(step);
    form.submit();
  }

  /* ---- Back from the list: a report to change or to mend ---- */
  function askFirst(begunOne, goOn) {
    const dialog = document.createElement("dialog");
    dialog.className = "ask";
    dialog.setAttribute("aria-labelledby", "ask-title");
    const title = visits.said(inWords("{entry}: begun, not kept yet.", { entry: begunOne.label }), "h2");
    title.id = "ask-title";
    const actions = document.createElement("div");
    actions.className = "actions";
    actions.append(
      visits.button(inWords("Keep it"), "keep", () => dialog.close(), ""),
      visits.button(inWords("Throw it away"), "drop", () => { dialog.close(); goOn(); }, "button--void"),
    );
    dialog.append(title, visits.said(inWords("This throws the whole report away. There is no other copy of it.")), actions);
    dialog.addEventListener("close", () => dialog.remove());
    document.body.append(dialog);
    dialog.showModal();
  }

  // One report is typed at a time: what is begun under another key gives way only to somebody who says so.
  async function mend(entry, sure = false) {
    if (typing) await keepDraft();
    let draft = await queue.known(draftKey);
    const same = draft?.boxes.entry_key === entry.key;
    if (draft && !same && !sure) { askFirst(draft, () => mend(entry, true)); return; }
    if (!same || !entry.refused) {
      draft = draftOf({ ...entry.body.boxes, entry_key: entry.key }, entry.label);
      try {
        if (entry.refused) await queue.note(draftKey, draft);
        else if (!(await queue.reopen(entry.key, draftKey, draft))) { await visits.render(); return; }
      } catch (error) {
        full();
        return;
      }
    }
    window.clearTimeout(typing);
    typing = 0;
    await load(draft.boxes);
    show("form");
    await visits.render();
    const [[anchor] = []] = entry.asked?.problems ?? [];
    const box = anchor ? document.getElementById(anchor) : null;
    box?.closest("details")?.setAttribute("open", "");
    (box ?? form.querySelector("h2")).focus();
  }

  async function load(boxes) {
    visitForm.fill(boxes);
    begun = true;
  }

  // While a report of this plan waits here, a second one would only be refused.
  page.shown = (entries, saved) => {
    const same = (entry) => entry.url === data.url && entry.body.planned === data.planned;
    const waits = entries.some((entry) => same(entry) && !entry.refused);
    if (waits || [...saved.values()].some(same)) { find("gate").hidden = true; find("check").hidden = true; } else if (find("check").hidden) find("gate").hidden = false;
  };
  page.mend = mend;

  function hear() {
    form.addEventListener("input", soon);
    form.addEventListener("change", (event) => { soon(); if (event.target.name === "colonies_present") visitForm.showLot(); });
    form.addEventListener("submit", submit);
    ["pagehide", "visibilitychange"].forEach((name) => window.addEventListener(name, () => { if (typing) keepDraft(); }, true));
    find("keep").addEventListener("click", keep);
    find("change").addEventListener("click", () => { show("form"); form.querySelector("h2").focus(); });
    find("anew").addEventListener("click", () => { find("sure-anew").hidden = false; find("sure-anew").querySelector("button").focus(); });
    find("anew-no").addEventListener("click", () => { find("sure-anew").hidden = true; find("anew").focus(); });
    find("anew-yes").addEventListener("click", async () => { begun = false; await dropDraft(); window.location.reload(); });
    const lot = document.querySelector("form.how-many");
    lot?.addEventListener("submit", (event) => { event.preventDefault(); put("colonies_present", lot.elements.present.value.trim()); visitForm.showLot(); soon(); });
    lot?.querySelector("a")?.addEventListener("click", (event) => { if (visitForm.drawAnew()) { event.preventDefault(); soon(); } });
  }

  async function begin() {
    let draft = null;
    try {
      draft = await queue.known(draftKey);
    } catch (error) {
      note("problem", inWords("This browser stores nothing here (a private window?): what you type goes straight to the server, and needs a network."));
      return;
    }
    hear();
    if ("sentBefore" in form.dataset) {
      begun = true;
      await keepDraft();
    } else if (draft) {
      await load(draft.boxes);
      find("again").hidden = false;
    } else await fresh();
    begun = true;
    await visits.render();
    form.dataset.ready = "";
    phone.keepPage((words) => { find("kept").textContent = words; });
  }

  begin();
})();

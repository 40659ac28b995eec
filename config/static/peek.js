/* What a figure rests on, shown beside it on hover and focus. Without this file a press opens it in the middle. */
(() => {
  "use strict";

  const GAP = -1; // no gap, so that the pointer can go over to the words
  const more = (peek) => document.getElementById(peek.getAttribute("popovertarget") ?? peek.dataset.more);
  let pressed = null;

  function place(peek, box) {
    const at = peek.getBoundingClientRect();
    const own = box.getBoundingClientRect();
    const below = at.bottom + GAP + own.height <= window.innerHeight || at.top < own.height + GAP;
    box.style.margin = "0";
    box.style.top = `${Math.max(6, below ? at.bottom + GAP : at.top - own.height - GAP)}px`;
    box.style.left = `${Math.max(6, Math.min(at.left, document.documentElement.clientWidth - own.width - 6))}px`;
  }

  function open(peek) {
    const box = more(peek);
    if (!box?.showPopover || box.matches(":popover-open")) return;
    box.showPopover();
    place(peek, box);
  }

  function shut(peek) {
    const box = more(peek);
    if (box?.hidePopover && box.matches(":popover-open")) box.hidePopover();
    if (pressed === peek) pressed = null;
  }

  // Where a year is wider than the window, its last months are what one came for.
  document.querySelectorAll(".heat-wrap").forEach((wrap) => { wrap.scrollLeft = wrap.scrollWidth; });

  // The slider tells its month before it is sent.
  const slider = document.querySelector("[data-months]");
  const told = slider?.form.querySelector("output");
  slider?.addEventListener("input", () => {
    told.value = monthInWords(new Date(Date.UTC(told.dataset.year, slider.value - 1, 15)));
    slider.setAttribute("aria-valuetext", told.value);
  });

  document.querySelectorAll(".peek, .map-area").forEach((peek) => {
    peek.addEventListener("mouseenter", () => open(peek));
    peek.addEventListener("focus", () => { if (peek.matches(":focus-visible")) open(peek); });
    peek.addEventListener("blur", () => shut(peek));
    peek.addEventListener("mouseleave", (event) => {
      // The pointer may go over to the words; a press keeps them.
      if (pressed !== peek && !more(peek).contains(event.relatedTarget)) shut(peek);
    });
    more(peek)?.addEventListener("mouseleave", () => { if (pressed !== peek) shut(peek); });
    // A press on the map goes to the area's line of the table.
    if (peek.matches(".map-area")) return;
    peek.addEventListener("click", (event) => {
      // Open already, by hover or focus: a press keeps it open, a second one shuts it.
      event.preventDefault();
      if (pressed === peek) { shut(peek); return; }
      open(peek);
      pressed = peek;
    });
  });
})();

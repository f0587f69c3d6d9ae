/* What of a step has been on the screen. Nothing is confirmed that nobody could read: on a phone a step with many
   hazards is longer than the screen, and the first press brings the rest into sight.

   The page draws itself anew again and again: what was seen is known by its words, under data-see. */
const EDGE = 1;
const GAP = 6;

export class Seen {
  constructor(root, end) {
    this.root = root;
    this.end = end;
    this.tops = new Set();
    this.bottoms = new Set();
  }

  /* Everything to be read for these steps: what holds for the stage, and what stands at each. */
  #about(items) {
    const ids = new Set(items.map((item) => item.id));
    return [...this.root.querySelectorAll("[data-see]")].filter((part) => {
      if (!part.getClientRects().length) return false;
      const step = part.closest("[data-item]");
      return !step || ids.has(step.dataset.item);
    });
  }

  /* Keep in mind what is in sight now, between the top of the window and the buttons. */
  look() {
    const end = this.end();
    for (const part of this.root.querySelectorAll("[data-see]")) {
      const { top, bottom } = part.getBoundingClientRect();
      if (top === bottom) continue;
      if (top >= -EDGE && top <= end) this.tops.add(part.dataset.see);
      if (bottom >= 0 && bottom <= end + EDGE) this.bottoms.add(part.dataset.see);
    }
  }

  #isSeen(part) {
    return this.tops.has(part.dataset.see) && this.bottoms.has(part.dataset.see);
  }

  /* What of these steps has not been in sight yet. */
  rest(items) {
    return this.#about(items).filter((part) => !this.#isSeen(part));
  }

  /* Bring what was not in sight there: all of it where there is room, else the first of it at the top; a thing
     that is longer than the window goes by a window. */
  bring(rest) {
    const [first] = rest;
    const end = this.end();
    const { top } = first.getBoundingClientRect();
    const { bottom } = rest.at(-1).getBoundingClientRect();
    const before = scrollY;
    const isBegun = this.tops.has(first.dataset.see) && top <= GAP + EDGE;
    const down = top >= 0 ? Math.min(top - GAP, bottom - end + GAP) : top - GAP;
    scrollBy({ top: isBegun ? end * 0.85 : down, behavior: "instant" });
    this.look();
    if (Math.abs(scrollY - before) < 1) {
      // There is no further to go: what can be shown is shown.
      this.tops.add(first.dataset.see);
      this.bottoms.add(first.dataset.see);
    }
  }
}

/** Where the keys stand among the cards of a review, and the way from one to the next that nobody looked at. */

/** @param {HTMLElement} stop */
export const nameOf = (stop) => stop.dataset.part ?? `group:${stop.dataset.section}`;
/** @param {HTMLElement} card */
export const isOpen = (card) => card.dataset.state === "open" || card.dataset.state === "again";
/** @param {HTMLElement} stop */
export const waits = (stop) => stop.dataset.part ? isOpen(stop) : [...stop.querySelectorAll(".card")].some((c) => isOpen(/** @type {HTMLElement} */ (c)));

export class Walk {
  /**
   * @param {HTMLElement} root
   * @param {(t_s: number, rep: number | null, card: HTMLElement | null) => void} seek shows a card's moment
   * @param {() => void} out where to go once all is read
   */
  constructor(root, seek, out) {
    this.root = root;
    this.seek = seek;
    this.out = out;
    /** the part, or "group:section", that keys act on */
    this.current = "";
  }

  /** Every card, and before those that are kept as a paragraph their group. @returns {HTMLElement[]} */
  stops() {
    const found = [];
    for (const group of document.querySelectorAll("#review-cards .group")) {
      if (group.querySelector("[data-keep-all]")) found.push(/** @type {HTMLElement} */ (group));
      found.push(.../** @type {HTMLElement[]} */ ([...group.querySelectorAll(".card")]));
    }
    const spare = document.querySelector("#review-cards details.spare[open]");
    if (spare) found.push(.../** @type {HTMLElement[]} */ ([...spare.querySelectorAll(".card")]));
    return found;
  }

  /** @returns {HTMLElement | undefined} */
  here() { return this.stops().find((s) => nameOf(s) === this.current); }

  /** The current card, where it is one. @returns {HTMLElement | null} */
  card() {
    const found = this.here();
    return found?.dataset.part ? found : null;
  }

  /** @param {HTMLElement | undefined} stop @param {{look?: boolean, focus?: boolean}} [how] */
  goTo(stop, how = {}) {
    for (const old of this.root.querySelectorAll(".current")) { old.classList.remove("current"); old.removeAttribute("aria-current"); }
    if (!stop) { this.current = ""; return; }
    this.current = nameOf(stop);
    stop.classList.add("current");
    stop.setAttribute("aria-current", "true");
    if (how.focus !== false) {
      const target = stop.dataset.part ? stop : /** @type {HTMLElement} */ (stop.querySelector("[data-keep-all]"));
      target.focus({ preventScroll: true });
      this.bring(stop);
    }
    if (how.look && stop.dataset.t) this.seek(Number(stop.dataset.t), Number(stop.dataset.rep) || null, stop);
  }

  /** Bring something into view in its own column: the picture beside it stays where it is. @param {HTMLElement} what */
  bring(what) {
    const column = /** @type {HTMLElement} */ (this.root.closest(".desk-review"));
    if (column.scrollHeight <= column.clientHeight + 2) {
      what.scrollIntoView({ block: what.clientHeight > innerHeight * 0.7 ? "start" : "nearest", behavior: "instant" });
      return;
    }
    const box = what.getBoundingClientRect(), frame = column.getBoundingClientRect();
    const top = Math.max(frame.top, 0) + (document.querySelector(".gate")?.clientHeight ?? 0) + 12;
    const bottom = Math.min(frame.bottom, innerHeight) - 24;
    if (box.top < top || box.height > bottom - top) column.scrollTop += box.top - top;
    else if (box.bottom > bottom) column.scrollTop += box.bottom - bottom;
  }

  /** @param {number} step */
  move(step) {
    const all = this.stops();
    const at = all.findIndex((s) => nameOf(s) === this.current);
    this.goTo(all[at < 0 ? 0 : Math.max(0, Math.min(all.length - 1, at + step))], { look: true });
  }

  /** Go on to the next that nobody looked at; where all is read, to the way out. */
  advance() {
    const all = this.stops();
    const at = all.findIndex((s) => nameOf(s) === this.current);
    const from = all[at];
    const inside = from?.dataset.part && from.closest(".group")?.querySelector("[data-keep-all]") ? from.closest(".group") : null;
    const usable = all.filter((s) => {
      if (s.closest(".spare")) return false;
      const whole = s.dataset.part ? s.closest(".group")?.querySelector("[data-keep-all]") : null;
      if (!s.dataset.part) return s !== inside;
      return !whole || s.closest(".group") === inside;
    });
    const order = [...usable.filter((s) => all.indexOf(s) > at), ...usable.filter((s) => all.indexOf(s) < at)];
    const next = order.find(waits) ?? all.find((s) => !s.closest(".spare") && waits(s));
    if (next) { this.goTo(next, { look: true }); return; }
    this.goTo(undefined);
    this.out();
  }
}

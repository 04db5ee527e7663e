/** The order of cards within a section: by drag (pointer events, so that a finger can do it too) or step by step. */

export class Order {
  /**
   * @param {HTMLElement} root
   * @param {(section: string, parts: (string | undefined)[]) => void} keep
   * @param {(card: HTMLElement) => void} goTo
   */
  constructor(root, keep, goTo) {
    this.keep = keep;
    this.goTo = goTo;
    /** the card that is being moved @type {HTMLElement | null} */
    this.moving = null;
    root.addEventListener("pointerdown", (event) => this._down(event));
  }

  /** @param {HTMLElement} card @param {number} step */
  shift(card, step) {
    const stack = card.closest("[data-order]");
    const cards = [...stack?.querySelectorAll(".card") ?? []];
    const to = cards.indexOf(card) + step;
    if (!stack || to < 0 || to >= cards.length) return;
    step < 0 ? cards[to].before(card) : cards[to].after(card);
    this._kept(/** @type {HTMLElement} */ (stack));
    this.goTo(card);
  }

  /** @param {HTMLElement} stack */
  _kept(stack) {
    this.keep(stack.dataset.order ?? "", [...stack.querySelectorAll(".card")].map((c) => /** @type {HTMLElement} */ (c).dataset.part));
  }

  /** @param {PointerEvent} event */
  _down(event) {
    const handle = event.target instanceof Element ? /** @type {HTMLElement | null} */ (event.target.closest(".handle")) : null;
    if (!handle || event.button) return;
    event.preventDefault();
    const card = /** @type {HTMLElement} */ (handle.closest(".card")), stack = /** @type {HTMLElement} */ (card.closest("[data-order]"));
    this.moving = card;
    card.classList.add("dragged");
    const before = [...card.parentElement?.children ?? []];
    const moved = (/** @type {PointerEvent} */ at) => {
      const over = document.elementFromPoint(at.clientX, at.clientY)?.closest(".card");
      if (!over || over === card || over.parentElement !== stack) return;
      const box = over.getBoundingClientRect();
      at.clientY < box.top + box.height / 2 ? over.before(card) : over.after(card);
    };
    const ended = () => {
      removeEventListener("pointermove", moved);
      removeEventListener("pointerup", ended);
      removeEventListener("pointercancel", ended);
      card.classList.remove("dragged");
      this.moving = null;
      if ([...stack.children].some((c, k) => c !== before[k])) this._kept(stack);
      this.goTo(card);
    };
    addEventListener("pointermove", moved);
    addEventListener("pointerup", ended);
    addEventListener("pointercancel", ended);
  }
}

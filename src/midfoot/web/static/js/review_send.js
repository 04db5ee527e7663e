/**
 * What the coach did, on its way to the desk. It is written down in this browser first, sent in order, and sent again
 * until the desk has confirmed it: nothing is lost with a page that closes or a desk that does not answer.
 */

import { Refused, post } from "./api.js";

/** @typedef {{id: string, address: string, body: any}} Doing */

/** A name that no other request has; works without a secure context. @param {number} [bytes] */
export function newName(bytes = 6) {
  return [...crypto.getRandomValues(new Uint8Array(bytes))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

export class Sender {
  /**
   * @param {string} setId
   * @param {{state: (state: any) => void, refused: (why: Refused, doing: Doing) => void, waiting: (count: number, gone: boolean) => void}} hear
   */
  constructor(setId, hear) {
    this.base = `/sets/${setId}`;
    this.place = `midfoot.review.${setId}`;
    this.hear = hear;
    /** @type {Doing[]} */
    this.queue = this.kept();
    this.busy = false;
    this.tries = 0;
    this.timer = 0;
    addEventListener("online", () => this.flush());
    if (this.queue.length) this.flush();
  }

  /** @returns {Doing[]} */
  kept() {
    try { return JSON.parse(localStorage.getItem(this.place) ?? "[]"); } catch { return []; }
  }

  keep() {
    try { this.queue.length ? localStorage.setItem(this.place, JSON.stringify(this.queue)) : localStorage.removeItem(this.place); } catch { /* for this page only */ }
  }

  /** @param {string} address beneath the set @param {any} body */
  push(address, body) {
    this.queue.push({ id: newName(), address, body });
    this.keep();
    this.hear.waiting(this.queue.length, this.tries > 0);
    return this.flush();
  }

  async flush() {
    if (this.busy) return;
    this.busy = true;
    clearTimeout(this.timer);
    while (this.queue.length) {
      const doing = this.queue[0];
      let state = null;
      try {
        state = await post(this.base + doing.address, doing.body, { quiet: true });
      } catch (error) {
        const status = error instanceof Refused ? error.status : 0;
        if (status === 0 || status === 429 || status >= 500) {
          this.tries += 1;
          this.hear.waiting(this.queue.length, true);
          this.timer = setTimeout(() => this.flush(), Math.min(15000, 500 * 2 ** this.tries));
          break;
        }
        this.queue.shift();
        this.keep();
        this.hear.refused(/** @type {Refused} */ (error), doing);
        continue;
      }
      this.tries = 0;
      this.queue.shift();
      this.keep();
      this.hear.waiting(this.queue.length, false);
      this.hear.state(state);
    }
    this.busy = false;
  }
}

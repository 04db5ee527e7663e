/** The set over time: phases, reps with their parts, findings, marks and repairs; one slider that is dragged. */

const SNAP_PX = 7;

export class Timeline {
  /** @param {HTMLElement} box @param {import("./player.js").Player} player */
  constructor(box, player) {
    this.box = box;
    this.player = player;
    this.seconds = player.clock.duration;
    /** @type {import("./scene.js").Scene | null} */ this.scene = null;
    /** @type {any[]} */ this.marks = [];
    /** @type {any[]} */ this.repairs = [];
    /** @type {[number, number] | null} */ this.trim = null;
    /** @type {((ends: [number, number]) => void) | null} */ this.onTrim = null;
    /** @type {{at_s: number, move: (t_s: number) => void} | null} */ this.moment = null;
    this.head = this._bit("tl-head");
    /** @type {((id: string, at_s: number) => void) | null} */ this.onFinding = null;
    box.setAttribute("aria-valuemax", this.seconds.toFixed(2));
    box.addEventListener("pointerdown", (e) => this._down(e));
    box.addEventListener("keydown", (e) => this._key(e));
    this.draw();
  }

  /** @param {string} kind @param {number} [from] @param {number} [to] @param {string} [words] */
  _bit(kind, from, to, words) {
    const bit = document.createElement("span");
    bit.className = kind;
    if (from !== undefined) bit.style.left = `${100 * from / this.seconds}%`;
    if (from !== undefined && to !== undefined) bit.style.width = `${100 * Math.max(0, to - from) / this.seconds}%`;
    if (words) { bit.textContent = words; bit.title = words; }
    return bit;
  }

  draw() {
    const bits = [], raw = this.scene?.raw;
    if (raw) {
      for (const p of raw.phases) if (p.end_s > p.start_s) bits.push(this._bit("tl-phase", p.start_s, p.end_s, ["descent", "low", "ascent", "top", "lowering"].includes(p.kind) || (p.end_s - p.start_s) * this.box.clientWidth / this.seconds < 5.5 * p.words.length ? "" : p.words));
      for (const r of raw.reps) {
        const words = `rep ${r.n}${r.outcome === "completed" ? "" : `, ${r.outcome.replace("_", " ")}`}`;
        const bit = this._bit("tl-rep", r.start_s, r.end_s, words);
        if ((r.end_s - r.start_s) * this.box.clientWidth / this.seconds < 44) bit.textContent = String(r.n);
        bit.dataset.rep = r.n;
        bits.push(bit);
        for (const p of r.parts) bits.push(this._bit(`tl-part tl-${p.part}`, p.start_s, p.end_s));
      }
      for (const f of raw.findings) for (const t of f.at_s) bits.push(this._bit("tl-finding", t));
      if (raw.from_s !== null && raw.from_s !== undefined) bits.push(this._bit("tl-outside", 0, raw.from_s));
      if (raw.to_s !== null && raw.to_s !== undefined) bits.push(this._bit("tl-outside", raw.to_s, this.seconds));
    }
    for (const m of this.marks) bits.push(this._bit("tl-mark", m.t_s ?? m.at_s));
    for (const r of this.repairs) if (!r.undone && r.body.at_s !== undefined) bits.push(this._bit("tl-repair", r.body.at_s / this.player.clock.speed));
    if (this.moment) bits.push(this._bit("tl-moment", this.moment.at_s));
    if (this.trim) {
      bits.push(this._bit("tl-outside", 0, this.trim[0]), this._bit("tl-outside", this.trim[1], this.seconds));
      for (const end of this.trim) bits.push(this._bit("tl-trim", end));
    }
    const span = this.player.span;
    if (span) bits.push(this._bit("tl-loop", this.player.clock.timeOf(span.a), this.player.clock.timeOf(span.b)));
    this.box.replaceChildren(...bits, this.head);
    this.follow(this.player.time);
  }

  /** @param {number} t_s @param {string} [words] */
  follow(t_s, words) {
    this.head.style.left = `${100 * Math.min(1, t_s / this.seconds)}%`;
    const rep = this.scene?.repAt(t_s);
    for (const bit of this.box.querySelectorAll(".tl-rep")) bit.classList.toggle("current", !!rep && /** @type {HTMLElement} */ (bit).dataset.rep === String(rep.n));
    this.box.setAttribute("aria-valuenow", t_s.toFixed(2));
    this.box.setAttribute("aria-valuetext", `${t_s.toFixed(2)} seconds${words ? `, ${words}` : ""}`);
  }

  /** @param {number} x */
  _at(x) {
    const box = this.box.getBoundingClientRect();
    return Math.max(0, Math.min(1, (x - box.left) / box.width)) * this.seconds;
  }

  /** @param {PointerEvent} event */
  _down(event) {
    event.preventDefault();
    this.box.focus({ preventScroll: true });
    this.box.setPointerCapture(event.pointerId);
    const px = this.box.getBoundingClientRect().width / this.seconds, t = this._at(event.clientX);
    const near = (/** @type {number} */ at) => Math.abs(at - t) * px <= SNAP_PX;
    const end = this.trim ? [0, 1].find((k) => near(/** @type {number[]} */ (this.trim)[k])) : undefined;
    const moment = !this.trim && this.moment && near(this.moment.at_s) ? this.moment : null;
    this.player.pause();
    const go = (/** @type {number} */ x) => {
      const frame = this.player.clock.frameOf(this._at(x)), at = this.player.clock.timeOf(frame);
      if (end !== undefined && this.trim) { this.trim[end] = at; this.onTrim?.(this.trim); this.draw(); }
      if (moment) { moment.move(at); this.draw(); }
      this.player.show(frame);
    };
    const finding = this._finding(t, SNAP_PX / px);
    if (end === undefined && !moment && finding) this.onFinding?.(finding.id, finding.at_s);
    else go(event.clientX);
    const move = (/** @type {PointerEvent} */ e) => go(e.clientX);
    const up = () => { this.box.removeEventListener("pointermove", move); this.box.removeEventListener("pointerup", up); this.box.removeEventListener("pointercancel", up); };
    this.box.addEventListener("pointermove", move);
    this.box.addEventListener("pointerup", up);
    this.box.addEventListener("pointercancel", up);
  }

  /** @param {number} t @param {number} reach */
  _finding(t, reach) {
    let best = null;
    for (const f of this.scene?.raw.findings ?? []) {
      for (const at_s of f.at_s) if (Math.abs(at_s - t) <= reach && (!best || Math.abs(at_s - t) < Math.abs(best.at_s - t))) best = { id: f.id, at_s };
    }
    return best;
  }

  /** As sliders go: arrows up and down a second, pages ten; left and right are frames everywhere. @param {KeyboardEvent} event */
  _key(event) {
    const by = { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
    if (by === undefined || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    this.player.pause();
    this.player.seek(this.player.time + by);
  }
}

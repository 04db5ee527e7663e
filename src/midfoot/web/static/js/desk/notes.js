/** What the player did during a take, on the take's own clock: events, and which frames came to stand. */

/** The picture may start late or stumble while the player's clock runs on: where so many frames in turn come so much
 * beside what was noted last, what came to stand is noted, from the first of them on. */
const APART_MS = 15, IN_TURN = 4;
/** @param {number} s @param {number} digits */
export const round = (s, digits = 4) => Number(s.toFixed(digits));

export class Notes {
  /** @param {import("./player.js").Player} player @param {any} overlay @param {() => boolean} live whether a take is recorded */
  constructor(player, overlay, live) {
    this.player = player;
    this.overlay = overlay;
    this.live = live;
    this.begun = 0;
    /** @type {any[]} */ this.events = [];
    /** @type {{by: number, at_s: number}[]} frames in turn that came beside what was noted, ms */ this.apart = [];
    const p = player;
    p.on("play", () => this.note("play"));
    p.on("pause", () => this.note("pause"));
    p.on("wanted", () => { if (!p.playing) this.note("seek"); });
    p.on("rate", () => this.note("rate"));
    p.on("frame", (/** @type {any} */ frame) => this.anew(frame));
    p.on("overlays", () => this.note("layers", { layers: this.layers() }));
    document.addEventListener("desk:mark-made", (event) => {
      const d = /** @type {CustomEvent} */ (event).detail;
      if (d.cancelled || !d.points_px) return;
      this.note("mark", { mark: { id: `v${this.events.length}`, meaning: d.meaning, at_s: d.t_s, rep: d.rep, points_px: d.points_px } });
    });
  }

  /** Begin with what stands in the player. @param {number} begun_ms the take's zero on the page's clock */
  begin(begun_ms) {
    this.begun = begun_ms;
    this.events = [];
    const t = round(Math.max(0, this.player.time));
    this.note("seek"); this.note("layers", { layers: this.layers() });
    this.events = this.events.map((e) => ({ ...e, at_s: 0, t_s: t }));
    if (this.player.playing) this.events.push({ kind: "play", at_s: 0, t_s: t, rate: this.player.rate });
  }

  layers() { return Object.entries(this.overlay.layers).filter(([, on]) => on).map(([name]) => name); }

  /** @param {string} kind @param {any} [more] */
  note(kind, more = {}) {
    if (!this.live()) return;
    const t = this.player.playing ? this.player.running : this.player.time;
    const at_s = Math.max((performance.now() - this.begun) / 1000, this.events.at(-1)?.at_s ?? 0); // in their order
    this.apart = [];
    this.events.push({ kind, at_s: round(at_s), t_s: round(Math.max(0, t)), rate: this.player.rate, ...more });
  }

  /** Note which frames came to stand, when they are not those that would by what was noted last.
   * @param {{t_s: number, at_ms: number}} frame */
  anew(frame) {
    const last = this.events.at(-1), p = this.player, at_s = (frame.at_ms - this.begun) / 1000;
    if (!this.live() || !last || at_s <= last.at_s) return;
    if (!p.playing) { // what was sought stands from now on, not from when it was asked for
      if (last.kind === "seek" && Math.abs(last.t_s - frame.t_s) < 1e-3 && last.at_s > 0) last.at_s = round(at_s);
      return;
    }
    const by = 1000 * ((frame.t_s - last.t_s) / p.rate - (at_s - last.at_s));
    if (Math.abs(by) <= APART_MS || by * (this.apart[0]?.by ?? by) < 0) this.apart = [];
    if (Math.abs(by) > APART_MS) this.apart.push({ by, at_s });
    if (this.apart.length < IN_TURN) return;
    const middle = this.apart.map((one) => one.by).sort((a, b) => a - b)[IN_TURN >> 1], first = this.apart[0].at_s;
    const t = last.t_s + p.rate * (first - last.at_s + middle / 1000);
    this.events.push({ kind: "rate", at_s: round(first), t_s: round(Math.max(0, t)), rate: p.rate });
    this.apart = [];
  }
}

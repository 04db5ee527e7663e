/** Evidence over the picture: thin lines, only the current rep and what the moment shows. */

import { said } from "./scene.js";

const BODY = "#f5f0e2", EVIDENCE = "#e89f24", BAR = "#8cc4ea", HALO = "rgb(20 24 30 / .85)", PAPER = "rgb(250 248 242 / .86)", INK = "#242c36";
const LEAST_MM = 5, MARK_REACH_S = 0.06, LEVEL_REACH_S = 0.35;
export const LAYERS = ["evidence", "path", "body", "arms", "vertical"];

export class Overlay {
  /** @param {HTMLCanvasElement} canvas @param {HTMLElement} picture */
  constructor(canvas, picture) {
    this.canvas = canvas;
    this.picture = picture;
    this.ink = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    /** @type {import("./scene.js").Scene | null} */ this.scene = null;
    /** @type {[number, number]} */ this.size = [16, 9];
    /** @type {Record<string, boolean>} */ this.layers = { evidence: true };
    /** @type {any[]} moments with arms */ this.arms = [];
    /** @type {any[]} the review's marks */ this.marks = [];
    /** @type {any[]} marks shown with a part */ this.pointed = [];
    this.finding = "";
    /** @type {[number, number][]} */ this.points = [];
    /** @type {[number, number] | null} */ this.cursor = null;
    this.t_s = 0;
    this.reach = 0.02;
    new ResizeObserver(() => this.draw()).observe(picture);
  }

  /** Width and height of the upright clip as measured, px. @param {number} width @param {number} height */
  fit(width, height) {
    this.size = [width, height];
    this.picture.style.aspectRatio = `${width} / ${height}`;
    this.picture.closest(".stages")?.classList.toggle("upright", width < height);
    this.picture.style.maxWidth = `calc(var(--most) * ${width / height})`;
    this.draw();
  }

  /** A place on the page in px of the clip. @param {{clientX: number, clientY: number}} event @returns {[number, number]} */
  spot(event) {
    const box = this.canvas.getBoundingClientRect();
    const clip = (/** @type {number} */ v, /** @type {number} */ most) => Math.max(0, Math.min(most - 1, v));
    return [clip((event.clientX - box.left) / box.width * this.size[0], this.size[0]), clip((event.clientY - box.top) / box.height * this.size[1], this.size[1])];
  }

  /** @param {number} [t_s] */
  draw(t_s) {
    if (t_s !== undefined) this.t_s = t_s;
    const box = this.picture.getBoundingClientRect(), dpr = Math.min(2, devicePixelRatio || 1);
    const width = Math.round(box.width * dpr), height = Math.round(box.height * dpr);
    if (!width || !height) return;
    if (this.canvas.width !== width || this.canvas.height !== height) { this.canvas.width = width; this.canvas.height = height; }
    const c = this.ink;
    c.setTransform(dpr, 0, 0, dpr, 0, 0);
    c.clearRect(0, 0, box.width, box.height);
    this.zoom = box.width / this.size[0];
    this.wide = box.width; this.high = box.height;
    this.type = Math.max(12, Math.min(15, box.width / 46));
    c.lineJoin = c.lineCap = "round";
    /** @type {[number, number, number, number][]} */ this._taken = [];
    if (this.scene) {
      if (this.layers.vertical) this._vertical();
      if (this.layers.path) this._path();
      if (this.layers.body) this._body();
      if (this.layers.evidence) this._evidence();
      if (this.layers.arms) this._arms();
      if (this.scene.raw.bar.status === "unsure") this._candidates();
    }
    for (const mark of [...this.pointed, ...this.marks.filter((m) => Math.abs((m.t_s ?? m.at_s) - this.t_s) <= MARK_REACH_S)]) this._mark(mark);
    this._picking();
  }

  /** @param {[number, number][]} points in px of the clip @param {string} colour @param {number} [width] @param {number[]} [dash] */
  _line(points, colour, width = 1.4, dash = []) {
    const c = this.ink, z = this.zoom ?? 1;
    if (points.length < 2) return;
    c.beginPath();
    points.forEach(([x, y], i) => (i ? c.lineTo(x * z, y * z) : c.moveTo(x * z, y * z)));
    c.setLineDash(dash);
    c.strokeStyle = HALO; c.lineWidth = width + 1.8; c.stroke();
    c.strokeStyle = colour; c.lineWidth = width; c.stroke();
    c.setLineDash([]);
  }

  /** @param {number} x @param {number} y @param {number} r css px @param {string} colour @param {boolean} [full] */
  _dot(x, y, r, colour, full = true) {
    const c = this.ink, z = this.zoom ?? 1;
    c.beginPath(); c.arc(x * z, y * z, r, 0, 7);
    c.strokeStyle = HALO; c.lineWidth = full ? 2 : 3.2; c.stroke();
    if (full) { c.fillStyle = colour; c.fill(); } else { c.strokeStyle = colour; c.lineWidth = 1.4; c.stroke(); }
  }

  /** Words on a slip of paper about a point; moved down until it covers no other. @param {string} words @param {number} x @param {number} y */
  _label(words, x, y) {
    if (!words) return;
    const c = this.ink, z = this.zoom ?? 1, size = this.type ?? 13;
    c.font = `550 ${size}px system-ui, -apple-system, "Segoe UI", sans-serif`;
    const width = c.measureText(words).width + 10, height = size + 7;
    let left = Math.max(3, Math.min((this.wide ?? 0) - width - 3, x * z - width / 2));
    let top = Math.max(3, Math.min((this.high ?? 0) - height - 3, y * z - height));
    for (let tries = 0; tries < 8; tries++) {
      const over = this._taken?.find(([l, t, r, b]) => left < r && left + width > l && top < b && top + height > t);
      if (!over) break;
      top = over[3] + 3;
    }
    this._taken?.push([left, top, left + width, top + height]);
    c.fillStyle = PAPER; c.beginPath(); c.roundRect(left, top, width, height, 3); c.fill();
    c.fillStyle = INK; c.textBaseline = "middle"; c.fillText(words, left + 5, top + height / 2 + .5);
  }

  _vertical() {
    const raw = this.scene?.raw, [w, h] = this.size, lean = raw.lean;
    this._line([[w / 2 - lean * h / 2, h], [w / 2 + lean * h / 2, 0]], BODY, 1, [8, 7]);
    this._label(`vertical${raw.roll ? `, camera rolled ${raw.roll}` : ""}`, w / 2 + lean * h * .44, h * .08);
  }

  /** The whole path of the rep that stands in the picture, before and after the moment alike. */
  _path() {
    const rep = this.scene?.repNear(this.t_s), b = this.scene?.raw.bar;
    if (!rep) return;
    const rise = rep.parts.filter((/** @type {any} */ p) => p.part === "ascent");
    /** @type {[number, number][]} */ let run = [];
    let up = false;
    const end = () => { this._line(run, up ? BAR : BODY, up ? 1.6 : 1, up ? [] : [4, 4]); };
    for (let i = 0; i < b.t_s.length; i++) {
      const t = b.t_s[i];
      if (t < rep.start_s || t > rep.end_s || b.x[i] === null) continue;
      const rising = rise.some((/** @type {any} */ p) => p.start_s <= t && t <= p.end_s);
      if (rising !== up && run.length) { const last = run[run.length - 1]; end(); run = [last]; }
      up = rising;
      run.push([b.x[i], b.y[i]]);
    }
    end();
  }

  _body() {
    const s = this.scene;
    if (!s) return;
    for (const [a, b] of s.raw.body.segments) {
      const p = s.joint(a, this.t_s), q = s.joint(b, this.t_s);
      if (!p?.state || !q?.state) continue;
      this._line([[p.x, p.y], [q.x, q.y]], BODY, 1.2, p.state === 2 && q.state === 2 ? [] : [4, 4]);
    }
    for (const name of Object.keys(s.raw.body.joints)) {
      const p = s.joint(name, this.t_s);
      if (p?.state) this._dot(p.x, p.y, 3.2, BODY, p.state === 2);
    }
  }

  /** Names of the joints that are hidden now. */
  hidden() {
    const s = this.scene;
    if (!s) return [];
    return Object.keys(s.raw.body.joints).filter((n) => !s.joint(n, this.t_s)?.state && !/heel|foot/.test(n)).map((n) => n.replace("_", " "));
  }

  _evidence() {
    const s = this.scene;
    if (!s) return;
    const here = s.bar(this.t_s);
    if (here) this._ring(here);
    this._levels();
    const place = s.place(this.t_s);
    if (!place || !here) return;
    const { zero } = place, lean = s.raw.lean, top = Math.min(here.y, zero.y) - 30 / (this.zoom ?? 1);
    this._line([[zero.x + lean * (zero.y - top), top], [zero.x, zero.y + 12 / (this.zoom ?? 1)]], BODY, 1, [5, 5]);
    const part = s.partAt(place.rep, this.t_s)?.part;
    if (place.forward !== null && part === "ascent" && Math.abs(place.forward) >= LEAST_MM) {
      const foot = [zero.x + lean * (zero.y - here.y), here.y];
      const words = `${said(Math.abs(place.forward), place.sd_forward, "mm").replace("mm", `mm ${place.forward > 0 ? "forward" : "back"}`)}`;
      this._between(/** @type {[number, number]} */ (foot), [here.x, here.y], words);
    }
    if (["low", "ascent", "descent", "top"].includes(part)) this._angle(here);
  }

  /** @param {{x: number, y: number, seen: boolean}} here */
  _ring(here) {
    const c = this.ink, z = this.zoom ?? 1, ring = this.scene?.raw.bar.ring;
    if (ring) {
      const [major, minor, turn] = ring;
      for (const [colour, width] of /** @type {[string, number][]} */ ([[HALO, 3], [BODY, 1.2]])) {
        c.beginPath(); c.ellipse(here.x * z, here.y * z, major * z, minor * z, turn * Math.PI / 180, 0, 7);
        c.setLineDash(here.seen ? [] : [5, 6]); c.strokeStyle = colour; c.lineWidth = width; c.stroke();
      }
      c.setLineDash([]);
    }
    const arm = 6 / z;
    this._line([[here.x - arm, here.y], [here.x + arm, here.y]], BODY, 1.2);
    this._line([[here.x, here.y - arm], [here.x, here.y + arm]], BODY, 1.2);
  }

  /** @param {[number, number]} a @param {[number, number]} b @param {string} words */
  _between(a, b, words) {
    const tick = 5 / (this.zoom ?? 1);
    this._line([a, b], EVIDENCE, 1.8);
    for (const [x, y] of [a, b]) this._line([[x, y - tick], [x, y + tick]], EVIDENCE, 1.4);
    const reach = (this.scene?.raw.bar.ring?.[0] ?? 20) + 6 / (this.zoom ?? 1);
    this._label(words, (a[0] + b[0]) / 2, Math.min(a[1], b[1]) - reach);
  }

  /** The one line of the body that matters against the vertical; its figure where it was measured. @param {{x: number, y: number}} bar */
  _angle(bar) {
    const s = this.scene, pair = s?.raw.body.angle;
    if (!s || !pair) return;
    const corner = s.joint(pair[0], this.t_s), end = pair[1] ? s.joint(pair[1], this.t_s) : { ...bar, state: 2 };
    if (!corner?.state || !end?.state) return;
    const reach = Math.hypot(end.x - corner.x, end.y - corner.y), z = this.zoom ?? 1;
    if (reach * z < 24) return;
    this._line([[corner.x, corner.y], [end.x, end.y]], BODY, 1.3, corner.state === 2 ? [] : [5, 4]);
    const up = [corner.x + s.raw.lean * .6 * reach, corner.y - .6 * reach];
    this._line([[corner.x, corner.y], /** @type {[number, number]} */ (up)], BODY, 1, [4, 4]);
    const from = Math.atan2(up[1] - corner.y, up[0] - corner.x), to = Math.atan2(end.y - corner.y, end.x - corner.x);
    const turn = Math.atan2(Math.sin(to - from), Math.cos(to - from)), steps = 18, r = Math.max(16 / z, .32 * reach);
    /** @type {[number, number][]} */ const arc = [];
    for (let i = 0; i <= steps; i++) arc.push([corner.x + r * Math.cos(from + turn * i / steps), corner.y + r * Math.sin(from + turn * i / steps)]);
    this._line(arc, EVIDENCE, 1.6);
    const figure = s.figures(this.t_s, this.reach)?.angle;
    if (figure) this._label(figure, corner.x + 1.35 * r * Math.cos(from + turn / 2), corner.y + 1.35 * r * Math.sin(from + turn / 2));
  }

  /** Two levels and what lies between: of the findings that have them, near their moment. */
  _levels() {
    for (const f of this.scene?.raw.findings ?? []) {
      for (const l of f.levels) {
        if (Math.abs(l.at_s - this.t_s) > (f.id === this.finding ? LEVEL_REACH_S : 0.15)) continue;
        const [x, y] = l.bar, reach = this.scene?.raw.bar.ring?.[0] ?? 30;
        for (const level of [l.upper_y, y]) this._line([[x - reach, level], [x + reach, level]], EVIDENCE, 1.2, [5, 4]);
        this._line([[x, l.upper_y], [x, y]], EVIDENCE, 2.4);
        this._label(l.words, x, Math.min(l.upper_y, y - reach) - 6 / (this.zoom ?? 1));
      }
    }
  }

  _arms() {
    const near = this.arms.filter((m) => m.vertical).reduce((/** @type {any} */ best, m) => (!best || Math.abs(m.at_s - this.t_s) < Math.abs(best.at_s - this.t_s) ? m : best), null);
    if (!near || Math.abs(near.at_s - this.t_s) > Math.max(this.reach, 0.05)) return;
    this._line(near.vertical, BODY, 1, [5, 5]);
    for (const a of near.arms) {
      this._line([a.from, a.to], EVIDENCE, 1.8);
      this._dot(a.from[0], a.from[1], 4, EVIDENCE, false);
      const side = a.from[0] < a.to[0] ? -1 : 1;
      this._label(a.words.join(", "), a.from[0] + side * 70 / (this.zoom ?? 1), a.from[1] + 8 / (this.zoom ?? 1));
    }
  }

  _candidates() {
    for (const one of this.scene?.raw.bar.candidates ?? []) {
      const z = this.zoom ?? 1, c = this.ink;
      c.beginPath(); c.arc(one.x * z, one.y * z, Math.max(10, one.r * z), 0, 7);
      c.setLineDash([6, 5]); c.strokeStyle = HALO; c.lineWidth = 4; c.stroke(); c.strokeStyle = EVIDENCE; c.lineWidth = 2; c.stroke(); c.setLineDash([]);
    }
  }

  /** A mark by its meaning: where, how far, what angle, hold here. @param {any} mark */
  _mark(mark) {
    const p = mark.points_px ?? [];
    if (!p.length) return;
    const z = this.zoom ?? 1;
    if (mark.meaning === "how_far" && p.length > 1) {
      this._line([p[0], p[1]], EVIDENCE, 2);
      for (const [x, y] of [p[0], p[1]]) this._dot(x, y, 4, EVIDENCE, false);
    } else if (mark.meaning === "what_angle" && p.length > 2) {
      this._line([p[0], p[1], p[2]], EVIDENCE, 2);
    } else if (mark.meaning === "hold_here") {
      const [x, y] = p[0], r = 13 / z;
      this._line([[x - r, y - r], [x + r, y - r], [x + r, y + r], [x - r, y + r], [x - r, y - r]], EVIDENCE, 2);
    } else this._dot(p[0][0], p[0][1], 12, EVIDENCE, false);
    this._label(mark.words ?? "", p[0][0], p[0][1] - 18 / z);
  }

  _picking() {
    const z = this.zoom ?? 1;
    if (this.points.length > 1) this._line(this.points, EVIDENCE, 1.4, [4, 4]);
    for (const [x, y] of this.points) { this._dot(x, y, 5, EVIDENCE, false); this._dot(x, y, 1.2, EVIDENCE); }
    if (this.cursor) {
      const [x, y] = this.cursor, r = 14 / z;
      this._line([[x - r, y], [x + r, y]], "#fff", 1.2); this._line([[x, y - r], [x, y + r]], "#fff", 1.2);
    }
  }
}

/** What is put right of a measurement: a form a kind, points clicked in the picture, the list with undo. */

import { get, post } from "../api.js";
import { toast } from "../toast.js";
import { leavePick, pick } from "./pick.js";

const HELP = {
  bar_at: ["The bar is here", "Click the middle of the bar's near end, in a frame in which it is seen well.", 1],
  lifter_at: ["This is the lifter", "Click the lifter, best on the hips.", 1],
  length: ["Two points and a length", "Click two points whose distance you know, on the near plate or as far from the camera as it: such as the upper and the lower edge of the plate.", 2],
  depth: ["Crease and knee top", "At the low of a rep, click the crease of the hip, then the top of the knee. It is kept for this lifter and calibrates the depth of later clips too.", 2],
  joint: ["A joint is here", "Choose the joint and click it in the picture; the body is corrected around this moment.", 1],
  moment: ["A moment of a rep", "Go to the right frame by the arrow keys, or drag the ochre line on the timeline.", 0],
  rep: ["A rep is missing", "Go to the frame in which the rep starts and take it, then to the one in which it ends; or drag the two ends on the timeline. Its low is found between them.", 0],
  no_rep: ["This is no rep", "What was taken for a rep is taken out: the others are counted anew.", 0],
  trim: ["Part to measure", "Drag the two ends on the timeline, or go to a frame and take it.", 0],
  plate: ["Plate's size", "Measure the largest plate across with a tape.", 0],
  lift: ["Which lift", "", 0],
  mirrored: ["Mirror image", "", 0],
  real_speed: ["Slow motion", "How many times slower than life the clip plays: 8 for 240 frames a second stored at 30.", 0],
};

/** How long a missing rep is taken to be until its ends are set, s. */
const REP_S = 3;

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
/** @param {string} text */
const number = (text) => (text.trim() ? Number(text.replace(",", ".")) : NaN);

export class Repairs {
  /** @param {any} desk */
  constructor(desk) {
    this.desk = desk;
    this.kind = "";
    /** @type {[number, number][]} */ this.points = [];
    this.at = 0;
    this.form = at("repair-form");
    for (const button of document.querySelectorAll("[data-repair]")) {
      const b = /** @type {HTMLElement} */ (button);
      if (b.dataset.lifts && !b.dataset.lifts.split(" ").includes(desk.lift)) b.hidden = true;
      b.addEventListener("click", () => this.open(/** @type {string} */ (b.dataset.repair)));
    }
    this.form.addEventListener("submit", (/** @type {Event} */ e) => { e.preventDefault(); void this.send(); });
    at("repair-cancel").addEventListener("click", () => this.close());
    at("r-pick").addEventListener("click", () => void this._pick());
    at("r-rep").addEventListener("change", () => {
      if (this.kind === "moment") this._moments();
      else this.desk.player.seek(this.desk.scene.rep(Number(at("r-rep").value)).start_s);
    });
    at("r-moment").addEventListener("change", () => this._moment());
    at("r-nudge-back").addEventListener("click", () => this._nudge(-1));
    at("r-nudge-on").addEventListener("click", () => this._nudge(1));
    at("r-from-here").addEventListener("click", () => this._trim(0));
    at("r-to-here").addEventListener("click", () => this._trim(1));
    for (const [k, id] of ["r-from", "r-to"].entries()) at(id).addEventListener("change", () => this._trim(k, number(at(id).value)));
    void this.list();
  }

  async list() {
    try { this.show((await get(`/sets/${this.desk.set}/repairs?clip=${this.desk.clip}`, { quiet: true })).repairs); } catch { /* said elsewhere */ }
  }

  /** @param {any[]} rows */
  show(rows) {
    const list = document.createElement("ul");
    list.className = "repair-list";
    for (const row of [...rows].reverse()) {
      const item = document.createElement("li"), words = document.createElement("span"), back = document.createElement("button");
      if (row.undone) item.className = "undone";
      words.textContent = row.words;
      back.type = "button";
      back.className = "plain";
      back.textContent = row.undone ? "Let it count again" : "Take back";
      back.setAttribute("aria-label", `${back.textContent}: ${row.words}`);
      back.addEventListener("click", () => void this.undo(row.n, !row.undone));
      item.append(words, back);
      list.append(item);
    }
    const place = at("repair-list");
    place.replaceChildren();
    if (rows.length) {
      const head = document.createElement("h3");
      head.textContent = "Put right so far";
      place.append(head, list);
    }
    this.desk.timeline.repairs = rows;
    this.desk.timeline.draw();
  }

  /** @param {string} kind */
  open(kind) {
    leavePick();
    this.close();
    this.kind = kind;
    const [title, help, count] = HELP[/** @type {keyof typeof HELP} */ (kind)];
    at("repair-title").textContent = title;
    at("repair-help").textContent = help;
    at("repair-help").hidden = !help;
    for (const one of this.form.querySelectorAll("[data-for]")) one.hidden = !one.dataset.for.split(" ").includes(kind);
    this.form.hidden = false;
    at("repair-part").open = true;
    const { scene, player, timeline } = this.desk;
    if (kind === "moment" || kind === "no_rep") {
      const reps = scene?.raw.reps ?? [], here = scene?.repNear(player.time);
      at("r-rep").replaceChildren(...reps.map((/** @type {any} */ r) => new Option(`rep ${r.n}`, String(r.n), false, r.n === here?.n)));
      if (!reps.length) { this._wrong("There is no rep in this clip yet; say where one is missing, or point at the bar."); return; }
    }
    if (kind === "no_rep" && scene?.repNear(player.time)) player.seek(scene.repNear(player.time).start_s);
    if (kind === "moment") {
      this._moments();
      this._off = player.on("wanted", () => { if (timeline.moment) { timeline.moment.at_s = player.time; timeline.draw(); } });
    }
    if (kind === "trim" || kind === "rep") {
      const all = [scene?.raw.from_s ?? 0, scene?.raw.to_s ?? player.clock.duration];
      timeline.trim = kind === "trim" ? all : [player.time, Math.min(all[1], player.time + REP_S)];
      timeline.onTrim = () => this._ends();
      this._ends();
      timeline.draw();
    }
    if (kind === "lift" && this.desk.lift) at("r-lift").value = this.desk.lift;
    if (kind === "mirrored") at("r-mirrored").value = String(!scene?.raw.mirrored);
    if (kind === "real_speed") at("r-speed").value = String(scene?.raw.real_speed ?? 1);
    if (kind === "joint" && scene?.raw.body.side) at("r-joint").value = `${scene.raw.body.side}_hip`;
    this.form.scrollIntoView({ block: "nearest" });
    if (count) void this._pick();
    else this.form.querySelector("input:not([hidden]), select")?.focus({ preventScroll: true });
  }

  close() {
    leavePick();
    this._off?.();
    this._off = null;
    this.kind = "";
    this.points = [];
    this.form.hidden = true;
    at("repair-wrong").hidden = true;
    Object.assign(this.desk.timeline, { trim: null, moment: null, onTrim: null });
    this.desk.timeline.draw();
    this.desk.overlay.points = [];
    this.desk.overlay.draw();
  }

  async _pick() {
    const [title, , count] = HELP[/** @type {keyof typeof HELP} */ (this.kind)];
    const { player, overlay } = this.desk, kind = this.kind;
    player.pause();
    const words = kind === "depth" ? "Crease of the hip, then top of the knee." : `${title}.`;
    const found = await pick(overlay, /** @type {number} */ (count), words);
    if (!found || this.kind !== kind) return;
    this.points = found;
    this.at = player.clock.pts[Math.max(0, player.frame)];
    at("repair-send").focus({ preventScroll: true });
  }

  _moments() {
    const rep = this.desk.scene?.rep(Number(at("r-rep").value));
    if (!rep) return;
    const near = [...rep.moments].sort((a, b) => Math.abs(a.at_s - this.desk.player.time) - Math.abs(b.at_s - this.desk.player.time))[0];
    at("r-moment").replaceChildren(new Option("none: only what became of it", ""), ...rep.moments.map((/** @type {any} */ m) => new Option(`${m.words}, ${m.at_s.toFixed(2)} s`, m.name, false, m === near)));
    at("r-moment").value = near?.name ?? "";
    this._moment();
  }

  _moment() {
    const rep = this.desk.scene?.rep(Number(at("r-rep").value)), moment = rep?.moments.find((/** @type {any} */ m) => m.name === at("r-moment").value);
    const { timeline, player } = this.desk;
    timeline.moment = moment ? { at_s: moment.at_s, move: (/** @type {number} */ t) => { timeline.moment.at_s = t; } } : null;
    if (moment) player.seek(moment.at_s);
    timeline.draw();
  }

  /** @param {number} frames */
  _nudge(frames) { this.desk.player.step(frames); }

  /** @param {number} end @param {number} [t_s] */
  _trim(end, t_s = this.desk.player.time) {
    const { timeline } = this.desk;
    if (!timeline.trim || !Number.isFinite(t_s)) return;
    timeline.trim[end] = Math.max(0, Math.min(t_s, this.desk.player.clock.duration));
    this._ends();
    timeline.draw();
  }

  _ends() {
    const [from, to] = this.desk.timeline.trim;
    at("r-from").value = from.toFixed(2);
    at("r-to").value = to.toFixed(2);
  }

  /** @param {string} words */
  _wrong(words) { at("repair-wrong").textContent = words; at("repair-wrong").hidden = false; }

  /** The repair's values as the desk keeps them: px as shown, s on the file's own clock. */
  _body() {
    const { scene, player, overlay, timeline } = this.desk, speed = player.clock.speed;
    const shown = { width_px: overlay.size[0], mirrored: !!scene?.raw.mirrored };
    const spot = (/** @type {number} */ k) => ({ x_px: this.points[k][0], y_px: this.points[k][1] });
    const counts = HELP[/** @type {keyof typeof HELP} */ (this.kind)][2];
    if (this.points.length < Number(counts)) return "Click in the picture first.";
    switch (this.kind) {
      case "bar_at": case "lifter_at": return { ...spot(0), at_s: this.at, ...shown };
      case "joint": return { joint: at("r-joint").value, ...spot(0), at_s: this.at, ...shown };
      case "length": return { a: spot(0), b: spot(1), at_s: this.at, mm: number(at("r-length").value), ...shown };
      case "depth": return { crease: spot(0), knee_top: spot(1), at_s: this.at, ...shown };
      case "plate": return { mm: number(at("r-plate").value) };
      case "trim": {
        const [from, to] = timeline.trim;
        return { from_s: from > 0.01 ? from * speed : null, to_s: to < player.clock.duration - 0.02 ? to * speed : null };
      }
      case "rep": return { from_s: timeline.trim[0] * speed, to_s: timeline.trim[1] * speed };
      case "no_rep": {
        const rep = scene?.rep(Number(at("r-rep").value));
        return rep ? { rep: rep.n, about_s: speed * (rep.start_s + rep.end_s) / 2 } : "There is no rep to take out.";
      }
      case "moment": {
        const outcome = at("r-outcome").value, name = at("r-moment").value;
        const rep = scene.rep(Number(at("r-rep").value));
        return { rep: rep.n, about_s: speed * (rep.start_s + rep.end_s) / 2, ...(name ? { moment: name, at_s: timeline.moment.at_s * speed } : {}), ...(outcome ? { outcome } : {}) };
      }
      case "lift": return { lift: at("r-lift").value };
      case "mirrored": return { on: at("r-mirrored").value === "true" };
      default: return { times_slower: number(at("r-speed").value) };
    }
  }

  async send() {
    const body = this._body();
    if (typeof body === "string") { this._wrong(body); return; }
    await this.put(this.kind, body);
  }

  /** @param {string} kind @param {any} body */
  async put(kind, body) {
    try {
      const done = await post(`/sets/${this.desk.set}/repairs`, { clip: this.desk.clip, kind, body }, { quiet: true });
      this.close();
      this.desk.root.dataset.busy = done.job;
      this.show(done.repairs);
      this.desk.working("Measuring again", 0);
      toast("It is measured again; the review stays.", { undo: () => void this.undo(done.n, true) });
    } catch (error) {
      const words = /** @type {Error} */ (error).message;
      if (this.form.hidden) toast(words, { stays: true });
      else this._wrong(words);
    }
  }

  /** @param {number} n @param {boolean} undone */
  async undo(n, undone) {
    const done = await post(`/sets/${this.desk.set}/repairs/undo`, { clip: this.desk.clip, n, undone });
    this.desk.root.dataset.busy = done.job;
    this.show(done.repairs);
    this.desk.working("Measuring again", 0);
  }

  /** One tap on a place that the bar may be. @param {[number, number]} spot */
  async candidate(spot) {
    const { scene, player, overlay } = this.desk;
    if (scene?.raw.bar.status !== "unsure") return false;
    const near = scene.raw.bar.candidates.find((/** @type {any} */ c) => Math.hypot(c.x - spot[0], c.y - spot[1]) <= Math.max(c.r, 12 / (overlay.zoom ?? 1)));
    if (!near) return false;
    await this.put("bar_at", { x_px: near.x, y_px: near.y, at_s: near.at_s * player.clock.speed, width_px: overlay.size[0], mirrored: !!scene.raw.mirrored });
    return true;
  }
}

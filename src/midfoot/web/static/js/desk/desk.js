/** The desk of one set: builds the player and its parts, binds keys, follows the work under way. */

import { get } from "../api.js";
import { hear } from "../events.js";
import { drawInside } from "../kept.js";
import { Beside } from "./beside.js";
import { Charts } from "./charts.js";
import { Clock } from "./clock.js";
import { controls, keys } from "./controls.js";
import { LAYERS, Overlay } from "./overlay.js";
import { Paths } from "./paths.js";
import { pick } from "./pick.js";
import { Player } from "./player.js";
import { Repairs } from "./repair.js";
import { said, Scene } from "./scene.js";
import { Timeline } from "./timeline.js";

const SAY_EVERY_MS = 50;
/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));

class SetDesk {
  /** @param {HTMLElement} root @param {number[]} pts */
  constructor(root, pts) {
    this.root = root;
    this.set = root.dataset.set ?? "";
    this.clip = root.dataset.clip ?? "";
    this.proxy = root.dataset.proxy ?? "";
    this.lift = root.dataset.lift ?? "";
    /** @type {Scene | null} */ this.scene = null;
    this.player = new Player(at("video"), new Clock(pts));
    this.overlay = new Overlay(at("overlay"), at("picture"));
    this.overlay.reach = 0.75 * this.player.clock.gap;
    this.timeline = new Timeline(at("timeline"), this.player);
    this.paths = new Paths(at("paths"), (t) => this.go(t));
    this.charts = new Charts(at("charts"), `/sets/${this.set}/charts.json?clip=${this.clip}`, (t) => this.go(t));
    this.beside = new Beside(this);
    this.repairs = new Repairs(this);
    this.finding = "";
    this.observing = false;
    this._saidAt = 0;
    this._size();
    this.player.on("frame", (f) => this._frame(f.t_s));
    this.player.on("wanted", (f) => { this.timeline.follow(f.t_s, this.now().words); });
    for (const name of ["play", "pause"]) this.player.on(name, () => this._buttons());
    this.player.on("rate", () => this._buttons());
    this.player.on("loop", () => { this.timeline.draw(); this._buttons(); });
    this.timeline.onFinding = (id, t) => this.showFinding(id, t);
    controls(this);
    keys(this);
    this._review();
    this._layers();
  }

  /** Before anything is measured places are told in px of the clip as it was looked at; a proxy may be smaller. */
  _size() {
    const [width, height] = [Number(this.root.dataset.width), Number(this.root.dataset.height)], video = at("video");
    if (width && height) this.overlay.fit(width, height);
    else if (video.videoWidth) this.overlay.fit(video.videoWidth, video.videoHeight);
    else video.addEventListener("loadedmetadata", () => { if (!this.scene) this.overlay.fit(video.videoWidth, video.videoHeight); }, { once: true });
  }

  /** Load what was measured and tell whether it came; the page without it plays and steps. */
  async measured(/** @type {Promise<any>} */ asked = get(`/sets/${this.set}/scene.json?clip=${this.clip}`, { quiet: true })) {
    let raw;
    try { raw = await asked; } catch { return false; }
    this.scene = new Scene(raw);
    this.player.clock.speed = raw.real_speed;
    this.timeline.seconds = this.player.clock.duration;
    this.timeline.box.setAttribute("aria-valuemax", this.player.clock.duration.toFixed(2));
    this.overlay.scene = this.timeline.scene = this.scene;
    at("picture").classList.toggle("mirrored", raw.mirrored);
    this.overlay.fit(raw.size_px[0], raw.size_px[1]);
    this.lift = raw.lift;
    for (const words of document.querySelectorAll("[data-bar]")) words.toggleAttribute("hidden", /** @type {HTMLElement} */ (words).dataset.bar !== raw.bar.status);
    this.paths.show(this.scene);
    this.timeline.draw();
    this.beside.fill();
    this._frame(this.player.shown >= 0 ? this.player.clock.timeOf(this.player.shown) : 0, true);
    document.dispatchEvent(new CustomEvent("desk:scene", { detail: raw }));
    this.root.dataset.ready = "1";
    const idle = "requestIdleCallback" in window ? requestIdleCallback : (/** @type {any} */ run) => setTimeout(run, 200);
    idle(() => void this._charts(), { timeout: 1500 });
    if (this.mechanicsShown) void this.mechanics();
    return true;
  }

  async _charts() {
    try {
      await this.charts.load();
      this.root.dataset.charts = "1";
      this._chartTools();
      this._frame(this.player.shown >= 0 ? this.player.clock.timeOf(this.player.shown) : 0, true);
    } catch (error) { console.error(error); at("charts").textContent = "The charts could not be drawn; reload the page."; }
  }

  /** Everything again after a measurement: picture and place stay. */
  async refresh() {
    if (!await this.measured()) { working("The new measurement could not be loaded; reload the page.", 0); return; }
    const answer = await fetch(`/sets/${this.set}/numbers?clip=${this.clip}`);
    if (answer.ok) drawInside(at("numbers"), await answer.text());
    await this.repairs.list();
    if (this.root.dataset.version === this.scene?.raw.version) return; // the end of work that this page showed already
    this.root.dataset.version = this.scene?.raw.version;
    document.dispatchEvent(new CustomEvent("desk:remeasured", { detail: { set: this.set, clip: this.clip } }));
  }

  now(t_s = this.player.time) {
    return this.scene?.now(t_s) ?? { rep: null, part: null, words: "" };
  }

  /** @param {number} t_s */
  go(t_s) { this.player.pause(); this.player.seek(t_s); }

  /** @param {number} t_s @param {boolean} [force] */
  _frame(t_s, force = false) {
    const now = this.now(t_s), playing = this.player.playing;
    this.overlay.draw(t_s);
    this.paths.follow(t_s);
    this.timeline.follow(t_s, now.words);
    this.charts.follow(t_s, now.rep?.n ?? 0);
    at("now-words").textContent = now.words || "\u00a0";
    at("now-clock").textContent = `${t_s.toFixed(2)} s · frame ${Math.max(0, this.player.shown) + 1}`;
    at("now-figures").textContent = this._figures(t_s).join(" · ");
    const hidden = at("hidden-joints");
    if (this.overlay.layers.body && this.scene) {
      const names = this.overlay.hidden();
      hidden.hidden = false;
      hidden.textContent = this.scene.raw.body.status !== "seen" ? `Not seen: ${this.scene.raw.body.reason}` : `Full dots are seen, open ones inferred. Hidden now: ${names.length ? names.join(", ") : "none"}.`;
    } else hidden.hidden = true;
    const time = performance.now();
    if (force || !playing || time - this._saidAt >= SAY_EVERY_MS) {
      this._saidAt = time;
      document.dispatchEvent(new CustomEvent("desk:time", { detail: { t_s, rep: now.rep?.n ?? null, playing } }));
    }
  }

  /** @param {number} t_s */
  _figures(t_s) {
    const place = this.scene?.place(t_s);
    if (!place) return [];
    const out = [`height ${said(place.up, place.sd_up, "mm")}`];
    if (place.forward !== null) out.push(said(Math.abs(place.forward), place.sd_forward, "mm").replace("mm", `mm ${place.forward >= 0 ? "forward" : "back"}`));
    const speed = this.charts.velocity(t_s);
    if (speed) out.push(said(Math.abs(speed.v), speed.sd, "m/s").replace("m/s", `m/s ${speed.v >= 0 ? "up" : "down"}`));
    const moment = this.player.playing ? null : this.scene?.figures(t_s, this.overlay.reach);
    return moment ? [...out, ...moment.words] : out;
  }

  _buttons() {
    at("play").textContent = this.player.playing ? "Stop" : "Play";
    for (const b of document.querySelectorAll("[data-rate]")) b.setAttribute("aria-pressed", String(Number(/** @type {HTMLElement} */ (b).dataset.rate) === this.player.rate));
    const name = this.player.span?.name ?? "";
    at("loop-rep").setAttribute("aria-pressed", String(name === "rep"));
    at("loop-part").setAttribute("aria-pressed", String(name === "part"));
  }

  /** Repeat the rep or the part that stands in the picture; again to end it. @param {"rep" | "part"} what @param {any} [rep] */
  loop(what, rep) {
    if (!rep && this.player.span?.name === what) { this.player.unloop(); return; }
    const t = this.player.time;
    if (what === "part" && !rep && !this.scene?.repAt(t)) {
      const phase = this.scene?.raw.phases.find((/** @type {any} */ p) => p.start_s <= t && t <= p.end_s);
      if (phase) this.player.loop(phase.start_s, phase.end_s, what);
      return;
    }
    const found = rep ?? this.scene?.repNear(t);
    if (!found) return;
    const part = what === "part" ? this.scene?.partAt(found, Math.max(found.start_s, this.player.time)) : found;
    this.player.loop(part.start_s, part.end_s, what);
  }

  /** @param {number} by */
  rep(by) {
    const reps = this.scene?.raw.reps ?? [], t = this.player.time + 1e-3;
    const next = by > 0 ? reps.find((/** @type {any} */ r) => r.start_s > t) : [...reps].reverse().find((/** @type {any} */ r) => r.start_s < t - 0.25);
    if (next) this.toRep(next.n);
  }

  /** @param {number} n */
  toRep(n) {
    const rep = this.scene?.rep(n);
    if (!rep) return;
    if (this.player.span?.name === "rep") this.player.loop(rep.start_s, rep.end_s, "rep");
    this.player.seek(rep.start_s);
  }

  /** The next or the last moment of a finding. @param {number} by */
  nextFinding(by) {
    const all = [];
    for (const f of this.scene?.raw.findings ?? []) for (const t of f.at_s) all.push({ id: f.id, t });
    all.sort((a, b) => a.t - b.t);
    const here = this.player.time, gap = 0.5 * this.player.clock.gap;
    const next = by > 0 ? all.find((f) => f.t > here + gap) : all.reverse().find((f) => f.t < here - gap);
    if (next) this.showFinding(next.id, next.t);
  }

  /** Go to a finding's moment and show its evidence. @param {string} id @param {number} [t_s] */
  showFinding(id, t_s) {
    const found = this.scene?.raw.findings.find((/** @type {any} */ f) => f.id === id);
    if (!found) return;
    this.finding = this.overlay.finding = id;
    this.layer("evidence", true);
    this.go(t_s ?? found.at_s[0]);
    at("prompt").hidden = true;
    document.dispatchEvent(new CustomEvent("desk:finding", { detail: { id, t_s: t_s ?? found.at_s[0] } }));
  }

  /** @param {string} name @param {boolean} [on] */
  layer(name, on = !this.overlay.layers[name]) {
    this.overlay.layers[name] = on;
    for (const b of document.querySelectorAll(`[data-layer="${name}"]`)) b.setAttribute("aria-pressed", String(on));
    try { localStorage.setItem("midfoot.layers", JSON.stringify(this.overlay.layers)); } catch { /* for this page only */ }
    if (name === "arms" && on && !this.overlay.arms.length) void this.mechanics();
    this._frame(this.player.shown >= 0 ? this.player.clock.timeOf(this.player.shown) : 0, true);
    this.player._emit("layers", this.overlay.layers);
    this.player._emit("overlays", { ...this.overlay.layers });
  }

  _layers() {
    let kept = {};
    try { kept = JSON.parse(localStorage.getItem("midfoot.layers") ?? "{}"); } catch { /* none kept */ }
    for (const name of LAYERS) {
      this.overlay.layers[name] = kept[name] ?? name === "evidence";
      for (const b of document.querySelectorAll(`[data-layer="${name}"]`)) b.setAttribute("aria-pressed", String(this.overlay.layers[name]));
    }
  }

  /** Load the panel of mechanics, and the arms for the picture. */
  async mechanics() {
    this.mechanicsShown = true;
    const box = at("mechanics");
    try {
      const found = await get(`/sets/${this.set}/mechanics?clip=${this.clip}`, { quiet: true });
      this.overlay.arms = found.moments;
      drawInside(box, found.html);
      for (const b of box.querySelectorAll("[data-seek]")) b.addEventListener("click", () => { this.layer("arms", true); this.go(Number(b.dataset.seek)); });
      this.overlay.draw();
    } catch (error) {
      box.textContent = /** @type {Error} */ (error).message;
    }
  }

  _chartTools() {
    const reps = this.charts.data?.specs.velocity_over_height || this.charts.data?.specs.forward_over_height ? [...new Set(this.charts.data.reps.map((/** @type {any} */ r) => r.rep))] : [];
    at("chart-tools").hidden = !reps.length;
    const best = this.scene?.raw.best_rep ?? reps[0], pairs = reps.filter((n) => n !== best);
    at("chart-reps").replaceChildren(new Option("all", reps.join(",")), ...pairs.map((n) => new Option(`${n} against ${best}`, `${n},${best}`)), ...(pairs.length ? reps.map((n) => new Option(`only ${n}`, `${n}`)) : []));
  }

  /** What the review half asks for and hears. */
  _review() {
    document.addEventListener("desk:seek", (event) => {
      const d = /** @type {CustomEvent} */ (event).detail;
      this.overlay.pointed = d.marks ?? [];
      this.finding = this.overlay.finding = d.what ?? "";
      if (d.t_s !== undefined && d.t_s !== null) this.go(d.t_s);
      this.overlay.draw();
    });
    this.player.on("play", () => { this.overlay.pointed = []; });
    document.addEventListener("desk:marks", (event) => {
      this.overlay.marks = this.timeline.marks = /** @type {CustomEvent} */ (event).detail.marks ?? [];
      this.timeline.draw();
      this.overlay.draw();
    });
    document.addEventListener("desk:observing", (event) => { this.observing = !!/** @type {CustomEvent} */ (event).detail.on; });
    document.addEventListener("desk:mark-request", async (event) => {
      const { meaning, points, prompt } = /** @type {CustomEvent} */ (event).detail;
      this.player.pause();
      const found = await pick(this.overlay, points, prompt ?? "");
      const t_s = this.player.time, rep = this.now(t_s).rep?.n ?? null;
      this.overlay.points = [];
      this.overlay.draw();
      document.dispatchEvent(new CustomEvent("desk:mark-made", { detail: found ? { meaning, t_s, rep, points_px: found } : { cancelled: true } }));
    });
  }

  /** @param {number} count @param {string} words */
  pick(count, words) { return pick(this.overlay, count, words); }

  /** @param {string} words @param {number} share */
  working(words, share) { working(words, share); }
}

/** @param {string} words @param {number} share */
function working(words, share) {
  at("work").hidden = !words;
  at("work-words").textContent = words;
  at("work-share").value = share;
}

const root = document.getElementById("viewer");
/** @type {SetDesk | null} */
let desk = null;

async function open() {
  if (!root || desk || !root.dataset.proxy) return;
  const { clip, proxy } = root.dataset;
  at("picture").hidden = false;
  at("no-picture")?.remove();
  const frames = get(`/clips/${clip}/frames.json?${proxy}`);
  const scene = root.dataset.measured ? get(`/sets/${root.dataset.set}/scene.json?clip=${clip}`, { quiet: true }) : null;
  scene?.catch(() => {}); // heard of where it is waited for
  at("video").src = `/clips/${clip}/proxy.mp4?${proxy}`;
  desk = new SetDesk(root, (await frames).pts_s);
  /** @type {any} */ (window).midfootDesk = desk;
  document.dispatchEvent(new CustomEvent("desk:ready", { detail: { desk } }));
  if (scene) await desk.measured(scene);
  else root.dataset.ready = "1";
  const moment = /^#t=(\d+(?:\.\d+)?)$/.exec(location.hash); // a link to a moment: /sets/ID#t=12.4
  if (moment) desk.go(Number(moment[1]));
}

if (root) {
  hear("job", async (job) => {
    if (job.set !== root.dataset.set || !["look", "measure"].includes(job.kind)) return;
    const words = job.kind === "look" ? "Preparing the clip" : "Measuring";
    if (job.state === "queued" || job.state === "running") {
      root.dataset.busy = job.id;
      working(`${words}${job.message ? `: ${job.message}` : ""}${job.state === "queued" ? ", waiting its turn" : ""}`, job.progress ?? 0);
      return;
    }
    if (root.dataset.busy !== job.id) return; // ended before this page was opened, or another took its place
    delete root.dataset.busy;
    working(job.state === "failed" ? job.error || "It could not be measured." : "", 0);
    if (job.state !== "done") return;
    if (!desk) location.reload();
    else if (job.kind === "measure") await desk.refresh();
  });
  void open();
}

/** Two pictures in step: another rep of this clip, or a rep of an earlier set; the parts of the rep meet. */

import { get } from "../api.js";
import { Clock } from "./clock.js";
import { Overlay } from "./overlay.js";
import { Player } from "./player.js";
import { answering, Scene } from "./scene.js";

const LATE_S = 0.06;

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));

/** What was chosen stays where it is still to be had. @param {HTMLSelectElement} select @param {HTMLOptionElement[]} options */
function refill(select, options) {
  const was = select.value;
  select.replaceChildren(...options);
  if (options.some((o) => o.value === was)) select.value = was;
}

export class Beside {
  /** @param {any} desk */
  constructor(desk) {
    this.desk = desk;
    /** @type {{player: Player, scene: Scene, overlay: Overlay, figure: HTMLElement} | null} */ this.other = null;
    this._off = [];
    at("beside-show").addEventListener("click", () => void this.open());
    at("beside-close").addEventListener("click", () => this.close());
    at("beside-set").addEventListener("change", () => void this._reps());
  }

  /** Fill the lists from the scene that stands. */
  fill() {
    const scene = this.desk.scene;
    const options = (/** @type {any[]} */ reps, /** @type {number} */ chosen) => reps.map((r) => new Option(`rep ${r.n}${r.best ? ", best" : ""}`, String(r.n), false, r.n === chosen));
    const reps = scene?.raw.reps ?? [], best = scene?.raw.best_rep ?? reps[0]?.n;
    const last = reps.at(-1)?.n === best ? reps.find((/** @type {any} */ r) => r.n !== best)?.n ?? best : reps.at(-1)?.n;
    refill(at("beside-rep"), options(reps, last));
    if (!at("beside-set").value) refill(at("beside-other"), options(reps, best));
    at("beside-show").disabled = !reps.length;
  }

  async _reps() {
    const set = at("beside-set").value;
    if (!set) { this.fill(); return; }
    const raw = await get(`/sets/${set}/scene.json`);
    at("beside-other").replaceChildren(...raw.reps.map((/** @type {any} */ r) => new Option(`rep ${r.n}`, String(r.n), false, r.n === raw.best_rep)));
  }

  async open() {
    this.close();
    const { desk } = this, set = at("beside-set").value;
    const [mine, its] = [Number(at("beside-rep").value), Number(at("beside-other").value)];
    let clip = desk.clip, proxy = desk.proxy, raw = desk.scene.raw;
    if (set) {
      const found = await get(`/sets/${set}/beside.json`);
      [clip, proxy] = [found.clip, found.proxy];
      raw = await get(`/sets/${set}/scene.json`);
    }
    const scene = new Scene(raw), a = desk.scene.rep(mine), b = scene.rep(its);
    if (!a || !b) return;
    const frames = set ? await get(`/clips/${clip}/frames.json?${proxy}`) : { pts_s: Array.from(desk.player.clock.pts) };
    const figure = document.createElement("figure");
    figure.className = "stage";
    const picture = document.createElement("div"), video = document.createElement("video"), canvas = document.createElement("canvas"), words = document.createElement("figcaption");
    picture.className = `picture${raw.mirrored ? " mirrored" : ""}`;
    Object.assign(video, { muted: true, playsInline: true, preload: "auto", tabIndex: -1 });
    video.setAttribute("aria-label", "The picture beside");
    canvas.setAttribute("aria-hidden", "true");
    words.textContent = `Rep ${its}${set ? `, ${at("beside-set").selectedOptions[0].textContent}` : " of this set"}`;
    picture.append(video, canvas);
    figure.append(picture, words);
    document.getElementById("stages")?.classList.add("two");
    document.getElementById("stage")?.after(figure);
    video.src = `/clips/${clip}/proxy.mp4?${proxy}`;
    const overlay = new Overlay(canvas, picture), player = new Player(video, new Clock(frames.pts_s, raw.real_speed));
    overlay.scene = scene;
    overlay.layers = desk.overlay.layers;
    overlay.reach = desk.overlay.reach;
    overlay.fit(raw.size_px[0], raw.size_px[1]);
    player.on("frame", ({ t_s }) => overlay.draw(t_s));
    this.other = { player, scene, overlay, figure };
    this._off = [
      desk.player.on("frame", () => this._follow(a, b)),
      desk.player.on("wanted", () => { if (!desk.player.playing) this._follow(a, b); }),
      desk.player.on("play", () => this._follow(a, b)),
      desk.player.on("pause", () => { player.pause(); this._follow(a, b); }),
      desk.player.on("layers", () => overlay.draw()),
    ];
    at("beside-close").hidden = false;
    at("beside-part").open = true;
    at("beside-words").textContent = `Rep ${mine} and rep ${its} go in step; repeat is on for rep ${mine}.`;
    desk.loop("rep", a);
    desk.player.seek(a.start_s);
    this._follow(a, b);
    desk.overlay.draw();
  }

  /** @param {any} a @param {any} b */
  _follow(a, b) {
    if (!this.other) return;
    const { player } = this.other, master = this.desk.player, t = master.time;
    const wanted = Math.max(0, answering(a, b, t)), frame = player.clock.frameOf(wanted);
    if (!master.playing) {
      if (player.playing) player.pause();
      if (player.frame !== frame || player.shown !== frame) player.show(frame);
      return;
    }
    const soon = answering(a, b, t + 0.1), slope = Math.max(0, (soon - wanted) / 0.1);
    const rate = master.rate * slope * player.clock.speed / master.clock.speed;
    if (rate < 0.07) { if (player.playing) player.pause(); if (player.frame !== frame) player.show(frame); return; }
    player.rate = Math.min(4, rate);
    const late = player.video.currentTime - player.clock.middle(frame);
    if (Math.abs(late) > Math.max(LATE_S, 0.08 * rate) && !player.video.seeking) player.video.currentTime = player.clock.middle(frame);
    if (!player.playing) void player.video.play().catch(() => {});
  }

  close() {
    for (const off of this._off) off();
    this._off = [];
    this.other?.player.video.removeAttribute("src");
    this.other?.player.video.load();
    this.other?.figure.remove();
    this.other = null;
    document.getElementById("stages")?.classList.remove("two");
    at("beside-close").hidden = true;
    at("beside-words").textContent = "";
    this.desk.overlay.draw();
  }
}

/** Charts of the set in one dress; the playhead follows, a click seeks. Drawn by Vega from the desk's own bundle. */

import { get } from "../api.js";

const ORDER = ["height", "velocity", "velocity_over_height", "forward_over_height"];
const WIDE = new Set(["height", "velocity"]);

/** @type {Promise<any> | null} */
let vega = null;
/** The program that draws, loaded once. */
function program() {
  vega ??= import("/vega.js").then(() => /** @type {any} */ (window).vegaEmbed);
  return vega;
}

/** @param {string} name */
function colour(name) {
  const probe = document.createElement("span");
  probe.style.color = `var(--${name})`;
  document.body.append(probe);
  const found = getComputedStyle(probe).color;
  probe.remove();
  return found;
}

function isDark() {
  const said = document.documentElement.dataset.theme;
  return said ? said === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
}

/** One hue, first rep to last; away from the paper toward the last. @param {number} count */
function shades(count) {
  const [a, b] = isDark() ? [[74, 116, 148], [206, 232, 250]] : [[125, 178, 214], [12, 47, 84]];
  return Array.from({ length: count }, (_, i) => {
    const s = count > 1 ? i / (count - 1) : 0.6;
    return `rgb(${a.map((v, k) => Math.round(v + (b[k] - v) * s)).join(",")})`;
  });
}

/** The page's colours under the names that the specification uses. @param {any} node @param {Record<string, string>} ours */
function painted(node, ours) {
  if (Array.isArray(node)) return node.map((n) => painted(n, ours));
  if (!node || typeof node !== "object") return node;
  const out = /** @type {any} */ ({});
  for (const [k, v] of Object.entries(node)) {
    if ((k === "color" || k === "stroke" || k === "fill") && typeof v === "string" && ours[v]) out[k] = ours[v];
    else if (k === "scale" && v && Array.isArray(v.range) && Array.isArray(v.domain)) out[k] = { ...v, range: shades(v.domain.length) };
    else out[k] = painted(v, ours);
  }
  return out;
}

export class Charts {
  /** @param {HTMLElement} box @param {string} address @param {(t_s: number) => void} go */
  constructor(box, address, go) {
    this.box = box;
    this.address = address;
    this.go = go;
    /** @type {Map<string, any>} */ this.views = new Map();
    this.data = null;
    this.rep = 0;
    /** @type {number[] | null} */ this.shown = null;
    this.turn = 0;
    document.addEventListener("theme", () => void this.draw());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => void this.draw());
  }

  async load() {
    this.data = await get(this.address, { quiet: true });
    await this.draw();
    return this.data;
  }

  async draw() {
    if (!this.data) return;
    const turn = ++this.turn, embed = await program();
    const names = ["ink", "soft", "grid", "strong", "bar", "evidence", "paper"];
    const ours = Object.fromEntries(names.map((n) => [n, colour(n)]));
    const figures = [], made = new Map();
    const hold = document.createElement("div");
    for (const name of ORDER.filter((n) => this.data.specs[n])) {
      const figure = document.createElement("figure");
      if (WIDE.has(name)) figure.className = "wide";
      const head = document.createElement("figcaption"), drawn = document.createElement("div");
      head.textContent = this.data.titles[name];
      drawn.className = "drawn";
      figure.append(head, drawn);
      figures.push({ figure, drawn, name });
    }
    if (turn !== this.turn) return;
    for (const view of this.views.values()) view.finalize();
    this.views = made;
    this.box.replaceChildren(...figures.map((f) => f.figure), hold);
    for (const { drawn, name, figure } of figures) {
      const spec = painted(this.data.specs[name], ours);
      spec.datasets = { set: this.data.set, reps: this.data.reps, other: this.other ?? [] };
      spec.config = {
        ...spec.config,
        axis: { gridColor: ours.grid, domainColor: ours.strong, tickColor: ours.strong, labelColor: ours.ink, titleColor: ours.ink, titleFontWeight: "normal", labelFontSize: 12, titleFontSize: 12 },
        legend: { labelColor: ours.ink, titleColor: ours.ink, titleFontWeight: "normal", labelFontSize: 12, titleFontSize: 12, symbolType: "stroke", symbolStrokeWidth: 3 },
      };
      const { view } = await embed(drawn, spec, { actions: false, ast: true, renderer: "canvas", defaultStyle: false, tooltip: false });
      if (turn !== this.turn) { view.finalize(); return; }
      drawn.classList.remove("vega-embed");
      made.set(name, view);
      figure.querySelector("canvas")?.setAttribute("aria-label", spec.description);
      view.addEventListener("click", (/** @type {any} */ event) => this._click(name, view, event));
    }
    hold.remove();
    if (this.shown) this.show(this.shown);
    this.follow(this.at ?? 0, this.rep);
  }

  /** @param {string} name @param {any} view @param {any} event */
  _click(name, view, event) {
    const box = event.target?.ownerDocument ? view.container().querySelector("canvas").getBoundingClientRect() : view.container().getBoundingClientRect();
    const [ox, oy] = view.origin(), x = event.clientX - box.left - ox, y = event.clientY - box.top - oy;
    if (WIDE.has(name)) { this.go(Math.max(0, view.scale("x").invert(x))); return; }
    const [fx, fy] = name === "velocity_over_height" ? ["up", "v"] : ["forward", "up"];
    let best = null, least = Infinity;
    for (const row of this.data.reps) {
      if (row[fx] === null || row[fy] === null || (this.shown && !this.shown.includes(row.rep))) continue;
      const apart = Math.hypot(view.scale("x")(row[fx]) - x, view.scale("y")(row[fy]) - y);
      if (apart < least) { least = apart; best = row.t; }
    }
    if (best !== null) this.go(best);
  }

  /** Move the playhead. @param {number} t_s @param {number} [rep] */
  follow(t_s, rep = 0) {
    this.at = t_s;
    this.rep = rep;
    if (this._due) return;
    this._due = true;
    requestAnimationFrame(() => { this._due = false; this._move(); });
  }

  _move() {
    const t = this.at ?? 0;
    const rows = (this.data?.reps ?? []).filter((/** @type {any} */ r) => r.rep === this.rep);
    let here = null;
    for (const r of rows) if (!here || Math.abs(r.t - t) < Math.abs(here.t - t)) here = r;
    if (here && Math.abs(here.t - t) > 0.08) here = null;
    for (const [name, view] of this.views) {
      if (WIDE.has(name)) { view.signal("at", t).runAsync(); continue; }
      const [fx, fy] = name === "velocity_over_height" ? ["up", "v"] : ["forward", "up"];
      view.signal("here_x", here ? here[fx] : null).signal("here_y", here ? here[fy] : null).signal("rep", this.rep ?? 0).runAsync();
    }
  }

  /** Show these reps strong, the others faint. @param {number[]} reps */
  show(reps) {
    this.shown = reps;
    for (const [name, view] of this.views) if (!WIDE.has(name)) view.signal("shown", reps).runAsync();
  }

  /** Lay another set's reps over the heights; [] for none. @param {any[]} rows */
  lay(rows) {
    this.other = rows;
    for (const [name, view] of this.views) if (!WIDE.has(name)) view.data("other", rows).runAsync();
  }

  /** The bar's velocity at a moment with its sd, m/s; null where there is none. @param {number} t_s */
  velocity(t_s) {
    let best = null;
    for (const row of this.data?.set ?? []) if (!best || Math.abs(row.t - t_s) < Math.abs(best.t - t_s)) best = row;
    return best && best.v !== null && Math.abs(best.t - t_s) < 0.06 ? { v: best.v, sd: (best.high - best.low) / 2 } : null;
  }
}

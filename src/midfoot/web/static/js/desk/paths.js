/** The paths of all reps beside the picture, each on its own vertical; a point follows the picture in its cell. */

const SVG = "http://www.w3.org/2000/svg";

export class Paths {
  /** @param {HTMLElement} box @param {(t_s: number) => void} go */
  constructor(box, go) {
    this.box = box;
    this.go = go;
    /** @type {import("./scene.js").Scene | null} */ this.scene = null;
  }

  /** @param {import("./scene.js").Scene} scene */
  show(scene) {
    this.scene = scene;
    this.grid = scene.raw.grid;
    if (!this.grid) { this.box.replaceChildren(); return; }
    this.box.innerHTML = this.grid.svg;
    this.svg = /** @type {SVGSVGElement} */ (this.box.querySelector("svg"));
    const view = this.svg.viewBox.baseVal;
    const tall = this.box.closest(".upright") ? 380 : 300; // no taller than the picture beside it
    this.box.style.setProperty("--wide", `${Math.max(170, Math.min(330, Math.round(tall * view.width / view.height)))}px`);
    this.dot = document.createElementNS(SVG, "circle");
    this.dot.setAttribute("class", "grid-here");
    this.dot.setAttribute("r", String(Math.max(7, view.width / 50)));
    this.dot.setAttribute("visibility", "hidden");
    this.svg.append(this.dot);
    const words = document.createElement("p");
    words.textContent = scene.raw.forward_px
      ? "Each rep on its own vertical; forward is to the right. Lines every 10 mm, strong every 50. Full line: upward."
      : "From this view the way forward is hardly seen: read heights here, not widths. Lines every 10 mm, strong every 50. Full line: upward.";
    this.box.append(words);
    this.svg.addEventListener("click", (event) => this._click(event));
    this.svg.style.cursor = "pointer";
    this._names();
    this._sized ??= new ResizeObserver(() => this._names());
    this._sized.disconnect();
    this._sized.observe(this.svg);
  }

  /** The reps' names stay readable however small the grid is drawn. */
  _names() {
    const svg = this.svg, view = svg?.viewBox.baseVal;
    if (!svg || !view || !svg.clientWidth) return;
    const zoom = Math.min(svg.clientWidth / view.width, svg.clientHeight / view.height), room = this.grid.cell_mm[0] * zoom + 8;
    for (const [k, name] of [...svg.querySelectorAll(".grid-name")].entries()) {
      const n = this.grid.cells[k].n, best = n === this.scene?.raw.best_rep;
      name.textContent = room > 76 ? `rep ${n}${best ? ", best" : ""}` : room > 42 ? (best ? `${n} best` : `rep ${n}`) : `${n}`;
      name.setAttribute("font-size", String(12 / zoom));
    }
  }

  /** @param {number} t_s */
  follow(t_s) {
    if (!this.dot || !this.scene) return;
    const place = this.scene.place(t_s), cell = place && this.grid.cells.find((/** @type {any} */ c) => c.n === place.rep.n);
    const forward = place ? place.here.forward - place.zero.forward : 0;
    if (!cell || !place || !Number.isFinite(forward)) { this.dot.setAttribute("visibility", "hidden"); return; }
    this.dot.setAttribute("visibility", "visible");
    this.dot.setAttribute("cx", String(cell.x + Math.max(0, Math.min(this.grid.cell_mm[0], forward - this.grid.back_mm))));
    this.dot.setAttribute("cy", String(cell.y + this.grid.high_mm - place.up));
  }

  /** The moment of the rep whose bar is nearest to the click. @param {MouseEvent} event */
  _click(event) {
    const matrix = this.svg?.getScreenCTM();
    if (!matrix || !this.scene) return;
    const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    const [w, h] = this.grid.cell_mm, cell = this.grid.cells.find((/** @type {any} */ c) => p.x >= c.x - 4 && p.x <= c.x + w + 4 && p.y >= c.y - 30 && p.y <= c.y + h + 4);
    const rep = cell && this.scene.rep(cell.n);
    if (!rep) return;
    const forward = p.x - cell.x + this.grid.back_mm, up = this.grid.high_mm - (p.y - cell.y);
    let best = null, least = Infinity;
    for (const t of this.scene.raw.bar.t_s) {
      if (t < rep.start_s || t > rep.end_s) continue;
      const place = this.scene.place(t);
      if (!place) continue;
      const apart = Math.hypot(place.here.forward - place.zero.forward - forward, place.up - up);
      if (apart < least) { least = apart; best = t; }
    }
    if (best !== null) this.go(best);
  }
}

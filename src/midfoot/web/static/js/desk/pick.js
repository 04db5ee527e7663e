/** Points in the picture, by pointer, touch or keys: arrows move a cross, Enter puts it down, Esc leaves. */

/** @typedef {import("./overlay.js").Overlay} Overlay */

/** @type {(() => void) | null} */
let leave = null;

/**
 * Let the coach click `count` points; null when it is left. Only one picking at a time.
 * @param {Overlay} overlay @param {number} count @param {string} words
 * @returns {Promise<[number, number][] | null>}
 */
export function pick(overlay, count, words) {
  leave?.();
  const { canvas, picture } = overlay, prompt = document.getElementById("prompt");
  /** @type {[number, number][]} */ const points = [];
  overlay.points = points;
  overlay.cursor = null;
  picture.classList.add("picking");
  picture.scrollIntoView({ block: "nearest" });
  const say = () => {
    if (!prompt) return;
    prompt.hidden = false;
    prompt.textContent = `${words}${count > 1 ? ` Point ${Math.min(count, points.length + 1)} of ${count}.` : ""} Click in the picture, or move the cross by arrows (with Shift in large steps) and press Enter; Esc leaves.`;
  };
  say();
  return new Promise((resolve) => {
    /** @param {[number, number][] | null} found */
    const end = (found) => {
      canvas.removeEventListener("pointerdown", down);
      document.removeEventListener("keydown", key, true);
      picture.classList.remove("picking");
      overlay.cursor = null;
      if (!found) overlay.points = [];
      if (prompt) prompt.hidden = true;
      leave = null;
      overlay.draw();
      resolve(found);
    };
    /** @param {[number, number]} spot */
    const add = (spot) => { points.push(spot); overlay.draw(); if (points.length === count) end(points); else say(); };
    /** @param {PointerEvent} event */
    const down = (event) => { event.preventDefault(); event.stopPropagation(); add(overlay.spot(event)); };
    /** @param {KeyboardEvent} event */
    const key = (event) => {
      if (event.target instanceof HTMLElement && event.target.matches("input, textarea, select")) return;
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (way) {
        const by = event.shiftKey ? 20 : 2, [x, y] = overlay.cursor ?? points.at(-1) ?? [overlay.size[0] / 2, overlay.size[1] / 2];
        overlay.cursor = [Math.max(0, Math.min(overlay.size[0] - 1, x + by * way[0])), Math.max(0, Math.min(overlay.size[1] - 1, y + by * way[1]))];
        overlay.draw();
      } else if (event.key === "Enter" && overlay.cursor) add(overlay.cursor);
      else if (event.key === "Escape") end(null);
      else return;
      event.preventDefault();
      event.stopPropagation();
    };
    canvas.addEventListener("pointerdown", down);
    document.addEventListener("keydown", key, true);
    leave = () => end(null);
  });
}

/** Leave a picking that is under way. */
export function leavePick() { leave?.(); }

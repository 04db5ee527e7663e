/** What the coach sees: one key at the frame that stands, a search, or words of his own. */

import { drawInside } from "./kept.js";
import { isText } from "./keys.js";
import { newName } from "./review_send.js";
import { toast } from "./toast.js";

const NEW_KEY = "press the new key";

/**
 * @param {HTMLElement} root
 * @param {{mark: (body: any) => void, rekey: (body: any) => void}} does
 */
export function observing(root, does) {
  const palette = /** @type {HTMLElement} */ (document.getElementById("review-palette"));
  /** @type {{t_s: number, rep: number | null}} */
  let now = { t_s: 0, rep: null };
  /** The observation that waits for its new key. */
  let keyFor = "";
  const here = {
    on: false,
    toggle: () => (here.on ? here.end() : here.begin()),
    begin: () => {
      if (!palette.querySelector("#observations")) { toast("There is nothing to observe until the set is measured."); return; }
      here.on = true;
      palette.hidden = false;
      say();
      document.querySelector("[data-do=observe]")?.setAttribute("aria-expanded", "true");
      document.dispatchEvent(new CustomEvent("desk:observing", { detail: { on: true } }));
    },
    end: () => {
      here.on = false; keyFor = "";
      palette.hidden = true;
      document.querySelector("[data-do=observe]")?.setAttribute("aria-expanded", "false");
      document.dispatchEvent(new CustomEvent("desk:observing", { detail: { on: false } }));
    },
    /** @param {{t_s: number, rep: number | null}} at */
    at: (at) => { now = at; if (here.on) say(); },
    /** @param {string} html */
    draw: (html) => {
      drawInside(palette, html);
      const waits = palette.querySelector(`[data-rekey="${CSS.escape(keyFor)}"]`);
      if (keyFor && waits) waits.textContent = NEW_KEY;
      filter();
      say();
    },
  };

  const search = () => /** @type {HTMLInputElement | null} */ (document.getElementById("palette-search"));
  const rows = () => /** @type {HTMLElement[]} */ ([...palette.querySelectorAll("[data-observation]")]);
  function say() {
    const line = document.getElementById("palette-where");
    if (line) line.textContent = now.rep ? `rep ${now.rep}, ${now.t_s.toFixed(2)} s` : "move to a frame within a rep";
  }
  function filter() {
    const words = (search()?.value ?? "").toLowerCase().split(/\s+/).filter(Boolean);
    for (const row of rows()) row.hidden = !words.every((w) => row.dataset.find?.includes(w));
  }

  /** @param {{observation?: string, words?: string}} what @param {string} said */
  function see(what, said) {
    if (!now.rep) { toast("Move to a frame within a rep; what is seen belongs to one."); return; }
    does.mark({ rep: now.rep, t_s: now.t_s, id: newName(4), ...what });
    toast(`Rep ${now.rep}: ${said}`);
  }

  palette.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? /** @type {HTMLElement | null} */ (event.target.closest("button")) : null;
    if (!button) return;
    if (button.dataset.observe) see({ observation: button.dataset.observe }, button.querySelector("span")?.firstChild?.textContent ?? "");
    if (button.dataset.rekey) { keyFor = button.dataset.rekey; button.textContent = NEW_KEY; button.focus(); }
  });
  palette.addEventListener("input", filter);
  palette.addEventListener("submit", (event) => {
    event.preventDefault();
    const field = search();
    const words = field?.value.trim() ?? "";
    if (!field || !words) return;
    const left = rows().filter((r) => !r.hidden);
    if (left.length === 1) see({ observation: left[0].dataset.observation }, left[0].querySelector("span")?.firstChild?.textContent ?? "");
    else see({ words }, words);
    field.value = "";
    filter();
  });

  document.addEventListener("keydown", (event) => {
    if (!here.on) return;
    if (event.key === "Escape") {
      if (keyFor) { keyFor = ""; } else here.end();
      event.preventDefault(); event.stopPropagation();
      return;
    }
    if (event.ctrlKey || event.metaKey || event.altKey || event.key.length !== 1 || isText(event.target)) return;
    if (keyFor) {
      does.rekey({ observation: keyFor, key: event.key });
      keyFor = "";
    } else if (event.key === "/") search()?.focus();
    else {
      const row = rows().find((r) => r.dataset.key === event.key);
      if (!row) return;
      see({ observation: row.dataset.observation }, row.querySelector("span")?.firstChild?.textContent ?? "");
    }
    event.preventDefault(); event.stopPropagation();
  }, true);
  return here;
}

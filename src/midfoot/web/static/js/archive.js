/** The archive: charts drawn from the tables beside them, a point leads to its set at its time, cases by keyboard. */

import { draw } from "./chart.js";
import { bind } from "./keys.js";

for (const place of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-chart]"))) {
  const data = document.getElementById(place.dataset.chart ?? "");
  if (!data?.textContent) continue;
  const spec = JSON.parse(data.textContent);
  spec.width = Math.max(220, Math.min(700, place.clientWidth - 100));
  const signals = "toSets" in place.dataset ? { picked: (/** @type {any} */ value) => {
    const id = value?.set_id?.[0];
    if (id) location.href = `/sets/${id}#t=${value.at?.[0] ?? 0}`;
  } } : {};
  draw(place, spec, { signals });
}

const form = document.getElementById("filters");
// what is empty stays out of the address
form?.addEventListener("formdata", (event) => {
  const sent = /** @type {FormDataEvent} */ (event).formData;
  for (const [name, value] of [...sent.entries()]) if (!value) sent.delete(name);
});

const links = /** @type {HTMLAnchorElement[]} */ ([...document.querySelectorAll("[data-case]")]);
/** @param {number} by */
function step(by) {
  const now = links.indexOf(/** @type {any} */ (document.activeElement));
  const next = links[Math.max(0, Math.min(links.length - 1, now < 0 ? (by > 0 ? 0 : links.length - 1) : now + by))];
  next?.focus();
  next?.scrollIntoView({ block: "nearest" });
}
const group = { group: "Archive" };
bind("j", "next case", () => step(1), group);
bind("k", "case before", () => step(-1), group);
bind("f", "to the filters", () => document.getElementById("f-lift")?.focus(), group);
bind("t", "to the threshold that is suggested", () => {
  const head = document.getElementById("threshold");
  head?.setAttribute("tabindex", "-1");
  head?.focus();
}, group);
bind("n", "earlier cases", () => { /** @type {HTMLAnchorElement | null} */ (document.querySelector("a[rel=next]"))?.click(); }, group);
bind("p", "later cases", () => { /** @type {HTMLAnchorElement | null} */ (document.querySelector("a[rel=prev]"))?.click(); }, group);

/** Open sets: opened, answers read one by one, comments brought in, closed. */

import { post } from "./api.js";
import { hear } from "./events.js";
import { drawPage } from "./kept.js";

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
const id = at("open-set")?.dataset.id;
/** @param {string} words */
const say = (words) => { at("open-says").hidden = !words; at("open-says").textContent = words; };

at("open-form")?.addEventListener("submit", async (/** @type {Event} */ event) => {
  event.preventDefault();
  if (!at("open-what").value) return;
  try { location.href = `/open-sets/${(await post("/open-sets", { set: at("open-what").value }, { quiet: true })).id}`; }
  catch (error) { say(/** @type {Error} */ (error).message); }
});
/** @param {HTMLElement} b */
async function answered(b) {
  const answer = b.closest(".answer");
  const means = Object.fromEntries([...(answer?.querySelectorAll("[data-means]") ?? [])].map((e) => { const s = /** @type {HTMLSelectElement} */ (e); return [s.dataset.means, s.value]; }));
  await post(`/answers/${b.dataset.answer}`, { approved: !!b.dataset.ok, means });
  const next = answer?.nextElementSibling ?? answer?.previousElementSibling;
  answer?.remove();
  /** @type {HTMLElement | null | undefined} */ (next?.querySelector("button"))?.focus();
  if (!document.querySelector(".answer")) await drawPage({ otherwise: "#close" });
}

let asked = "";
/** What the buttons of the page do; the page is drawn anew beneath what is written. @type {Record<string, () => Promise<void>>} */
const deeds = {
  async close() { await post(`/open-sets/${id}/close`); await drawPage({ otherwise: "h1" }); },
  async make() { await post(`/open-sets/${id}/page`); say("Its page is being made."); },
  async fetch() { asked = (await post("/fetch-now")).job; say("Fetching; new answers show up here."); },
  async bring() {
    try { await post(`/open-sets/${id}/comments`, { text: at("comments").value }, { quiet: true }); await drawPage({ sent: at("comments") }); }
    catch (error) { say(/** @type {Error} */ (error).message); }
  },
};
document.addEventListener("click", async (event) => {
  const button = event.target instanceof Element ? /** @type {HTMLElement | null} */ (event.target.closest("#open-set button")) : null;
  if (button?.dataset.answer) await answered(button).catch(() => {});
  else if (button) await deeds[button.id]?.().catch(() => {});
});
hear("job", (job) => { if (job.id === asked && ["done", "failed"].includes(job.state)) { asked = ""; void drawPage(); } });

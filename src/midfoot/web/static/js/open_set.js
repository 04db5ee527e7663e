/** Open sets: opened, answers read one by one, comments brought in, closed. */

import { post } from "./api.js";
import { hear } from "./events.js";

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
for (const button of document.querySelectorAll("[data-answer]")) button.addEventListener("click", async () => {
  const b = /** @type {HTMLElement} */ (button);
  const means = Object.fromEntries([...(b.closest(".answer")?.querySelectorAll("[data-means]") ?? [])].map((e) => { const s = /** @type {HTMLSelectElement} */ (e); return [s.dataset.means, s.value]; }));
  await post(`/answers/${b.dataset.answer}`, { approved: !!b.dataset.ok, means });
  const next = b.closest(".answer")?.nextElementSibling;
  b.closest(".answer")?.remove();
  /** @type {HTMLElement | null | undefined} */ (next?.querySelector("button"))?.focus();
  if (!document.querySelector(".answer")) location.reload();
});
at("close")?.addEventListener("click", async () => { await post(`/open-sets/${id}/close`); location.reload(); });
at("make")?.addEventListener("click", async () => { await post(`/open-sets/${id}/page`); say("Its page is being made."); });
if (at("fetch")) {
  let asked = "";
  at("fetch").addEventListener("click", async () => { asked = (await post("/fetch-now")).job; say("Fetching; new answers show up here."); });
  hear("job", (job) => { if (job.id === asked && ["done", "failed"].includes(job.state)) location.reload(); });
}
at("bring")?.addEventListener("click", async () => {
  try { await post(`/open-sets/${id}/comments`, { text: at("comments").value }, { quiet: true }); location.reload(); }
  catch (error) { say(/** @type {Error} */ (error).message); }
});

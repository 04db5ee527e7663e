/** The page of work under way follows what happens. */

import { post } from "./api.js";
import { hear } from "./events.js";
import { drawPage } from "./kept.js";
import { sure } from "./sure.js";

/** @type {Map<string, string>} */
const states = new Map();
let timer = 0;

function again() { timer = 0; return drawPage({ otherwise: "#h-live" }); }

hear("job", (job) => {
  const before = states.get(job.id);
  states.set(job.id, job.state);
  const line = document.querySelector(`.work [data-job="${job.id}"]`);
  if (line instanceof HTMLElement && job.state === "running") {
    const bar = line.querySelector("progress");
    const says = line.querySelector("[data-says]");
    if (bar && job.progress !== null) bar.value = job.progress;
    if (says) says.textContent = job.message || "under way";
  }
  const live = job.state === "running" || job.state === "queued";
  const changed = before !== undefined ? before !== job.state && !(live && line) : live !== !!line;
  if (changed) timer ||= setTimeout(again, 600);
});

document.addEventListener("click", async (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-do]") : null;
  const id = button?.closest("[data-job]")?.getAttribute("data-job");
  if (!(button instanceof HTMLElement) || !id) return;
  const { ask, yes } = button.dataset;
  if (ask && !await sure(ask, yes)) return;
  try {
    await post(`/jobs/${id}/${button.dataset.do}${ask ? "?sure=true" : ""}`);
    await again();
  } catch { /* it was shown */ }
});

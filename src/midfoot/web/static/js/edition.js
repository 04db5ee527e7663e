/** Editions: begun, put in order by dragging or keys, exported. */

import { ask, post } from "./api.js";
import { hear } from "./events.js";
import { drawInside } from "./kept.js";
import { toast } from "./toast.js";

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
const root = at("edition"), id = root?.dataset.id;

at("new-edition")?.addEventListener("submit", async (/** @type {Event} */ event) => {
  event.preventDefault();
  const title = at("new-title");
  if (!title.value.trim()) { title.setAttribute("aria-invalid", "true"); title.focus(); toast("Give the edition a title first."); return; }
  location.href = `/editions/${(await post("/editions", { title: title.value, planned_on: at("new-day").value || null })).id}`;
});

/** @param {Element} [sent] the field that was sent */
async function again(sent) {
  const here = /** @type {HTMLElement | null} */ (document.activeElement?.closest(".segment"))?.dataset.id;
  const answer = await fetch(`/editions/${id}/order`).catch(() => null);
  if (answer?.ok) drawInside(at("order"), await answer.text(), { sent, otherwise: here && `.segment[data-id="${here}"]` });
}

/** @param {string[]} ids */
async function ordered(ids) { await post(`/editions/${id}/order`, { segments: ids }); await again(); }
const ids = () => [...document.querySelectorAll(".segment")].map((s) => /** @type {HTMLElement} */ (s).dataset.id ?? "");

if (root) {
  for (const name of ["e-title", "e-day"]) at(name).addEventListener("change", () => void post(`/editions/${id}`, { title: at("e-title").value || "Edition", planned_on: at("e-day").value || null }));
  at("add-form").addEventListener("submit", async (/** @type {Event} */ event) => {
    event.preventDefault();
    if (!at("add-set").value) return;
    await post(`/editions/${id}/segments`, { kind: at("add-kind").value, set: at("add-set").value });
    await again();
  });
  const order = at("order");
  order.addEventListener("click", async (/** @type {MouseEvent} */ event) => {
    const button = /** @type {HTMLElement} */ (event.target).closest("button");
    const segment = /** @type {HTMLElement | null} */ (button?.closest(".segment"));
    if (button?.id === "export") {
      try { await post(`/editions/${id}/export`, {}, { quiet: true }); at("export-says").textContent = "It is being exported; you can go on."; }
      catch (error) { at("export-says").textContent = /** @type {Error} */ (error).message; }
    } else if (segment && button?.matches("[data-out]")) { await ask("DELETE", `/segments/${segment.dataset.id}`); await again(); }
    else if (segment && button?.matches("[data-keep]")) { await post(`/segments/${segment.dataset.id}`, { words: /** @type {any} */ (segment.querySelector("[data-words]")).value }); await again(); toast("Kept."); }
  });
  order.addEventListener("change", async (/** @type {Event} */ event) => {
    const input = /** @type {HTMLInputElement} */ (event.target);
    if (!input.matches("[data-target]")) return;
    await post(`/segments/${/** @type {HTMLElement} */ (input.closest(".segment")).dataset.id}`, { target_s: Number(input.value) || 60 });
    await again(document.activeElement === input ? undefined : input);
  });
  order.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
    const segment = /** @type {HTMLElement} */ (event.target).closest(".segment");
    if (!segment || !event.altKey || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
    event.preventDefault();
    const all = ids(), from = all.indexOf(/** @type {HTMLElement} */ (segment).dataset.id ?? ""), to = from + (event.key === "ArrowUp" ? -1 : 1);
    if (to < 0 || to >= all.length) return;
    all.splice(to, 0, ...all.splice(from, 1));
    /** @type {HTMLElement} */ (segment).focus();
    void ordered(all);
  });
  let dragged = "";
  order.addEventListener("dragstart", (/** @type {DragEvent} */ event) => { dragged = /** @type {any} */ (event.target).closest?.(".segment")?.dataset.id ?? ""; });
  order.addEventListener("dragover", (/** @type {DragEvent} */ event) => {
    const over = /** @type {HTMLElement} */ (event.target).closest(".segment");
    for (const s of order.querySelectorAll(".over")) s.classList.remove("over");
    if (over && dragged) { event.preventDefault(); over.classList.add("over"); }
  });
  order.addEventListener("drop", (/** @type {DragEvent} */ event) => {
    const over = /** @type {HTMLElement | null} */ (/** @type {HTMLElement} */ (event.target).closest(".segment"));
    if (!over || !dragged) return;
    event.preventDefault();
    const all = ids().filter((s) => s !== dragged);
    all.splice(all.indexOf(over.dataset.id ?? ""), 0, dragged);
    dragged = "";
    void ordered(all);
  });
  hear("job", async (job) => {
    if (job.kind !== "edition") return;
    if (job.state === "done") { await again(); at("export-says").textContent = "Exported."; }
    else if (job.state === "failed") at("export-says").textContent = job.error || "It could not be exported.";
    else if (at("export-says")) at("export-says").textContent = `Exporting${job.message ? `: ${job.message}` : ""} ${Math.round(100 * (job.progress ?? 0))} %`;
  });
}

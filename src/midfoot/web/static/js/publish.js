/** A set goes out: publish, take back, copy the message, note consents; the page is drawn again after each. */

import { post } from "./api.js";
import { hear } from "./events.js";
import { drawInside } from "./kept.js";
import { sure } from "./sure.js";
import { toast } from "./toast.js";

const root = /** @type {HTMLElement} */ (document.getElementById("publish-root"));
const at = `/sets/${root.dataset.set}`;

async function again() {
  const answer = await fetch(`${at}/publish/part`, { headers: { accept: "text/html" } }).catch(() => null);
  if (answer?.ok) drawInside(root, await answer.text());
}

/** @param {string} path @param {unknown} body @param {Element | null} [sent] the form that it stood in */
async function send(path, body, sent) {
  const answer = await post(`${at}/${path}`, body);
  if (answer?.html) drawInside(root, answer.html, { sent });
  if (answer?.said) toast(answer.said);
}

/** @param {string} id */
async function copy(id) {
  const field = /** @type {HTMLInputElement | HTMLTextAreaElement | null} */ (document.getElementById(id));
  if (!field) return;
  try {
    await navigator.clipboard.writeText(field.value);
    toast("Copied.");
  } catch { // not on this origin: select it, so that the keys copy it
    field.select();
    toast("Selected: copy it with Ctrl+C.");
  }
}

root.addEventListener("click", async (event) => {
  const button = /** @type {HTMLElement | null} */ (event.target instanceof Element ? event.target.closest("button") : null);
  if (!button || button.getAttribute("type") === "submit") return;
  const { publish, back, withdraw, copy: field, confirm: question } = button.dataset;
  if (question && !await sure(question, button.textContent ?? undefined)) return;
  const wide = /** @type {HTMLInputElement | null} */ (root.querySelector(`[data-wide="${publish}"]`));
  if (publish) send("publish", { kind: publish, wide: wide?.checked ?? false });
  else if (back) send("publish/back", { kind: back });
  else if (withdraw) send("consents/back", { use: withdraw });
  else if (field) copy(field);
});

root.addEventListener("submit", (event) => {
  event.preventDefault();
  const form = /** @type {HTMLFormElement} */ (event.target);
  const values = Object.fromEntries(new FormData(form));
  if (form.dataset.message) send("publish/message", { kind: form.dataset.message, text: values.text }, form);
  else send("consents", values, form);
});

root.addEventListener("change", (event) => {
  const chosen = /** @type {HTMLSelectElement} */ (event.target);
  if (chosen.id !== "consent-use") return;
  const words = /** @type {HTMLTextAreaElement} */ (document.getElementById("consent-words"));
  words.value = chosen.selectedOptions[0].dataset.words ?? "";
});

hear("job", (job) => {
  if (job.kind !== "publish" || job.set !== root.dataset.set) return;
  const share = root.querySelector("progress");
  const words = root.querySelector("[data-words]");
  if (job.state === "running" && share && words) {
    share.value = job.progress ?? 0;
    words.textContent = job.message || "Begun";
  } else if (["done", "failed", "cancelled"].includes(job.state) && share) again();
});


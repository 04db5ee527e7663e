/** Links for lifters: made, copied, taken back. */

import { post } from "./api.js";
import { toast } from "./toast.js";

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));

at("link-form").addEventListener("submit", async (/** @type {Event} */ event) => {
  event.preventDefault();
  const made = await post("/links", { lifter: at("link-lifter").value, days: Number(at("link-days").value) || 14 });
  at("link-message").value = made.message;
  at("link-made").hidden = false;
  at("link-message").focus();
});
for (const button of document.querySelectorAll("[data-revoke]")) button.addEventListener("click", async () => {
  const b = /** @type {HTMLElement} */ (button);
  await post(`/links/${b.dataset.revoke}/revoke${"there" in b.dataset ? "?there=true" : ""}`);
  const gone = document.createElement("span");
  gone.className = "soft"; gone.textContent = "taken back";
  b.replaceWith(gone);
  toast("The link opens nothing any more.");
});

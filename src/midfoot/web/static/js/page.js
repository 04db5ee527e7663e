/** What every page has: the theme switch, the sheet of keys, ways between pages, copying, words left by the last page. */

import { bind, toggleSheet } from "./keys.js";
import { sure } from "./sure.js";
import { toast } from "./toast.js";

const root = document.documentElement;
const theme = document.getElementById("theme");
const dark = matchMedia("(prefers-color-scheme: dark)");

function isDark() { return root.dataset.theme ? root.dataset.theme === "dark" : dark.matches; }
function sayTheme() { if (theme) theme.textContent = isDark() ? "Light" : "Dark"; }

if (theme) {
  theme.hidden = false;
  sayTheme();
  dark.addEventListener("change", sayTheme);
  theme.addEventListener("click", () => {
    root.dataset.theme = isDark() ? "light" : "dark";
    try { localStorage.setItem("midfoot.theme", root.dataset.theme); } catch { /* for this page only */ }
    sayTheme();
    document.dispatchEvent(new CustomEvent("theme"));
  });
}

if (document.body.hasAttribute("data-inside")) {
  bind("?", "these keys", toggleSheet);
  const ways = [["i", "/", "inbox"], ["l", "/lifters", "lifters"], ["e", "/editions", "editions"], ["w", "/jobs", "work under way"]];
  for (const [key, address, name] of ways) {
    bind(`Alt+${key}`, `to the ${name}`, () => { location.href = address; });
  }
}

/** A button with data-copy names the element whose text it copies. */
document.addEventListener("click", async (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-copy]") : null;
  if (!(button instanceof HTMLElement)) return;
  const from = document.getElementById(button.dataset.copy ?? "");
  if (!from) return;
  const text = from instanceof HTMLTextAreaElement || from instanceof HTMLInputElement ? from.value : from.innerText;
  try {
    await navigator.clipboard.writeText(text);
    toast("Copied.");
  } catch {
    if (from instanceof HTMLTextAreaElement || from instanceof HTMLInputElement) from.select();
    else getSelection()?.selectAllChildren(from);
    toast("The browser did not let it be copied; it is selected, press Ctrl+C.");
  }
});

/** A form with data-confirm asks once, in the page, before it is sent. */
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.dataset.confirm || form.dataset.sure) return;
  event.preventDefault();
  if (!await sure(form.dataset.confirm, form.dataset.yes)) return;
  form.dataset.sure = "1";
  form.requestSubmit(event.submitter);
});

/** Shortcuts of a page and the sheet that lists them. A shortcut that is not in the sheet does not exist. */

/** @typedef {{key: string, label: string, group: string, run: (event: KeyboardEvent) => void, when?: () => boolean, listed: boolean}} Shortcut */

/** @type {Shortcut[]} */
const shortcuts = [];
const OFF = "midfoot.single_keys_off";

/** Whether single letters act as shortcuts (people who dictate switch them off). */
export function singleKeys() {
  try { return localStorage.getItem(OFF) !== "1"; } catch { return true; }
}

/** @param {boolean} on */
export function setSingleKeys(on) {
  try { on ? localStorage.removeItem(OFF) : localStorage.setItem(OFF, "1"); } catch { /* stays as it was */ }
}

/**
 * Bind a shortcut and list it in the sheet.
 * @param {string} key what KeyboardEvent.key gives ("j", "ArrowLeft", "?"), with "Shift+", "Alt+", "Ctrl+" before it
 * @param {string} label what it does, in a few words
 * @param {(event: KeyboardEvent) => void} run
 * @param {{group?: string, when?: () => boolean, listed?: boolean}} [more] the sheet's heading; when it applies; whether it has
 *   a line of its own (false for one that another line names too, such as 2 beside "1 to 9")
 */
export function bind(key, label, run, more = {}) {
  shortcuts.push({ key, label, run, group: more.group ?? "Everywhere", when: more.when, listed: more.listed ?? true });
}

/** @param {KeyboardEvent} event */
function nameOf(event) {
  const held = [event.ctrlKey || event.metaKey ? "Ctrl+" : "", event.altKey ? "Alt+" : ""].join("");
  const shift = event.shiftKey && (event.key.length > 1 || /[a-z]/i.test(event.key)) ? "Shift+" : "";
  // with Alt some keyboards give another character: the key's place says which letter was meant
  const letter = event.altKey && /^Key[A-Z]$/.test(event.code) ? event.code.slice(3).toLowerCase() : event.key;
  return held + shift + (letter.length === 1 && shift ? letter.toLowerCase() : letter);
}

/** @param {EventTarget | null} target whether a key typed there is text */
export function isText(target) {
  return target instanceof HTMLElement
    && (target.isContentEditable || target.matches("textarea, select, input:not([type=checkbox], [type=radio], [type=button])"));
}

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.isComposing) return;
  const name = nameOf(event);
  const letter = event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey;
  if (isText(event.target) && !event.ctrlKey && !event.metaKey && !event.altKey) {
    if (event.key === "Escape" && event.target instanceof HTMLElement) event.target.blur();
    return;
  }
  if (letter && !singleKeys() && event.key !== "?") return;
  if (document.querySelector("dialog[open]") && event.key !== "?") return;
  if ((event.key === " " || event.key === "Enter") && event.target instanceof Element
    && event.target.closest("button, a, summary, input, video")) return;
  const found = shortcuts.find((s) => s.key === name && (!s.when || s.when()));
  if (!found) return;
  event.preventDefault();
  found.run(event);
});

const SAID = { ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓", " ": "Space", Escape: "Esc" };

/** @param {string} key */
function said(key) {
  const parts = key === "+" ? ["+"] : key.split(/\+(?=.)/);
  return parts.map((p) => {
    const kbd = document.createElement("kbd");
    kbd.textContent = SAID[/** @type {keyof typeof SAID} */ (p)] ?? (p.length === 1 ? p.toUpperCase() : p);
    return kbd;
  });
}

/** Fill an element with all shortcuts, by group. @param {HTMLElement} into */
export function listKeys(into) {
  const groups = new Map();
  for (const s of shortcuts.filter((one) => one.listed)) groups.set(s.group, [...(groups.get(s.group) ?? []), s]);
  into.replaceChildren(...[...groups].map(([group, list]) => {
    const section = document.createElement("section");
    const head = document.createElement("h3");
    head.textContent = group;
    const dl = document.createElement("dl");
    for (const s of list) {
      const dt = document.createElement("dt");
      dt.append(...said(s.key));
      const dd = document.createElement("dd");
      dd.textContent = s.label;
      dl.append(dt, dd);
    }
    section.append(head, dl);
    return section;
  }));
}

/** Open or close the sheet. */
export function toggleSheet() {
  const sheet = /** @type {HTMLDialogElement | null} */ (document.getElementById("keys"));
  if (!sheet) return;
  if (sheet.open) { sheet.close(); return; }
  const head = document.createElement("h2");
  head.id = "keys-title";
  head.textContent = "Keys on this page";
  const list = document.createElement("div");
  list.className = "keys";
  listKeys(list);
  for (const more of document.querySelectorAll("dl[data-keys]")) {
    const section = document.createElement("section");
    const title = document.createElement("h3");
    title.textContent = more instanceof HTMLElement ? more.dataset.keys ?? "" : "";
    const copy = document.createElement("dl");
    copy.append(...[...more.children].map((c) => c.cloneNode(true)));
    section.append(title, copy);
    list.append(section);
  }
  const check = document.createElement("p");
  check.className = "check";
  const box = document.createElement("input");
  box.type = "checkbox"; box.id = "single-keys"; box.checked = singleKeys();
  box.addEventListener("change", () => setSingleKeys(box.checked));
  const label = document.createElement("label");
  label.htmlFor = "single-keys";
  label.textContent = "Single letters work as shortcuts (switch off when you dictate)";
  check.append(box, label);
  const close = document.createElement("button");
  close.type = "button"; close.textContent = "Close"; close.addEventListener("click", () => sheet.close());
  sheet.replaceChildren(head, list, check, close);
  sheet.showModal();
  sheet.scrollTop = 0;
}

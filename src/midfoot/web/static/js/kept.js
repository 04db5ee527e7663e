/** Drawing a part of a page again beneath the coach's hands: what he has opened, written or is writing stays.
 *
 * A field that holds the focus never leaves the page, not even for a moment: it would lose the focus, and the next
 * letters would be shortcuts. So what is kept stays where it is and all around it is exchanged.
 */

import { isText } from "./keys.js";

/** @typedef {HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement} Field */

/** Whether something else stands in a field than it was drawn with. @param {Field} field */
export function isWritten(field) {
  if (field instanceof HTMLSelectElement) {
    const options = [...field.options];
    if (!field.multiple && !options.some((o) => o.defaultSelected)) return field.selectedIndex > 0; // the first is chosen by itself
    return options.some((o) => o.selected !== o.defaultSelected);
  }
  if (field instanceof HTMLInputElement) {
    if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
    if (["hidden", "file", "submit", "button", "reset", "image"].includes(field.type)) return false;
  }
  return field.value !== field.defaultValue;
}

/** What a line of a list is about. */
const ABOUT = ["job", "id", "part", "change", "kind"];

/** By what an element without a name of its own is known again. @param {Element} element */
function looksOf(element) {
  const line = /** @type {HTMLElement | null | undefined} */ (element.parentElement?.closest(ABOUT.map((a) => `[data-${a}]`).join()));
  const about = ABOUT.map((a) => line?.dataset[a] ?? "").join();
  const own = element instanceof HTMLElement ? { ...element.dataset } : {};
  const known = Object.keys(own).length ? JSON.stringify(own) : element.tagName === "BUTTON" || element.tagName === "A" ? element.textContent : element.className;
  return [about, element.tagName, element.getAttribute("name"), known].join(" ");
}

/** The same element in what is drawn next, null where there is none. @param {Element} element @param {Element} old @param {Element} fresh @returns {Element | null} */
function twin(element, old, fresh) {
  if (element === old) return fresh;
  if (element.id) return fresh.querySelector(`#${CSS.escape(element.id)}`);
  const anchor = element.parentElement?.closest("[id]") ?? old;
  const [from, to] = old.contains(anchor) && anchor !== old ? [anchor, twin(anchor, old, fresh)] : [old, fresh];
  const looks = looksOf(element);
  /** @param {Element} within */
  const alike = (within) => [...within.querySelectorAll(element.tagName)].filter((e) => looksOf(e) === looks);
  return to ? alike(to)[alike(from).indexOf(element)] ?? null : null;
}

/** @param {Element} to @param {Element} from */
function copyAttributes(to, from) {
  for (const { name } of [...to.attributes]) if (!from.hasAttribute(name)) to.removeAttribute(name);
  for (const { name, value } of from.attributes) if (to.getAttribute(name) !== value) to.setAttribute(name, value);
}

/** Make of `old` what `fresh` is; what is kept is not touched. @param {Element} old @param {Element} fresh @param {Map<Element, Element>} kept by its twin */
function around(old, fresh, kept) {
  if (kept.has(old)) return;
  copyAttributes(old, fresh);
  /** @param {Element} parent @param {Element} inside */
  const childWith = (parent, inside) => [...parent.children].find((c) => c.contains(inside));
  /** @type {Map<Node, Element>} */
  const stays = new Map();
  for (const [mine, its] of kept) {
    const a = old.contains(mine) && childWith(old, mine), b = fresh.contains(its) && childWith(fresh, its);
    if (a && b) stays.set(b, a);
  }
  const staying = new Set(stays.values());
  for (const node of [...old.childNodes]) if (!staying.has(/** @type {Element} */ (node))) node.remove();
  /** @type {ChildNode | null} */
  let last = null;
  for (const node of [...fresh.childNodes]) {
    const mine = stays.get(node);
    if (mine) around(mine, /** @type {Element} */ (node), kept);
    else if (last) last.after(node);
    else old.prepend(node);
    last = mine ?? node;
  }
}

/** What was drawn open: where it is closed, the coach has closed it. @type {WeakSet<Element>} */
const drawnOpen = new WeakSet(document.querySelectorAll("details[open]"));

/** @param {Element} old @param {Element} fresh */
function keepOpen(old, fresh) {
  for (const mine of old.querySelectorAll("details")) {
    const its = twin(mine, old, fresh);
    if (!(its instanceof HTMLDetailsElement)) continue;
    const open = its.open ? mine.open || !drawnOpen.has(mine) : mine.open;
    if (its.open) { drawnOpen.add(mine); drawnOpen.add(its); }
    its.open = open;
  }
}

/** What waits until the field that has no place in it is left. @type {WeakMap<Element, {fresh: Element, how: Drawing}>} */
const waiting = new WeakMap();

/** @param {Element} old @param {Element} fresh @param {Drawing} how */
function later(old, fresh, how) {
  if (!waiting.has(old)) {
    old.addEventListener("focusout", () => setTimeout(() => {
      const last = waiting.get(old);
      waiting.delete(old);
      if (last && old.isConnected) draw(old, last.fresh, last.how);
    }), { once: true });
  }
  waiting.set(old, { fresh, how });
}

/**
 * @typedef {object} Drawing
 * @property {Element | null} [sent] what was sent and holds nothing any more that is to be kept
 * @property {string} [otherwise] what gets the focus where what held it is gone
 */

/**
 * Put `fresh` in the place of `old`. What the coach has written stays, with the focus, the caret and what he has
 * opened; all else is the new. Where he writes in a field that is gone in the new it is drawn once he has left it.
 * @param {Element} old stays the same element
 * @param {Element} fresh
 * @param {Drawing} [how]
 */
export function draw(old, fresh, how = {}) {
  const sent = how.sent, active = document.activeElement;
  const focused = active && active !== old && old.contains(active) ? active : null;
  const writes = focused && isText(focused) && !sent?.contains(focused);
  const next = focused && twin(focused, old, fresh);
  if (writes && !next) { later(old, fresh, how); return; }
  waiting.delete(old);
  /** @type {Map<Element, Element>} */
  const kept = new Map();
  if (writes && next) kept.set(focused, next);
  for (const field of /** @type {NodeListOf<Field>} */ (old.querySelectorAll("input, select, textarea"))) {
    const its = sent?.contains(field) || !isWritten(field) ? null : /** @type {Field | null} */ (twin(field, old, fresh));
    if (!its) continue;
    if (its instanceof HTMLSelectElement || field instanceof HTMLSelectElement) {
      if (its.value !== field.value) kept.set(field, its);
    } else if (field.type === "checkbox" || field.type === "radio") {
      if (/** @type {HTMLInputElement} */ (its).checked !== /** @type {HTMLInputElement} */ (field).checked) kept.set(field, its);
    } else if (its.defaultValue !== field.value) { field.defaultValue = its.defaultValue; kept.set(field, its); }
  }
  keepOpen(old, fresh);
  for (const wrong of /** @type {NodeListOf<HTMLElement>} */ (old.querySelectorAll("[data-wrong]:not([hidden])"))) {
    const its = sent?.contains(wrong) ? null : /** @type {HTMLElement | null} */ (twin(wrong, old, fresh));
    if (its) { its.textContent = wrong.textContent; its.hidden = false; }
  }
  around(old, fresh, kept);
  if (!focused || document.activeElement === focused) return;
  const given = (next?.isConnected ? next : null) ?? (how.otherwise ? old.querySelector(how.otherwise) : null);
  if (given instanceof HTMLElement) given.focus({ preventScroll: true });
}

/** The page's main part anew, as the desk gives it now. @param {Drawing} [how] */
export async function drawPage(how) {
  const answer = await fetch(location.href, { headers: { accept: "text/html" } }).catch(() => null);
  const mine = document.querySelector("main");
  if (!answer?.ok || !mine) return; // it stays as it is until something happens again
  const its = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("main");
  if (its) drawInside(mine, its.innerHTML, how);
}

/** The same for all that stands in a box. @param {Element} box @param {string} html @param {Drawing} [how] */
export function drawInside(box, html, how) {
  const fresh = /** @type {Element} */ (box.cloneNode(false));
  fresh.innerHTML = html;
  draw(box, fresh, how);
}

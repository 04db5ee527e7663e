/** Buttons and keys of the viewing half of a set: what each does to the player and its parts. */

import { get } from "../api.js";
import { bind, toggleSheet } from "../keys.js";

const GROUP = "Picture";
/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));

/** Let the buttons do what they say. @param {any} desk the page's SetDesk */
export function controls(desk) {
  const does = {
    back: () => desk.player.step(-1), on: () => desk.player.step(1), play: () => desk.player.toggle(),
    "loop-rep": () => desk.loop("rep"), "loop-part": () => desk.loop("part"),
  };
  for (const b of document.querySelectorAll("[data-do]")) b.addEventListener("click", () => does[/** @type {keyof typeof does} */ (/** @type {HTMLElement} */ (b).dataset.do)]?.());
  for (const b of document.querySelectorAll("[data-rate]")) b.addEventListener("click", () => { desk.player.rate = Number(/** @type {HTMLElement} */ (b).dataset.rate); });
  for (const b of document.querySelectorAll("[data-layer]")) b.addEventListener("click", () => desk.layer(/** @type {string} */ (/** @type {HTMLElement} */ (b).dataset.layer)));
  at("keys-button").addEventListener("click", toggleSheet);
  at("overlay").addEventListener("click", async (/** @type {MouseEvent} */ event) => {
    if (at("picture").classList.contains("picking") || desk.overlay.points.length) return;
    if (await desk.repairs.candidate(desk.overlay.spot(event))) return;
    desk.player.toggle();
  });
  at("mechanics-part").addEventListener("toggle", () => { if (at("mechanics-part").open && !desk.mechanicsShown) void desk.mechanics(); });
  at("chart-reps").addEventListener("change", () => desk.charts.show(at("chart-reps").value.split(",").map(Number)));
  at("chart-other")?.addEventListener("change", async () => {
    const set = at("chart-other").value, found = set ? await get(`/sets/${desk.set}/against/${set}?clip=${desk.clip}`) : { reps: [], why: "" };
    desk.charts.lay(found.reps);
    at("chart-why").textContent = found.why || (set ? "The earlier set is drawn in broken lines." : "");
    at("chart-why").hidden = !set;
  });
}

/** Bind the keys; plain letters are quiet while the observation list is open. @param {any} desk the page's SetDesk */
export function keys(desk) {
  const p = desk.player, free = () => !desk.observing;
  /** @type {[string, string, () => void, boolean?, boolean?][]} */
  const rows = [
    [" ", "play or stop", () => p.toggle()],
    ["ArrowLeft", "a frame back", () => p.step(-1)], ["ArrowRight", "a frame on", () => p.step(1)],
    [",", "a frame back", () => p.step(-1), false, false], [".", "a frame on", () => p.step(1), false, false],
    ["Shift+ArrowLeft", "ten frames back", () => p.step(-10)], ["Shift+ArrowRight", "ten frames on", () => p.step(10)],
    ["j", "a second back", () => { p.pause(); p.seek(p.time - 1); }, true], ["l", "a second on", () => { p.pause(); p.seek(p.time + 1); }, true],
    ["[", "rep before", () => desk.rep(-1), true], ["]", "next rep", () => desk.rep(1), true],
    ["f", "next finding", () => desk.nextFinding(1), true], ["Shift+f", "finding before", () => desk.nextFinding(-1), true],
    ["-", "slower", () => p.faster(-1), true], ["+", "faster", () => p.faster(1), true], ["0", "full speed", () => { p.rate = 1; }, true],
    ["r", "repeat this rep, or end it", () => desk.loop("rep"), true], ["h", "repeat this part, or end it", () => desk.loop("part"), true],
    ["Home", "to the start", () => { p.pause(); p.show(0); }], ["End", "to the end", () => { p.pause(); p.show(p.clock.count - 1); }],
    ["v", "evidence in the picture", () => desk.layer("evidence"), true], ["b", "bar path of this rep", () => desk.layer("path"), true],
    ["y", "joints", () => desk.layer("body"), true], ["g", "moment arms", () => desk.layer("arms"), true], ["u", "vertical", () => desk.layer("vertical"), true],
    ["c", "side by side, or one picture again", () => { if (desk.beside.other) desk.beside.close(); else void desk.beside.open(); }, true],
    ["s", "mechanics and load", () => { const d = at("mechanics-part"); d.open = !d.open; if (d.open) d.scrollIntoView({ block: "nearest" }); }, true],
    ["q", "put right: the bar is here", () => desk.repairs.open("bar_at"), true],
    ["i", "put right: a rep is missing here", () => desk.repairs.open("rep"), true],
    ["Shift+i", "put right: this is no rep", () => desk.repairs.open("no_rep"), true],
  ];
  for (const [key, words, run, letter, listed] of rows) bind(key, words, run, { group: GROUP, when: letter ? free : undefined, listed });
  for (let n = 1; n <= 9; n++) bind(String(n), "to rep 1 (2 to rep 2, and so on)", () => desk.toRep(n), { group: GROUP, when: () => free() && !!desk.scene?.rep(n), listed: n === 1 });
}

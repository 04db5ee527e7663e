/** Showing an edition: next, back, repeat a part, draw. Everything by keys too; nothing private is on this page. */

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
const plan = JSON.parse(at("plan").textContent);
const video = /** @type {HTMLVideoElement} */ (at("video")), canvas = /** @type {HTMLCanvasElement} */ (at("ink"));
const KIND = { review: "Review", recap: "Last edition's open set", open: "What do you see?" };
let now = 0, looping = false, line = -1;
/** @type {[number, number][][]} strokes, in shares of the picture */ let strokes = [];

/** @param {number} k */
function show(k) {
  now = Math.max(0, Math.min(plan.segments.length - 1, k));
  const segment = plan.segments[now];
  video.src = segment.video;
  at("title").textContent = `${now + 1} of ${plan.segments.length} · ${KIND[/** @type {keyof typeof KIND} */ (segment.kind)]}: ${segment.title}`;
  at("back").disabled = now === 0; at("next").disabled = now === plan.segments.length - 1;
  line = -1; clear(); words();
  loop(false);
}

function words() {
  const lines = plan.segments[now].lines, t = video.currentTime;
  const k = lines.findIndex((/** @type {any} */ l) => t >= l.from_s - 0.05 && t < l.to_s);
  if (looping && line >= 0 && t >= lines[line].to_s - 0.06) { video.currentTime = lines[line].from_s; return; }
  if (k === line && at("words").textContent) return;
  line = k;
  at("words").textContent = k >= 0 ? lines[k].words : "";
}

/** @param {boolean} [on] */
function loop(on = !looping) { looping = on && line >= 0; at("loop").setAttribute("aria-pressed", String(looping)); }
function play() { if (video.paused) void video.play().catch(() => {}); else video.pause(); }
function slow() { const on = video.playbackRate === 1; video.playbackRate = on ? 0.25 : 1; at("slow").setAttribute("aria-pressed", String(on)); }
function drawing() { const on = !at("stage").classList.contains("drawing"); at("stage").classList.toggle("drawing", on); at("draw").setAttribute("aria-pressed", String(on)); if (on) video.pause(); }
function clear() { strokes = []; ink(); }

function ink() {
  const box = canvas.getBoundingClientRect(), c = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  canvas.width = box.width; canvas.height = box.height;
  c.lineCap = c.lineJoin = "round";
  for (const [width, colour] of /** @type {[number, string][]} */ ([[8, "rgb(20 24 30 / .8)"], [4, "#e89f24"]])) for (const s of strokes) {
    c.beginPath();
    s.forEach(([x, y], i) => (i ? c.lineTo(x * box.width, y * box.height) : c.moveTo(x * box.width, y * box.height)));
    c.lineWidth = width; c.strokeStyle = colour; c.stroke();
  }
}

/** @param {PointerEvent} e @returns {[number, number]} */
const spot = (e) => { const b = canvas.getBoundingClientRect(); return [(e.clientX - b.left) / b.width, (e.clientY - b.top) / b.height]; };
canvas.addEventListener("pointerdown", (e) => { canvas.setPointerCapture(e.pointerId); strokes.push([spot(e)]); ink(); });
canvas.addEventListener("pointermove", (e) => { if (e.buttons && strokes.length) { strokes[strokes.length - 1].push(spot(e)); ink(); } });
new ResizeObserver(ink).observe(canvas);
video.addEventListener("timeupdate", words);
video.addEventListener("play", () => { at("play").textContent = "Stop"; clear(); at("host").classList.add("quiet"); });
video.addEventListener("pause", () => { at("play").textContent = "Play"; at("host").classList.remove("quiet"); });

/** @type {Record<string, () => void>} */
const does = {
  back: () => show(now - 1), next: () => show(now + 1), play, loop: () => loop(), slow, draw: drawing, clear,
  whole: () => { if (document.fullscreenElement) void document.exitFullscreen(); else void document.documentElement.requestFullscreen().catch(() => {}); },
};
for (const [id, run] of Object.entries(does)) at(id).addEventListener("click", run);
/** @type {Record<string, string>} */
const keys = { ArrowRight: "next", ArrowLeft: "back", PageDown: "next", PageUp: "back", " ": "play", r: "loop", s: "slow", d: "draw", c: "clear", f: "whole" };
document.addEventListener("keydown", (event) => {
  const name = keys[event.key];
  if (!name || event.ctrlKey || event.altKey || event.metaKey || (event.key === " " && /** @type {HTMLElement} */ (event.target).tagName === "BUTTON")) return;
  event.preventDefault();
  does[name]();
});
show(0);

/** What a measured set is at a moment, from the numbers of scene.json. No drawing, no page. */

/**
 * The row whose time is nearest, -1 when none lies within reach.
 * @param {(number | null)[]} times ascending @param {number} t_s @param {number} reach
 */
export function rowAt(times, t_s, reach) {
  let low = 0, high = times.length - 1;
  if (high < 0) return -1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (/** @type {number} */ (times[middle]) < t_s) low = middle + 1; else high = middle;
  }
  const before = Math.max(0, low - 1);
  const i = Math.abs(/** @type {number} */ (times[before]) - t_s) <= Math.abs(/** @type {number} */ (times[low]) - t_s) ? before : low;
  return Math.abs(/** @type {number} */ (times[i]) - t_s) <= reach ? i : -1;
}

/** A value with the digits that its sd allows, as the report writes it. @param {number} value @param {number | null} sd */
export function written(value, sd) {
  if (!sd || !Number.isFinite(sd) || sd <= 0) return [minus(value.toFixed(Math.abs(value) < 10 ? 2 : 0)), ""];
  const digits = Math.max(0, Math.min(3, -Math.floor(Math.log10(sd * 1.05))));
  return [minus(value.toFixed(digits)), Math.max(sd, 10 ** -digits).toFixed(digits)];
}

/** @param {string} text */
function minus(text) { return text.replace("-", Number(text) ? "−" : ""); }

/** @param {number} value @param {number | null} sd @param {string} unit */
export function said(value, sd, unit) {
  const [number, spread] = written(value, sd);
  return spread ? `${number} ${unit} (sd ${spread})` : `${number} ${unit}`;
}

export class Scene {
  /** @param {any} found scene.json */
  constructor(found) {
    /** @type {any} */ this.raw = found;
    this.middle_s = found.reps.map((/** @type {any} */ r) => (r.start_s + r.end_s) / 2);
  }

  /** @param {number} t_s */
  repAt(t_s) { return this.raw.reps.find((/** @type {any} */ r) => r.start_s <= t_s + 1e-6 && t_s <= r.end_s + 1e-6) ?? null; }
  /** @param {number} n */
  rep(n) { return this.raw.reps.find((/** @type {any} */ r) => r.n === n) ?? null; }
  /** @param {any} rep @param {number} t_s */
  partAt(rep, t_s) { return rep.parts.find((/** @type {any} */ p) => t_s <= p.end_s + 1e-6) ?? rep.parts.at(-1) ?? null; }

  /** Which rep and part a moment is, in words. @param {number} t_s */
  now(t_s) {
    const rep = this.repAt(t_s);
    if (rep) {
      const part = this.partAt(rep, t_s);
      const tail = rep.outcome === "completed" ? "" : `, ${rep.outcome.replace("_", " ")}`;
      return { rep, part, words: `${rep.words}, ${part?.words ?? ""}${tail}` };
    }
    const phase = this.raw.phases.find((/** @type {any} */ p) => p.start_s <= t_s && t_s <= p.end_s);
    return { rep: null, part: null, words: phase ? phase.words : "outside the measured part" };
  }

  /** The bar at a moment: place px, whether seen, forward and height with sd; null where it was not followed. @param {number} t_s */
  bar(t_s) {
    const b = this.raw.bar, i = rowAt(b.t_s, t_s, 0.1);
    if (i < 0 || b.x[i] === null) return null;
    return {
      x: b.x[i], y: b.y[i], seen: !!b.seen[i], forward: b.forward?.[i] ?? null, up: b.up?.[i] ?? null,
      sd_forward: b.sd_forward?.[i] ?? null, sd_up: b.sd_up?.[i] ?? null,
    };
  }

  /** Height above the rep's own low (deadlift: the floor) and way forward of its own vertical, mm with sd. @param {number} t_s */
  place(t_s) {
    const rep = this.repAt(t_s), here = this.bar(t_s);
    if (!rep || !here || rep.reference_s === null) return null;
    const zero = this.bar(rep.reference_s);
    if (!zero || here.up === null || zero.up === null) return null;
    return {
      rep, here, zero,
      up: here.up - zero.up, sd_up: Math.hypot(here.sd_up ?? 0, zero.sd_up ?? 0),
      forward: this.raw.forward_px ? here.forward - zero.forward : null,
      sd_forward: Math.hypot(here.sd_forward ?? 0, zero.sd_forward ?? 0),
    };
  }

  /** A joint at a moment, between the two looks about it: x, y px and state (0 hidden, 1 inferred, 2 seen). @param {string} name @param {number} t_s */
  joint(name, t_s) {
    const body = this.raw.body, joint = body.joints[name], times = body.t_s;
    if (!joint || !times.length) return null;
    const i = rowAt(times, t_s, 0.12);
    if (i < 0 || !joint.state[i] || joint.x[i] === null) return { x: 0, y: 0, state: 0 };
    const k = times[i] < t_s ? Math.min(i + 1, times.length - 1) : Math.max(i - 1, 0);
    if (k === i || joint.x[k] === null || Math.abs(times[k] - times[i]) > 0.2) return { x: joint.x[i], y: joint.y[i], state: joint.state[i] };
    const share = (t_s - times[i]) / (times[k] - times[i]);
    return {
      x: joint.x[i] + share * (joint.x[k] - joint.x[i]), y: joint.y[i] + share * (joint.y[k] - joint.y[i]),
      state: Math.min(joint.state[i], joint.state[k]) || joint.state[i],
    };
  }

  /** What is said of a single moment of a rep, while that moment stands in the picture. @param {number} t_s @param {number} reach */
  figures(t_s, reach) {
    const rep = this.repAt(t_s);
    return rep?.figures.find((/** @type {any} */ f) => Math.abs(f.at_s - t_s) <= reach) ?? null;
  }

  /** The rep that a moment belongs to or comes before; the last one after all. @param {number} t_s */
  repNear(t_s) { return this.repAt(t_s) ?? this.raw.reps.find((/** @type {any} */ r) => r.start_s > t_s) ?? this.raw.reps.at(-1) ?? null; }
}

/**
 * The moment of rep `b` that answers a moment of rep `a`: their shared moments meet, in between in proportion.
 * @param {any} a @param {any} b @param {number} t_s
 */
export function answering(a, b, t_s) {
  const pairs = [];
  for (const m of a.moments) {
    const other = b.moments.find((/** @type {any} */ o) => o.name === m.name);
    if (other) pairs.push([m.at_s, other.at_s]);
  }
  if (!pairs.length) return b.start_s + (t_s - a.start_s);
  if (t_s <= pairs[0][0]) return Math.max(0, pairs[0][1] + (t_s - pairs[0][0]));
  for (let i = 1; i < pairs.length; i++) {
    const [t0, u0] = pairs[i - 1], [t1, u1] = pairs[i];
    if (t_s <= t1) return t1 > t0 ? u0 + (u1 - u0) * (t_s - t0) / (t1 - t0) : u1;
  }
  const [t, u] = pairs[pairs.length - 1];
  return u + (t_s - t);
}

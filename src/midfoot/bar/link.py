"""Which of the things followed is the bar: found, unsure, or not found, with reasons.

Boxes are connected over the clip (`tracklets`), every path is measured (`link_motion`) and held against
everybody's hands (`link_hands`). What moves up and down as this lift does, smoothly, on the screen and in the
room, with hands on it, is the bar. Of the ends that go together the larger is the nearer.

A confident wrong path is the worst answer: `found` asks for good evidence and a clear lead over every other
object. Rule for the next author: each kind of evidence is a number 0..1 with its reason; none of them decides
alone, and none is tuned on a clip that is used to judge.
"""

from __future__ import annotations

import numpy as np
from attrs import evolve, frozen

from midfoot.bar.coarse import Coarse
from midfoot.bar.link_hands import Hands, away_from_joints, hands_with, main_carrier
from midfoot.bar.link_motion import Thing, Together, thing, together
from midfoot.bar.tracklets import Seen, gather, paths
from midfoot.records.bar import Candidate, Sightings
from midfoot.records.body import People
from midfoot.records.clip import ClipInfo, Tap

FOUND, UNSURE = 0.45, 0.25
"""Scores from which a path is taken, or offered."""
CLEAR_BY = 1.7
"""Factor by which what is taken must lead every other object."""
ONE_BAR_CORRELATION = 0.85
RING_RADII = 0.45
"""Paths nearer than this, in radii of the larger, that go together are rings of one disc."""
SAME_END_RADII = 1.7
"""Two ends of a bar are farther apart than this, in radii of the larger disc, unless one hides the other."""
NEARER_BY = 1.08
WEAK_END, STRONG_END = 0.2, 0.5
"""Shares of the best end's score from which another thing that goes with it may be the other end: when it was
seen through the largest swing, and when not."""
FARTHER = 0.85
FULL_FACE = 0.93
"""Minor over major axis from which a disc counts as seen from the side."""
MOST_CANDIDATES = 4
TAP_RADII = 1.0


@frozen
class Judged:
    """A path with its evidence. `parts` (name, 0..1) multiply to `score`; `hands` best first."""

    thing: Thing
    parts: tuple[tuple[str, float], ...]
    hands: tuple[Hands, ...] = ()
    partners: tuple[tuple[int, Together], ...] = ()

    @property
    def score(self) -> float:
        """Product of all parts."""
        return float(np.prod([p for _, p in self.parts]))

    def weakest(self) -> str:
        """Name the part that costs most."""
        return min(self.parts, key=lambda p: p[1])[0]


def link(
    sightings: Sightings, people: People | None, *, lift: str, info: ClipInfo, tap: Tap | None = None
) -> list[Coarse]:
    """Connect what was seen into hypotheses of the near plate's path, the best first.

    Parameters
    ----------
    sightings : from `Scout`.
    people : everybody followed in the first look; None when nobody looked.
    lift : squat, bench or deadlift: which way the bar goes first.
    info : of the clip.
    tap : a place on the bar's end given by a person: it decides.

    Returns
    -------
    list of Coarse
        At least one; the first says found, unsure or not_found.
    """
    seen = gather(sightings)
    judged = judge(seen, people, lift=lift)
    if tap is not None:
        return _tapped(judged, tap, info)
    return decide(judged)


def judge(seen: Seen, people: People | None, *, lift: str) -> list[Judged]:
    """Follow and weigh everything, the best first; rings of one disc are one."""
    things = [thing(p, seen, lift) for p in paths(seen) if len(p.rows) >= 4]
    things = _merged(things)
    carrier = main_carrier(people, lift)
    out = [_weighed(a, people, lift, carrier) for a in things]
    out = [evolve(j, partners=_partners(k, out)) for k, j in enumerate(out)]
    out = [evolve(j, parts=(*j.parts, ("support", _support(j, out)))) for j in out]
    surest = max((j.thing.moving_score for j in out if j.score >= FOUND), default=0.0)
    out = [evolve(j, parts=(*j.parts, ("surer disc", _surer_part(j, surest)))) for j in out]
    order = sorted(range(len(out)), key=lambda k: -out[k].score)
    place = {k: i for i, k in enumerate(order)}
    return [evolve(out[k], partners=tuple((place[i], t) for i, t in out[k].partners)) for k in order]


def _ramp(x: float, low: float, high: float, floor: float = 0.0) -> float:
    """0 (or `floor`) below `low`, 1 above `high` (or the other way round), a line between."""
    if high == low:
        return 1.0
    return float(floor + (1.0 - floor) * np.clip((x - low) / (high - low), 0.0, 1.0))


def _weighed(a: Thing, people: People | None, lift: str, carrier: tuple[int, float] | None) -> Judged:
    swing = max(a.swing, 0.55 * a.one_way)
    hands = tuple(hands_with(a, people, lift))
    parts = [
        ("disc", _ramp(a.moving_score if a.swing > 0 else a.score, 0.08, 0.25)),
        ("movement", _ramp(swing, 0.3, 0.8) * _ramp(swing, 10.0, 6.0)),
        ("on the way", _ramp(a.on_the_way, 2, 6) if a.swing > 0.3 else 0.8),
        ("on screen", _ramp(a.on_screen, 0.2, 0.5)),
        ("upright", _ramp(a.sideways / max(a.swing, 1e-6), 2.0, 0.9, 0.1) if a.swing > 0.3 else 0.8),
        ("smooth", _ramp(a.rough, 0.45, 0.18, 0.1)),
        ("steady in view", _ramp(a.seen_share, 0.25, 0.6, 0.2) * _ramp(len(a.t_s), 5, 14)),
        ("size kept", _ramp(a.size_sd, 0.5, 0.25, 0.3)),
        ("size", _size_part(hands)),
        ("whose bar", _whose_part(a, hands, carrier)),
        ("off the body", _ramp(away_from_joints(a, people), 0.3, 0.8, 0.2)),
    ]  # fmt: skip
    return Judged(a, tuple(parts), hands)


def _support(j: Judged, all_of: list[Judged]) -> float:
    """What speaks for a bar beside the path itself: hands that go with it, a second disc that goes with it.

    Either is enough; hands are often hidden by the plate, the other end by the near one.
    """
    hands = 0.4  # nobody was looked at, or nobody while it moved: says nothing
    if j.hands:
        best = j.hands[0]
        near = _ramp(best.off_line, 1.2, 0.5, 0.4)
        hands = _ramp(best.went, 0.05, 0.5) * near * _ramp(best.share, 0.05, 0.35, 0.25)
    other = max((_pair(j, all_of[i], t) for i, t in j.partners), default=0.0)
    return 0.2 + 0.8 * (1.0 - (1.0 - hands) * (1.0 - 0.7 * other))


def _pair(j: Judged, other: Judged, t: Together) -> float:
    """How much the two look like both ends of one bar: in step, at a kept distance, way and size in proportion."""
    step = _ramp(t.correlation, ONE_BAR_CORRELATION, 0.97)
    kept = _ramp(t.apart_sd / max(t.apart, 1e-6), 0.35, 0.12)
    sizes = other.thing.radius_px / j.thing.radius_px
    alike = _ramp(abs(np.log(sizes / t.ratio)), 0.6, 0.25)
    disc = _ramp(other.thing.moving_score, 0.08, 0.2)
    start, _, end = j.thing.swing_at_s
    shared = min(end, other.thing.t_s[-1]) - max(start, other.thing.t_s[0])
    lasting = _ramp(shared / max(end - start, 1e-6), 0.3, 0.7) if end > start else 0.5
    return step * kept * alike * disc * lasting


def _size_part(hands: tuple[Hands, ...]) -> float:
    """450 mm are 0.26 of half a person's height, small iron 0.16; what is nearer than he is, is larger."""
    if not hands or hands[0].went < 0.3:
        return 0.9
    r = hands[0].radius_bodies
    return _ramp(r, 0.08, 0.14, 0.3) * _ramp(r, 0.8, 0.5, 0.3)


def _surer_part(j: Judged, surest: float) -> float:
    """Hold a path against the surest disc that moves as a bar: shoulders and knees go along, barely discs."""
    return _ramp(j.thing.moving_score / surest, 0.15, 0.5, 0.25) if surest > 0 else 1.0


def _whose_part(a: Thing, hands: tuple[Hands, ...], carrier: tuple[int, float] | None) -> float:
    """Somebody else's bar, when the one who plainly carries most was seen not to go with this one."""
    if carrier is None or carrier[1] < 3.0:
        return 1.0
    own = next((h for h in hands if h.person_id == carrier[0]), None)
    seen_for = a.swing_at_s[2] - a.swing_at_s[0]
    if own is None or own.shared_s < 0.7 * seen_for:
        return 1.0
    return _ramp(own.went, 0.1, 0.3, 0.1)


def _merged(things: list[Thing]) -> list[Thing]:
    """Leave one of several rings of one disc: the steadier path, with the larger one's radius."""
    left = list(things)
    out: list[Thing] = []
    while left:
        a = left.pop(0)
        rings = []
        for b in left:
            t = together(a, b)
            near = t.apart < RING_RADII and t.apart_sd < 0.35
            if near and t.shared_s > 0.5 * min(a.span_s, b.span_s):
                rings.append(b)
        left = [b for b in left if not any(b is r for r in rings)]
        group = [a, *rings]
        keep = max(group, key=lambda g: len(g.t_s) * g.score)
        large = max((g for g in group if len(g.t_s) > 0.5 * len(keep.t_s)), key=lambda g: g.radius_px)
        out.append(_sized(keep, large.radius_px) if large is not keep else keep)
    return out


def _sized(a: Thing, radius_px: float) -> Thing:
    """Give the same path with another radius; what is measured in radii follows."""
    f = a.radius_px / radius_px
    return evolve(
        a, radius_px=radius_px, unit_px=a.unit_px / f, up=a.up * f, right=a.right * f, swing=a.swing * f,
        one_way=a.one_way * f, on_screen=a.on_screen * f, sideways=a.sideways * f, rough=a.rough * f,
    )  # fmt: skip


def _partners(k: int, all_of: list[Judged]) -> tuple[tuple[int, Together], ...]:
    """What goes up and down with it elsewhere in the picture: the bar's other end."""
    a = all_of[k].thing
    out = []
    for i, other in enumerate(all_of):
        if i == k:
            continue
        t = together(a, other.thing)
        same = t.correlation > ONE_BAR_CORRELATION and t.shared_s > 1.0 and t.apart > 0.6
        if same and 0.45 < t.ratio < 2.2:
            out.append((i, t))
    return tuple(out)


def decide(judged: list[Judged]) -> list[Coarse]:
    """Turn judged paths into hypotheses with a status."""
    offered = [j for j in judged if j.score >= UNSURE]
    if not offered:
        return [_nothing(judged)]
    best = offered[0]
    ends = _ends(0, judged)
    rivals = [j for k, j in enumerate(judged) if k not in ends]
    rival = rivals[0].score if rivals else 0.0
    top, doubt = _nearer(ends, judged)
    if best.score < FOUND or top.score < 0.6 * FOUND:
        status, why = "unsure", f"Something moves as a bar does, but its evidence is thin ({best.weakest()})."
    elif best.score < CLEAR_BY * rival:
        status, why = "unsure", "Two things move as a bar does."
    elif doubt:
        status, why = "unsure", doubt
    else:
        status, why = "found", _why_found(top, ends)
    also = [
        judged[i] for i in sorted(ends) if judged[i].score >= WEAK_END * best.score and judged[i] not in offered
    ]
    order = [top, *(j for j in [*offered, *also] if j is not top)]
    candidates = _candidates(order) if status == "unsure" else ()
    first = _coarse(top, status, why, candidates)
    others = [_coarse(j, "unsure", "Another thing that may be the bar.", ()) for j in order[1:MOST_CANDIDATES]]
    return [first, *others]


def _ends(k: int, judged: list[Judged]) -> set[int]:
    """Give the paths that go rigidly with `k` or with its other end, itself included."""
    first = {k, *(i for i, _ in judged[k].partners)}
    return first | {i for m in first for i, _ in judged[m].partners}


def _real_ends(ends: set[int], judged: list[Judged]) -> list[Judged]:
    """Leave out what goes along but is far less of a disc or only now and then one: a head, an elbow."""
    best = judged[min(ends)]
    start, _, end = best.thing.swing_at_s
    out = []
    for i in sorted(ends):
        a = judged[i].thing
        shared = min(end, a.t_s[-1]) - max(start, a.t_s[0])
        lasting = shared >= 0.6 * (end - start)
        if judged[i].score >= (WEAK_END if lasting else STRONG_END) * best.score:
            out.append(judged[i])
    return [j for j in out if not any(_part_of(j, o, judged) for o in out)]


def _part_of(j: Judged, whole: Judged, judged: list[Judged]) -> bool:
    """Tell whether `j` is a lesser disc at the same end of the bar as `whole`: a sleeve's end, a small plate.

    It moves as much or more; the far plate beside the near one moves less.
    """
    if j.thing.radius_px > 0.75 * whole.thing.radius_px:
        return False
    return any(judged[i] is whole and t.apart < SAME_END_RADII and t.ratio < 1.04 for i, t in j.partners)


def _nearer(ends: set[int], judged: list[Judged]) -> tuple[Judged, str]:
    """Choose the nearer end, and say what makes it doubtful ("" when nothing does).

    It is larger and moves more in the picture than the other end; seen alone, it moves more than the hands in the
    bar's middle, or shows its full face: then it hides the other one.
    """
    real = _real_ends(ends, judged)
    top = max(real, key=lambda j: min((_lead(j, o, judged) for o in real if o is not j), default=0.0))
    others = [j for j in real if j is not top]
    if others and min(_lead(top, j, judged) for j in others) < np.log(NEARER_BY):
        return top, "Both ends of the bar are seen and it cannot be told which is nearer."
    if not any(j.score >= STRONG_END * top.score for j in others):
        taller = next((h.taller for h in top.hands if h.taller is not None and h.share > 0.4), None)
        if taller is not None and taller < FARTHER:
            return top, "The end of the bar that is seen moves less than the hands: it may be the far one."
        held = bool(top.hands) and top.hands[0].share >= 0.3
        shown = (held and top.thing.aspect >= FULL_FACE) or (taller is not None and taller > NEARER_BY)
        return top, "" if shown else "One end of the bar is seen and it cannot be told whether it is the nearer."
    return top, ""


def _lead(a: Judged, b: Judged, judged: list[Judged]) -> float:
    """How much nearer `a` looks than `b`, as a logarithm: by its size, and twice by its way, which blurs less."""
    size = float(np.log(a.thing.radius_px / b.thing.radius_px))
    way = next((float(np.log(t.ratio)) for i, t in b.partners if judged[i] is a), size)
    if size * way < 0 and min(abs(size), abs(way)) > 0.06:
        return 0.0  # the two contradict each other
    return (size + 2.0 * way) / 3.0


def _why_found(j: Judged, ends: set[int]) -> str:
    parts = [f"a disc goes up and down {max(1, j.thing.turns)} times"]
    if j.hands and j.hands[0].went > 0.4:
        parts.append("hands go with it")
    if len(ends) > 1:
        parts.append("its other end does too and is smaller")
    return (", ".join(parts) + ".").capitalize()


def _coarse(j: Judged, status: str, reason: str, candidates: tuple[Candidate, ...]) -> Coarse:
    a = j.thing
    ids = tuple(h.person_id for h in j.hands if h.went > 0.35 and h.off_line < 1.0)
    return Coarse(
        status, a.t_s, a.xy_px, np.full(len(a.t_s), a.radius_px), score=float(min(1.0, j.score)),
        candidates=candidates, person_ids=ids, reason=reason,
    )  # fmt: skip


def _candidates(order: list[Judged]) -> tuple[Candidate, ...]:
    """Offer each object once, where it is plainest: a sure box, slow, and nothing else offered near it then."""
    out: list[Candidate] = []
    for j in order:
        if len(out) == MOST_CANDIDATES:
            break
        at = _plainest(j, [o for o in order if o is not j])
        if at is not None:
            x, y = j.thing.xy_px[at]
            out.append(Candidate(float(x), float(y), j.thing.radius_px, float(j.thing.t_s[at]), min(1.0, j.score)))
    return tuple(out)


def _plainest(j: Judged, others: list[Judged]) -> int | None:
    """Choose the row at which a person would see best which thing is meant."""
    a = j.thing
    clear = a.box_score.copy()
    # a bar on its way is blurred: rather where it is slow
    speed = np.hypot(*np.gradient(a.xy_px, a.t_s, axis=0).T) / a.radius_px if len(a.t_s) > 1 else np.zeros(1)
    clear *= 1.0 / (1.0 + speed)
    for o in others:
        b = o.thing
        inside = (a.t_s >= b.t_s[0]) & (a.t_s <= b.t_s[-1])
        there = np.stack([np.interp(a.t_s, b.t_s, b.xy_px[:, k]) for k in (0, 1)], axis=1)
        apart = np.hypot(*(a.xy_px - there).T) / (a.radius_px + b.radius_px)
        clear[inside & (apart < 0.5)] *= 0.2
    return int(np.argmax(clear)) if len(clear) else None


def _nothing(judged: list[Judged]) -> Coarse:
    if not judged:
        why = "No disc was seen over any length of time."
    else:
        best = judged[0]
        why = f"Nothing round goes up and down as a bar does (nearest: {best.score:.2f}, {best.weakest()})."
    return Coarse("not_found", np.zeros(0), np.zeros((0, 2)), np.zeros(0), reason=why, source="none")


def _tapped(judged: list[Judged], tap: Tap, info: ClipInfo) -> list[Coarse]:
    """Take the path through a place given by a person; start from the place alone where there is none."""
    best: tuple[float, Judged] | None = None
    for j in judged:
        a = j.thing
        if not a.t_s[0] - 0.5 <= tap.at_s <= a.t_s[-1] + 0.5:
            continue
        x, y = (float(np.interp(tap.at_s, a.t_s, a.xy_px[:, k])) for k in (0, 1))
        away = float(np.hypot(x - tap.x_px, y - tap.y_px)) / a.radius_px
        if away <= TAP_RADII and (best is None or away - 0.3 * j.score < best[0]):
            best = away - 0.3 * j.score, j
    if best is None:
        return [Coarse.of_tap(tap, reason="A person pointed at it; no disc was seen there before.")]
    return [_coarse(best[1], "found", "A person pointed at it.", ())]

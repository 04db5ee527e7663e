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
from midfoot.bar.link_hands import Hands, away_from_joints, hands_with
from midfoot.bar.link_motion import Thing, Together, thing, together
from midfoot.bar.tracklets import Seen, gather, paths
from midfoot.records.bar import Candidate, Sightings
from midfoot.records.body import People
from midfoot.records.clip import ClipInfo, Tap

FOUND, UNSURE = 0.45, 0.10
"""Scores from which a path is taken, or offered."""
CLEAR_BY = 1.7
"""Factor by which what is taken must lead every other object."""
ONE_BAR_CORRELATION = 0.85
RING_RADII = 0.45
"""Paths nearer than this, in radii of the larger, that go together are rings of one disc."""
NEARER_BY = 1.08
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
    out = [_weighed(a, people, lift) for a in things]
    out = [evolve(j, partners=_partners(k, out)) for k, j in enumerate(out)]
    out = [evolve(j, parts=(*j.parts, ("support", _support(j, out)))) for j in out]
    order = sorted(range(len(out)), key=lambda k: -out[k].score)
    place = {k: i for i, k in enumerate(order)}
    return [evolve(out[k], partners=tuple((place[i], t) for i, t in out[k].partners)) for k in order]


def _ramp(x: float, low: float, high: float, floor: float = 0.0) -> float:
    """0 (or `floor`) below `low`, 1 above `high` (or the other way round), a line between."""
    if high == low:
        return 1.0
    return float(floor + (1.0 - floor) * np.clip((x - low) / (high - low), 0.0, 1.0))


def _weighed(a: Thing, people: People | None, lift: str) -> Judged:
    swing = max(a.swing, 0.55 * a.one_way)
    hands = tuple(hands_with(a, people, lift))
    parts = [
        ("disc", _ramp(a.moving_score if a.swing > 0 else a.score, 0.15, 0.55)),
        ("movement", _ramp(swing, 0.3, 0.8) * _ramp(swing, 10.0, 6.0)),
        ("on the way", _ramp(a.on_the_way, 2, 6) if a.swing > 0.3 else 0.6),
        ("on screen", _ramp(a.on_screen, 0.2, 0.5)),
        ("upright", _ramp(a.sideways / max(a.swing, 1e-6), 2.0, 0.9, 0.1) if a.swing > 0.3 else 0.6),
        ("smooth", _ramp(a.rough, 0.45, 0.18, 0.1)),
        ("steady in view", _ramp(a.seen_share, 0.25, 0.6, 0.2) * _ramp(len(a.t_s), 5, 14)),
        ("size kept", _ramp(a.size_sd, 0.5, 0.25, 0.3)),
        ("size", _size_part(hands)),
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
        hands = _ramp(best.went, 0.05, 0.5) * near * _ramp(best.share, 0.03, 0.25, 0.5)
    other = max((_pair(j, all_of[i], t) for i, t in j.partners), default=0.0)
    return 0.2 + 0.8 * (1.0 - (1.0 - hands) * (1.0 - 0.7 * other))


def _pair(j: Judged, other: Judged, t: Together) -> float:
    """How much the two look like both ends of one bar: in step, at a kept distance, way and size in proportion."""
    step = _ramp(t.correlation, ONE_BAR_CORRELATION, 0.97)
    kept = _ramp(t.apart_sd / max(t.apart, 1e-6), 0.35, 0.12)
    sizes = other.thing.radius_px / j.thing.radius_px
    alike = _ramp(abs(np.log(sizes / t.ratio)), 0.6, 0.25)
    disc = _ramp(other.thing.moving_score, 0.15, 0.4)
    return step * kept * alike * disc


def _size_part(hands: tuple[Hands, ...]) -> float:
    """450 mm are 0.26 of half a person's height, small iron 0.16; what is nearer than he is, is larger."""
    if not hands or hands[0].went < 0.3:
        return 0.9
    r = hands[0].radius_bodies
    return _ramp(r, 0.08, 0.14, 0.3) * _ramp(r, 0.8, 0.5, 0.3)


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
    near = _nearer(ends, judged)
    rivals = [j for k, j in enumerate(judged) if k not in ends]
    rival = rivals[0].score if rivals else 0.0
    clear = best.score >= CLEAR_BY * rival
    top = judged[near] if near is not None else best
    if best.score >= FOUND and clear and near is not None and top.score >= 0.6 * FOUND:
        status, why = "found", _why_found(top, ends)
    elif best.score < FOUND:
        status = "unsure"
        why = f"Something moves as a bar does, but its evidence is thin ({top.weakest()})."
    elif not clear:
        status, why = "unsure", "Two things move as a bar does."
    else:
        status, why = "unsure", "Both ends of the bar are seen and it cannot be told which is nearer."
    order = [top, *(j for j in offered if j is not top)]
    candidates = _candidates(order) if status == "unsure" else ()
    first = _coarse(top, status, why, candidates)
    others = [_coarse(j, "unsure", "Another thing that may be the bar.", ()) for j in order[1:MOST_CANDIDATES]]
    return [first, *others]


def _ends(k: int, judged: list[Judged]) -> set[int]:
    """Give the paths that go rigidly with `k` or with its other end, itself included."""
    first = {k, *(i for i, _ in judged[k].partners)}
    return first | {i for m in first for i, _ in judged[m].partners}


def _nearer(ends: set[int], judged: list[Judged]) -> int | None:
    """Choose the nearer end: larger, and moving more in the picture. None when the two cues cannot tell."""
    best = min(ends)
    # what is far less of a disc (a head, a knee that goes along) is no end of the bar
    real = [i for i in ends if judged[i].score >= 0.35 * judged[best].score]
    largest = max(real, key=lambda i: judged[i].thing.radius_px)
    for i in real:
        if i == largest:
            continue
        size = judged[largest].thing.radius_px / judged[i].thing.radius_px
        way = next((t.ratio for p, t in judged[i].partners if p == largest), 1.0)
        if size < NEARER_BY and way < NEARER_BY:
            return None
        if size < 1.25 and way < 0.92:
            return None
    return largest


def _why_found(j: Judged, ends: set[int]) -> str:
    parts = [f"a disc goes up and down {max(1, j.thing.turns)} times"]
    if j.hands and j.hands[0].went > 0.4:
        parts.append("hands go with it")
    if len(ends) > 1:
        parts.append("its other end does too and is smaller")
    return (", ".join(parts) + ".").capitalize()


def _coarse(j: Judged, status: str, reason: str, candidates: tuple[Candidate, ...]) -> Coarse:
    a = j.thing
    ids = tuple(h.person_id for h in j.hands if h.went > 0.35)
    return Coarse(
        status, a.t_s, a.xy_px, np.full(len(a.t_s), a.radius_px), score=float(min(1.0, j.score)),
        candidates=candidates, person_ids=ids, reason=reason,
    )  # fmt: skip


def _candidates(order: list[Judged]) -> tuple[Candidate, ...]:
    """Offer each object once, at a moment when it is plain: amid a quiet stretch, not at the picture's edge."""
    out: list[Candidate] = []
    for j in order[:MOST_CANDIDATES]:
        a = j.thing
        i = len(a.t_s) // 2
        out.append(
            Candidate(float(a.xy_px[i, 0]), float(a.xy_px[i, 1]), a.radius_px, float(a.t_s[i]), min(1.0, j.score))
        )
    return tuple(out)


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

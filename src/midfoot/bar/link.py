"""Which of the things followed is the bar: found, unsure, or not found, with reasons.

Boxes are connected over the clip (`tracklets`, `joins`); every path is measured (`link_motion`), held against all
hands (`link_people`, `link_hands`) and weighed (`link_evidence`, `link_ends`). What moves up and down as this lift
does, smoothly, on the screen and in the room, with hands on it, is the bar. Of two ends the larger and livelier is
the nearer.

A confident wrong path is the worst answer: `found` asks for good evidence and a clear lead over every other
object. Rule for the next author: set bounds on made-up boxes and on changed clips (ends taken out, mirrored,
reversed, cut), not on the clips that are used to judge.
"""

from __future__ import annotations

import numpy as np
from attrs import evolve

from midfoot.bar.coarse import Coarse
from midfoot.bar.joins import paths
from midfoot.bar.link_ends import ends_of, nearer, real_ends
from midfoot.bar.link_evidence import Judged, partners_of, support, surer_part, weighed
from midfoot.bar.link_hands import main_carrier
from midfoot.bar.link_motion import Thing, thing, together
from midfoot.bar.link_people import made_whole
from midfoot.bar.tracklets import Seen, gather
from midfoot.records.bar import Candidate, Sightings
from midfoot.records.body import People
from midfoot.records.clip import ClipInfo, Tap

FOUND, UNSURE = 0.45, 0.25
"""Scores from which a path is taken, or offered."""
ALONE = 0.8
"""What moves so plainly as a bar does is offered though the hands of nobody who was seen go with it: the lifter on
the bench may have been missed, and only his spotters seen."""
CLEAR_BY = 1.7
"""Factor by which what is taken must lead every other object."""
RING_RADII = 0.45
"""Paths nearer than this, in radii of the larger, that go together are rings of one disc."""
MOST_CANDIDATES = 4
TAP_RADII = 1.0
TAP_FILLS_S = 0.3


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
        return _tapped(judged, tap)
    return decide(judged)


def judge(seen: Seen, people: People | None, *, lift: str) -> list[Judged]:
    """Follow and weigh everything, the best first; rings of one disc are one."""
    things = [thing(p, seen, lift) for p in paths(seen) if len(p.rows) >= 4]
    things = _merged(things)
    people = made_whole(people)
    carrier = main_carrier(people, lift)
    out = [weighed(a, people, lift, carrier) for a in things]
    out = [evolve(j, partners=partners_of(k, out)) for k, j in enumerate(out)]
    out = [evolve(j, parts=(*j.parts, ("support", support(j, out)))) for j in out]
    surest = max((j.thing.moving_score for j in out if j.score >= FOUND), default=0.0)
    out = [evolve(j, parts=(*j.parts, ("surer disc", surer_part(j, surest)))) for j in out]
    order = sorted(range(len(out)), key=lambda k: -out[k].score)
    place = {k: i for i, k in enumerate(order)}
    return [evolve(out[k], partners=tuple((place[i], t) for i, t in out[k].partners)) for k in order]


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


def decide(judged: list[Judged]) -> list[Coarse]:
    """Turn judged paths into hypotheses with a status."""
    offered = [j for j in judged if j.score >= UNSURE]
    if not offered:
        plain = sorted((j for j in judged if j.alone >= ALONE), key=lambda j: -j.alone)
        return _unheld(plain) if plain else [_nothing(judged)]
    best = offered[0]
    ends = ends_of(0, judged)
    rivals = [j for k, j in enumerate(judged) if k not in ends]
    rival = rivals[0].score if rivals else 0.0
    top, doubt = nearer(ends, judged)
    if best.score < FOUND or top.score < 0.6 * FOUND:
        status, why = "unsure", f"Something moves as a bar does, but its evidence is thin ({best.weakest()})."
    elif best.score < CLEAR_BY * rival:
        status, why = "unsure", "Two things move as a bar does."
    elif doubt:
        status, why = "unsure", doubt
    else:
        status, why = "found", _why_found(top, len(real_ends(ends, judged)))
    order = [top]
    for j in [*offered, *real_ends(ends, judged)]:
        if not any(j is o for o in order):
            order.append(j)
    candidates = _candidates(order) if status == "unsure" else ()
    first = _coarse(top, status, why, candidates)
    others = [_coarse(j, "unsure", "Another thing that may be the bar.", ()) for j in order[1:MOST_CANDIDATES]]
    return [first, *others]


def _unheld(plain: list[Judged]) -> list[Coarse]:
    """Offer what moves as a bar does though nobody's hands are seen to go with it."""
    why = "A disc goes up and down as a bar does, but the hands of nobody who was seen go with it."
    return [_coarse(plain[0], "unsure", why, _candidates(plain))]


def _why_found(j: Judged, ends: int) -> str:
    times = {1: "once", 2: "twice"}.get(max(1, j.thing.turns), f"{j.thing.turns} times")
    parts = [f"a disc goes up and down {times}"]
    if j.hands and j.hands[0].went > 0.4:
        parts.append("hands go with it")
    if ends > 1:
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


def _tapped(judged: list[Judged], tap: Tap) -> list[Coarse]:
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
    return [_with_tap(_coarse(best[1], "found", "A person pointed at it.", ()), tap)]


def _with_tap(found: Coarse, tap: Tap) -> Coarse:
    """Put the place that was pointed at into the path where nothing was seen around that moment."""
    if np.abs(found.t_s - tap.at_s).min() <= TAP_FILLS_S:
        return found
    at = int(np.searchsorted(found.t_s, tap.at_s))
    return evolve(
        found,
        t_s=np.insert(found.t_s, at, tap.at_s),
        xy_px=np.insert(found.xy_px, at, [tap.x_px, tap.y_px], axis=0),
        radius_px=np.insert(found.radius_px, at, np.nan),
    )

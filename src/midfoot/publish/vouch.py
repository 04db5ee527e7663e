"""Whether it can be vouched for that every bystander's head is covered, or why not.

People do not come out of nothing: a head is there from the clip's first moment to its last, or it comes in and
goes out over the picture's edge. One that begins or ends amid the picture was missed before or after, and one that
was carried by the picture alone for long may be elsewhere; what may have been somebody and was not made out may be
a face too. Then more is covered: all but the lifter and the bar.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise

import numpy as np
from attrs import frozen

from midfoot.publish.sharp import Sharp
from midfoot.records.heads import Heads, HeadTrack

LEAST_RADIUS = 18 / 1280
"""Of a head that counts, over the picture's long side: a face of 24 px in 1280 has one of 20 px and more."""
ON_HIM, LEAST_ROWS = 0.6, 3
"""Share of its time that what lies on the lifter or the bar lies there."""
BESIDE = 0.7
"""So many radii beside him counts too for what is not surely a face: covers slide along with him."""
AT_THE_EDGE = 1.5
"""Radii from the picture's edge within which a head comes in and goes out."""
SAME = 1.2
"""Radii within which another cover takes over."""
EITHER_END_S = 0.6
"""From the clip's first and to its last moment; for so long a cover stays where it was or will be."""
CERTAIN, CLEAREST, UNSEEN_S = 0.8, 0.9, 2.0
"""A head with the first score is one, with the second not the lifter's shirt either; so long at most it may go on
without being seen itself, and what was half made out for less is a plate on a rack beside the lifter rather than a
body."""
COVERED_ALREADY = 0.7
"""Share of its time that other covers lie on the head of a body that was not made out."""
WHOLLY, SELDOM_HZ = 0.9, 2.0
"""Share of what was seen of a limb that lies on the lifter's body, and how often a second at most it looks like a
face: one that is as near as he is is seen in most looks, 6 a second."""
COMES, GOES = "somebody is first made out amid the picture", "somebody is lost amid the picture"
THERE = "somebody may stand there who was not made out"
UNSEEN = "somebody's head is out of sight for a while"


@frozen
class Doubt:
    """Where a face may lie bare: from when to when, s, and why."""

    from_s: float
    to_s: float
    words: str


def doubts(
    heads: Heads,
    mine: Iterable[int],
    sharp: Sharp,
    covered_at: Callable[[float], list[tuple[float, float, float]]],
) -> tuple[Doubt, ...]:
    """Name every reason for which a bystander's face may lie bare where the heads alone are covered.

    Parameters
    ----------
    mine : places in `heads.tracks` that are the lifter's.
    covered_at : gives the circles that are covered at a moment.
    """
    own = set(mine)
    least = LEAST_RADIUS * max(heads.width_px, heads.height_px)
    out: list[Doubt] = []
    for place, track in enumerate(heads.tracks):
        if place in own or not len(track.t_s) or float(np.median(track.radius_px)) < least:
            continue
        beside = 0.0 if track.score >= CLEAREST else BESIDE * float(np.median(track.radius_px))
        if on_the_lifter(track, sharp, room=beside):
            continue
        first, last = float(track.t_s[0]), float(track.t_s[-1])
        if track.by == "perhaps":
            if last - first >= UNSEEN_S and len(track.hips_px) and _bare(track, covered_at) > 1 - COVERED_ALREADY:
                out.append(Doubt(first, last, THERE))
            continue
        out += [Doubt(a, b, UNSEEN) for a, b in _unseen(track) if not _by_a_body(track, (a + b) / 2, heads)]
        for a, b in track.stretches():
            begin, end = float(track.t_s[a]), float(track.t_s[b])
            if begin > heads.from_s + EITHER_END_S and not _goes_on(track, a, begin - 0.4, heads, covered_at):
                out.append(Doubt(heads.from_s, begin, COMES))
            if end < heads.to_s - EITHER_END_S and not _goes_on(track, b, end + 0.6, heads, covered_at):
                out.append(Doubt(end, heads.to_s, GOES))
    return tuple(sorted(out, key=lambda d: (d.from_s, d.to_s)))


def _bare(track: HeadTrack, covered_at: Callable[[float], list[tuple[float, float, float]]]) -> float:
    """Give the share of its time that no other cover lies on a track: its own is one."""
    rows = np.unique(np.linspace(0, len(track.t_s) - 1, 24).astype(int))
    bare = []
    for k in rows:
        x, y, radius = float(track.xy_px[k, 0]), float(track.xy_px[k, 1]), float(track.radius_px[k])
        near = [c for c in covered_at(float(track.t_s[k])) if np.hypot(c[0] - x, c[1] - y) <= max(radius, c[2])]
        bare.append(len(near) <= 1)
    return float(np.mean(bare))


def _unseen(track: HeadTrack) -> list[tuple[float, float]]:
    """Give the spans for which a head that is one was carried by the picture alone for long."""
    if track.score < CERTAIN or not len(track.seen_s):
        return []
    seen = np.sort(track.seen_s)
    return [(float(a), float(b)) for a, b in pairwise(seen.tolist()) if b - a > UNSEEN_S]


def _by_a_body(track: HeadTrack, at_s: float, heads: Heads) -> bool:
    """Tell whether a followed body has its head where a track is at a moment."""
    here = track.at(at_s)
    others = [c for t in heads.tracks if t.by == "body" and (c := t.at(at_s)) is not None]
    return here is not None and any(
        np.hypot(c[0] - here[0], c[1] - here[1]) <= SAME * max(c[2], here[2]) for c in others
    )


def said(found: Iterable[Doubt]) -> str:
    """Say doubts in a few words, each once; "" without any."""
    first: dict[str, float] = {}
    for doubt in found:
        at_s = doubt.to_s if doubt.words == COMES else doubt.from_s
        first.setdefault(doubt.words, at_s)
    return "; ".join(f"{words} (at {at_s:.1f} s)" for words, at_s in first.items())


def on_the_lifter(track: HeadTrack, sharp: Sharp, *, head: bool = True, room: float = 0.0) -> bool:
    """Tell whether what was taken for a head lies on the lifter or the bar most of its time: a knee, a plate."""
    rows = np.unique(np.linspace(0, len(track.t_s) - 1, 24).astype(int))
    held = []
    for k in rows:
        x, y = float(track.xy_px[k, 0]), float(track.xy_px[k, 1])
        held.append(sharp.at(float(track.t_s[k]), head=head).holds(x, y, room))
    return bool(len(held) and np.mean(held) >= ON_HIM)


def is_limb(track: HeadTrack, heads: Heads, mine: Iterable[int], sharp: Sharp) -> bool:
    """Tell whether what surely looked like a face now and then is a knee, a hand or an elbow of the lifter.

    Whenever it looked like one it lay on his body, most of the time between too; it seldom did; and nobody else's
    body has its head there.
    """
    span = float(track.t_s[-1] - track.t_s[0]) if len(track.t_s) else 0.0
    if span <= 0 or not len(track.seen_s) or len(track.seen_s) > SELDOM_HZ * span:
        return False
    own = set(mine)
    others = [t for k, t in enumerate(heads.tracks) if k not in own and t.by != "face" and len(t.hips_px)]
    times = [float(track.t_s[int(np.argmin(np.abs(track.t_s - s)))]) for s in track.seen_s]
    if any(_same(track, other, t) for other in others for t in times):
        return False
    return on_his_body(track, sharp, times) >= WHOLLY and on_his_body(track, sharp) >= ON_HIM


def on_his_body(track: HeadTrack, sharp: Sharp, times: Iterable[float] | None = None) -> float:
    """Give the share of some moments, or of its life, that a track lies on the lifter's limbs or trunk."""
    if times is None:
        times = track.t_s[np.unique(np.linspace(0, len(track.t_s) - 1, 24).astype(int))].tolist()
    held = [sharp.body_at(t).holds(c[0], c[1]) for t in times if (c := track.at(t)) is not None]
    return float(np.mean(held)) if held else 0.0


def _same(one: HeadTrack, other: HeadTrack, at_s: float) -> bool:
    a, b = one.at(at_s), other.at(at_s)
    return a is not None and b is not None and np.hypot(a[0] - b[0], a[1] - b[1]) <= SAME * max(a[2], b[2])


def _goes_on(
    track: HeadTrack,
    row: int,
    at_s: float,
    heads: Heads,
    covered_at: Callable[[float], list[tuple[float, float, float]]],
) -> bool:
    """Tell whether a head that begins or ends in a row was at the edge, or is covered by another there."""
    x, y, radius = float(track.xy_px[row, 0]), float(track.xy_px[row, 1]), float(track.radius_px[row])
    room = AT_THE_EDGE * radius
    if heads.width_px and not (room <= x <= heads.width_px - room and room <= y <= heads.height_px - room):
        return True
    at_s = min(max(at_s, heads.from_s), heads.to_s)
    return any(np.hypot(cx - x, cy - y) <= SAME * max(radius, r) for cx, cy, r in covered_at(at_s))

"""What speaks for a path being the bar's, each as a number 0..1.

Rule for the next author: none of it decides alone; what was not seen says nothing, it does not speak against.
"""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.bar.link_hands import Hands, away_from_joints, hands_with
from midfoot.bar.link_motion import Thing, Together, together
from midfoot.records.body import People

ONE_BAR_CORRELATION = 0.85
SAME_END_RADII = 1.7
"""Two ends of a bar are farther apart than this, in radii of the larger disc, unless one hides the other."""
UNLIKE = 0.6
"""Ratio of sizes over ratio of ways, as a logarithm, from which two things elsewhere are not two ends: a head goes
along with a bar, as far and much smaller."""
CARRIER_LEADS = 3.0
"""Factor by which somebody's hands must carry more than the next person's to be the lifter without a bar."""
AT_HAND = 0.15
"""Hands so near to a disc's edge, in bodies, may be behind it."""


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

    @property
    def alone(self) -> float:
        """Product of all parts but the support by hands and another end: what it does by itself."""
        return float(np.prod([p for name, p in self.parts if name != "support"]))

    def weakest(self) -> str:
        """Name the part that costs most."""
        return min(self.parts, key=lambda p: p[1])[0]


def ramp(x: float, low: float, high: float, floor: float = 0.0) -> float:
    """0 (or `floor`) below `low`, 1 above `high` (or the other way round), a line between."""
    if high == low:
        return 1.0
    return float(floor + (1.0 - floor) * np.clip((x - low) / (high - low), 0.0, 1.0))


def weighed(a: Thing, people: People | None, lift: str, carrier: tuple[int, float] | None) -> Judged:
    """Weigh one path by itself: its disc, its movement, whose hands go with it. `carrier` from `main_carrier`."""
    swing = max(a.swing, 0.55 * a.one_way)
    hands = tuple(hands_with(a, people, lift))
    parts = [
        ("disc", ramp(a.moving_score if a.swing > 0 else a.score, 0.08, 0.25)),
        ("movement", ramp(swing, 0.3, 0.8) * ramp(swing, 10.0, 6.0)),
        ("on the way", ramp(a.on_the_way, 2, 6) if a.swing > 0.3 else 0.8),
        ("on screen", ramp(a.on_screen, 0.2, 0.5)),
        ("upright", ramp(a.sideways / max(a.swing, 1e-6), 2.0, 0.9, 0.1) if a.swing > 0.3 else 0.8),
        ("smooth", ramp(a.rough, 0.45, 0.18, 0.1)),
        ("steady in view", ramp(a.seen_share, 0.25, 0.6, 0.2) * ramp(len(a.t_s), 5, 14)),
        ("size kept", ramp(a.size_sd, 0.5, 0.25, 0.3)),
        ("size", _size_part(hands)),
        ("whose bar", _whose_part(a, hands, carrier)),
        ("off the body", ramp(away_from_joints(a, people), 0.3, 0.8, 0.2)),
    ]  # fmt: skip
    return Judged(a, tuple(parts), hands)


def support(j: Judged, all_of: list[Judged]) -> float:
    """What speaks for a bar beside the path itself: hands that go with it, a second disc that goes with it.

    Either is enough; hands are often hidden by the plate, the other end by the near one.
    """
    hands = 0.4  # nobody was looked at, or nobody while it moved: says nothing
    if j.hands:
        best = j.hands[0]
        near = ramp(best.off_line, 1.2, 0.5, 0.4)
        hands = ramp(best.went, 0.05, 0.5) * near * ramp(best.share, 0.05, 0.35, 0.25)
    other = max((_pair(j, all_of[i], t) for i, t in j.partners), default=0.0)
    return 0.2 + 0.8 * (1.0 - (1.0 - hands) * (1.0 - 0.7 * other))


def _pair(j: Judged, other: Judged, t: Together) -> float:
    """How much the two look like both ends of one bar: in step, at a kept distance, way and size in proportion."""
    step = ramp(t.correlation, ONE_BAR_CORRELATION, 0.97)
    kept = ramp(t.apart_sd / max(t.apart, 1e-6), 0.35, 0.12)
    alike = ramp(_alike(j.thing, other.thing, t), UNLIKE, 0.25)
    disc = ramp(other.thing.moving_score, 0.08, 0.2)
    start, _, end = j.thing.swing_at_s
    shared = min(end, other.thing.t_s[-1]) - max(start, other.thing.t_s[0])
    lasting = ramp(shared / max(end - start, 1e-6), 0.3, 0.7) if end > start else 0.5
    return step * kept * alike * disc * lasting


def _alike(a: Thing, b: Thing, t: Together) -> float:
    """How far the ratio of the sizes is from that of the ways, as a logarithm: of two ends both are one."""
    return abs(float(np.log(b.radius_px / a.radius_px / t.ratio)))


def _size_part(hands: tuple[Hands, ...]) -> float:
    """450 mm are 0.26 of half a person's height, small iron 0.16; what is nearer than he is, is larger."""
    if not hands or hands[0].went < 0.3:
        return 0.9
    r = hands[0].radius_bodies
    return ramp(r, 0.08, 0.14, 0.3) * ramp(r, 0.8, 0.5, 0.3)


def surer_part(j: Judged, surest: float) -> float:
    """Hold a path against the surest disc that moves as a bar: shoulders and knees go along, barely discs."""
    return ramp(j.thing.moving_score / surest, 0.15, 0.5, 0.25) if surest > 0 else 1.0


def _whose_part(a: Thing, hands: tuple[Hands, ...], carrier: tuple[int, float] | None) -> float:
    """Somebody else's bar, when the one who plainly carries most was seen not to go with this one.

    Hands that are not made out were not seen: where they are put at the disc itself, it may be what hides them.
    """
    if carrier is None or carrier[1] < CARRIER_LEADS:
        return 1.0
    own = next((h for h in hands if h.person_id == carrier[0]), None)
    seen_for = a.swing_at_s[2] - a.swing_at_s[0]
    if own is None or own.shared_s < 0.7 * seen_for:
        return 1.0
    if not own.made_out and own.off_line < own.radius_bodies + AT_HAND:
        return 1.0
    return ramp(own.went, 0.1, 0.3, 0.1)


def partners_of(k: int, all_of: list[Judged]) -> tuple[tuple[int, Together], ...]:
    """What goes up and down with it elsewhere in the picture: the bar's other end."""
    a = all_of[k].thing
    out = []
    for i, other in enumerate(all_of):
        if i == k:
            continue
        b = other.thing
        t = together(a, b)
        same = t.correlation > ONE_BAR_CORRELATION and t.shared_s > 1.0 and t.apart > 0.6
        if same and 0.45 < t.ratio < 2.2 and (t.apart < SAME_END_RADII or _alike(a, b, t) < UNLIKE):
            out.append((i, t))
    return tuple(out)

"""Making heads unrecognisable: whose, and how. Whoever is not surely the lifter is covered.

What is under the cover is gone: a few tiles of mean colour, drawn smooth. Nothing of it can be computed back.
Where it cannot be vouched for that every head is under one, the whole picture is, all but the lifter and the bar.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from attrs import evolve, field, frozen

from midfoot.publish.look import Picture
from midfoot.publish.own_head import NOWHERE, own_head
from midfoot.publish.sharp import HEAD as BARE_HEAD
from midfoot.publish.sharp import Outline, Sharp, known_mean, sharp_of
from midfoot.publish.tiles import Circle, cover, flattened
from midfoot.publish.vouch import (
    CERTAIN,
    EITHER_END_S,
    WHOLLY,
    Doubt,
    doubts,
    is_limb,
    on_his_body,
    on_the_lifter,
    said,
)
from midfoot.records.bar import BarTrack
from midfoot.records.body import HIDDEN, INDEX, BodyTrack
from midfoot.records.heads import Heads, HeadTrack

NEAR, ALIKE = 1.3, 0.6
"""Distance, in radii of the larger circle, up to which a head is where another is; up to which two are one."""
SHARE, LEAST_ROWS = 0.7, 3
"""A track is the lifter's when so much of it, in at least so many rows, is where his head is known to be."""
ON_THE_END, MOSTLY, LEAST_WAY, LEAST_PLATE_ROWS = 0.5, 0.8, 1.5, 10
"""Of a plate taken for a face: how far off the bar's end (radii), how often; how far that end went (radii)."""
LEAST_SEEN, NEARLY_ALL, JUST_NOW_S = 10, 0.9, 0.1
"""A face is surely his when it was itself seen at least so often, so much of it on his very head; how far off in
time it still counts as seen itself."""
HIPS_OFF = 0.4
"""How far a body's hips may be from the lifter's to be his, in trunks or thighs."""


@frozen(kw_only=True)
class Veil:
    """Who is covered in a clip.

    `heads` are all that were found, `own` where the lifter's is by the body stage, `mine` the places in
    `heads.tracks` that are the lifter's, those of his body with the distance of its hips from his, `with_lifter`
    whether he is covered too. `sharp` is the lifter and the bar in the picture; with `wide` all else is covered;
    `doubts` say why. `limbs` are those of `mine` that lie on his trunk or limbs all the time, such as his chest;
    `surely` are faces that were seen on his very head nearly always: where one is not seen itself but carried by
    the picture, and slides off along a plate, it is no second head.
    """

    heads: Heads
    own: HeadTrack
    mine: Mapping[int, float] = field(factory=dict)
    with_lifter: bool = False
    sharp: Sharp = Sharp()
    wide: bool = False
    doubts: tuple[Doubt, ...] = ()
    limbs: frozenset[int] = frozenset()
    surely: frozenset[int] = frozenset()

    @property
    def why(self) -> str:
        """Say why heads alone would not do; "" where they would."""
        return said(self.doubts)

    def own_at(self, t_s: float) -> list[Circle]:
        """Give where the lifter's head is at a moment: by the body stage, and by his body in the first look."""
        bodies = sorted((apart, k) for k, apart in self.mine.items() if self.heads.tracks[k].by == "body")
        seen = [c for _, k in bodies if (c := self.heads.tracks[k].at(t_s)) is not None]
        own = self.own.at(t_s)
        found = [own] if own is not None else seen[:1]
        return [*found, *(c for c in seen if found and _apart(c, found[0]) <= NEAR)]

    def circles(self, t_s: float) -> list[Circle]:
        """Give what is covered at a moment of the clip, px of the upright clip.

        Raises
        ------
        ValueError
            When the heads were not looked for at that moment: nothing may leave uncovered by mistake.
        """
        if not self.heads.from_s - 0.1 <= t_s <= self.heads.to_s + 0.1:
            span = f"{self.heads.from_s:g} to {self.heads.to_s:g} s"
            raise ValueError(f"heads: looked for from {span}, not at {t_s:g} s")
        return self._split(t_s)[0]

    def _split(self, t_s: float) -> tuple[list[Circle], list[Circle]]:
        """Give what is covered at a moment, and heads that are the lifter's and are not."""
        own = self.own_at(t_s)
        out: list[Circle] = []
        spared: list[tuple[str, float, Circle, bool]] = []
        for place, track in enumerate(self.heads.tracks):
            circle = track.at(t_s) or self._at_an_end(track, t_s)
            if circle is None:
                continue
            away = min((_apart(circle, o) for o in own), default=np.inf)
            if not self.with_lifter and place in self.mine and away <= NEAR:
                slid = place in self.surely and not _seen(track, t_s)
                spared.append((track.by, away, circle, slid or place in self.limbs))
            elif not self.with_lifter and place in self.mine and self.sharp.at(t_s).holds(*circle[:2]):
                continue  # slid from his head down on him
            else:
                out.append(circle)
        for by in ("face", "body"):
            same = sorted((s for s in spared if s[0] == by), key=lambda s: s[1])
            out += [c for _, _, c, his in same[1:] if not his and _apart(c, same[0][2]) > ALIKE]
        if self.with_lifter and self.own.at(t_s) is not None:
            out += own[:1]
        return out, [c for _, _, c, _ in spared if c not in out]

    def _at_an_end(self, track: HeadTrack, t_s: float) -> Circle | None:
        """Give where a head will be or was when it is first made out or last seen close to the clip's ends."""
        if not len(track.t_s):
            return None
        first, last = float(track.t_s[0]), float(track.t_s[-1])
        if t_s < first <= self.heads.from_s + EITHER_END_S:
            return track.at(first - 0.01)
        if t_s > last >= self.heads.to_s - EITHER_END_S:
            return track.at(last + 0.01)
        return None

    def outline(self, t_s: float) -> Outline | None:
        """Give what stays sharp at a moment where all else is covered, his head as found; else None."""
        if not self.wide:
            return None
        heads = tuple(((x, y), (x, y), BARE_HEAD * radius) for x, y, radius in self._split(t_s)[1])
        outline = self.sharp.at(t_s)
        return evolve(outline, limbs=(*outline.limbs, *heads))

    def over(self, rgb: Picture, t_s: float, zoom: float = 1.0) -> Picture:
        """Give a copy of the upright frame at a moment with everybody covered who is to be.

        `zoom` is px of the picture per px of the clip.
        """
        outline = self.outline(t_s)
        picture = rgb.copy() if outline is None else flattened(rgb, outline.mask(rgb.shape, zoom))
        for x, y, radius in self.circles(t_s):
            cover(picture, (x * zoom, y * zoom, radius * zoom))
        return picture


def veil_of(
    heads: Heads, body: BodyTrack, *, with_lifter: bool, bar: BarTrack | None = None, wide: bool | None = None
) -> Veil:
    """Tell whose the heads are, and whether covering them is enough.

    A followed body is the lifter's when its hips are where the body stage saw his; a face is his only when it was
    where his head is for most of its time. Where the lifter was not seen, nobody is spared. What went up and down
    with the end of the bar is a plate. What is not surely a face is covered unless it lies on him or on the bar.

    Parameters
    ----------
    wide : bool, optional
        Whether all but the lifter and the bar is covered; by default where heads alone leave a doubt.
    """
    own = own_head(body, bar)
    middle = np.column_stack([own.xy_px, own.radius_px]) if len(own.t_s) else np.zeros((0, 3))
    sharp = sharp_of(body, bar, own.t_s, middle)
    kept = [
        t for t in heads.tracks
        if not (t.by == "face" and bar is not None and is_plate(t, bar))
        and not (t.by == "perhaps" and on_the_lifter(t, sharp))
    ]  # fmt: skip
    veil = _whose(evolve(heads, tracks=tuple(kept)), body, own, with_lifter)
    taken = [
        k for k, t in enumerate(veil.heads.tracks)
        if t.by == "face" and k not in veil.mine and on_the_lifter(t, sharp, head=False)
        and (t.score < CERTAIN or is_limb(t, veil.heads, veil.mine, sharp))
    ]  # fmt: skip
    if taken:  # his knees, his hands, the plates
        kept = [t for k, t in enumerate(veil.heads.tracks) if k not in taken]
        veil = _whose(evolve(heads, tracks=tuple(kept)), body, own, with_lifter)
    limbs = frozenset(
        k for k in veil.mine
        if veil.heads.tracks[k].by == "face" and on_his_body(veil.heads.tracks[k], sharp) >= WHOLLY
    )  # fmt: skip
    surely = frozenset(k for k in veil.mine if _is_surely(veil.heads.tracks[k], own))
    veil = evolve(veil, sharp=sharp, limbs=limbs, surely=surely)
    # without his own covers: who is covered beside him must not hang on whether he is
    found = doubts(veil.heads, veil.mine, sharp, evolve(veil, with_lifter=False).circles)
    return evolve(veil, doubts=found, wide=bool(found) if wide is None else wide)


def _whose(heads: Heads, body: BodyTrack, own: HeadTrack, with_lifter: bool) -> Veil:
    """Tell whose the heads are."""
    mine: dict[int, float] = {}
    hips, reach = _hips(body)
    for place, track in enumerate(heads.tracks):
        if len(track.hips_px) and len(hips.t_s):
            apart = [
                float(np.hypot(xy[0] - at[0], xy[1] - at[1])) / reach
                for t, xy in zip(track.t_s, track.hips_px, strict=True)
                if (at := hips.at(float(t))) is not None
            ]
            if len(apart) >= LEAST_ROWS and np.mean(np.array(apart) <= 1.0) >= SHARE:
                mine[place] = float(np.median(apart))
    bodies = Veil(heads=heads, own=own, mine=dict(mine))
    for place, track in enumerate(heads.tracks):
        if place in mine:
            continue
        known = [
            min(_apart((float(xy[0]), float(xy[1]), float(r)), at) for at in places)
            for t, xy, r in zip(track.t_s, track.xy_px, track.radius_px, strict=True)
            if (places := bodies.own_at(float(t)))
        ]
        if len(known) >= LEAST_ROWS and np.mean(np.array(known) <= NEAR) >= SHARE:
            mine[place] = 0.0
    return Veil(heads=heads, own=own, mine=mine, with_lifter=with_lifter)


def _seen(track: HeadTrack, t_s: float) -> bool:
    """Tell whether a head was itself seen about now."""
    seen = track.seen_s if len(track.seen_s) else track.t_s
    return bool(len(seen)) and float(np.min(np.abs(seen - t_s))) <= JUST_NOW_S


def _is_surely(face: HeadTrack, own: HeadTrack) -> bool:
    """Tell whether a face was on the lifter's very head nearly always when it was itself seen."""
    if face.by != "face" or len(face.seen_s) < LEAST_SEEN:
        return False
    pairs = [(face.at(float(t)), own.at(float(t))) for t in face.seen_s]
    known = [_apart(a, b) for a, b in pairs if a is not None and b is not None]
    return len(known) >= LEAST_SEEN and float(np.mean(np.array(known) <= ALIKE)) >= NEARLY_ALL


def is_plate(head: HeadTrack, bar: BarTrack) -> bool:
    """Tell whether what was taken for a face stayed at one end of the bar while that went a long way."""
    for end in (bar.xy_px, bar.far_xy_px):
        rows = [int(np.argmin(np.abs(bar.t_s - t))) for t in head.t_s] if len(bar.t_s) else []
        at = end[rows] if rows else np.zeros((0, 2))
        seen = np.isfinite(at).all(axis=1)
        if seen.sum() < LEAST_PLATE_ROWS or seen.mean() < 0.5:
            continue
        away = np.hypot(*(head.xy_px[seen] - at[seen]).T) / head.radius_px[seen]
        went = np.ptp(at[seen][:, 1]) / float(np.median(head.radius_px[seen]))
        if np.mean(away <= ON_THE_END) >= MOSTLY and went >= LEAST_WAY:
            return True
    return False


def _hips(body: BodyTrack) -> tuple[HeadTrack, float]:
    """Give where the lifter's hips are seen, and how far off a body's may be to be his, px."""
    if body.status != "seen" or not len(body.t_s):
        return NOWHERE, 1.0
    xy = np.where(np.asarray(body.state != HIDDEN)[:, :, None], body.xy_px, np.nan)
    shoulders, hips = (known_mean(xy[:, [INDEX[f"left_{j}"], INDEX[f"right_{j}"]]]) for j in ("shoulder", "hip"))
    trunk = np.hypot(*(shoulders - hips).T)
    legs = np.hypot(*(known_mean(xy[:, [INDEX["left_knee"], INDEX["right_knee"]]]) - hips).T)
    long = [float(np.nanquantile(v, 0.9)) for v in (trunk, legs) if np.isfinite(v).any()]
    known = np.flatnonzero(np.isfinite(hips).all(axis=1))
    if not long or not len(known):
        return NOWHERE, 1.0
    return HeadTrack("body", body.t_s[known], hips[known], np.ones(len(known))), HIPS_OFF * max(long)


def _apart(a: Circle, b: Circle) -> float:
    """Distance of two circles in radii of the larger one."""
    return float(np.hypot(a[0] - b[0], a[1] - b[1]) / max(a[2], b[2], 1e-9))

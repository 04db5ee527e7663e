"""Every head in a clip, followed: what must not be recognised is found here, in one pass and in constant memory.

Two things look: the face network on tiles of the picture a few times a second, which also finds a face behind a
rack, in a mirror or on a poster, and the people scout, which knows the head of whoever is turned away. Between
looks the picture itself carries a head along, and back to where it was before it was made out. Missing one is
worse than finding one too many; what may be a head and was not made out is named too (`perhaps`), so that whoever
covers heads can tell how sure it is that these are all.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle

import numpy as np
from attrs import define, evolve, field

from midfoot.body.carry import ROW_S, Carrier, Row, at_most
from midfoot.body.faces import Face, FaceNet, alike, apart, tiles
from midfoot.body.followed_head import clear, head_of, may_be_somebody, on_a_body
from midfoot.body.models import ModelFiles, ModelsError
from midfoot.body.people import PeopleScout
from midfoot.body.regions import Region
from midfoot.records.base import FloatArray
from midfoot.records.clip import ClipInfo, Frame
from midfoot.records.heads import Heads, HeadTrack

LOOK_S = 0.16
LONG_SIDE_PX = 1280
FINE, FINE_IN, TURNED_IN = 0.14, 5, 8
"""Side of the finest tiles over the long side, for faces of 24 px in 1280; in so many looks all of them and all
of the turned views come round. What was found is then looked at from near whenever the others do not show it."""
FIND, FOLLOW = 0.5, 0.3
"""Least score with which a head begins, and goes on where one is already."""
SURE_SEEN, SURE_CHECKED, SURE_OFTEN, SURE_CHECKS = 0.9, 0.7, 0.55, 3
"""A look with the first score, a check with the second, or so many with the third, and it is a head. On frames of
four clips, 28 of 34 faces came to 0.8 and more in a check, and of some 40 other things none above 0.73."""
CERTAIN = 0.8
CHECK_EVERY_S, CHECK_DOUBTED_S, DOUBTED = 0.3, 1.5, 0.45
"""Between checks of one that is not sure yet, and of one that came to less than the third."""
LEAST_RADIUS = 0.007
"""Of a head over the picture's long side; in a smaller one (a face of 9 px in 1280) nobody can be told."""
FIND_AGAIN = 0.6
"""Best score so far from which a head that the tiles did not show again is looked for by itself."""
COAST_S = 1.6
"""So long a head is carried by the picture alone before it is let go: faces turn away and come back."""
AROUND = 6.0
"""Side of the view around a head that the tiles did not show again, in its radii."""
JOIN_S, JOIN_RADII = HeadTrack.LONGEST_GAP_S, 1.5
"""Tracks no farther apart in time and place than this are one."""
LEAST_PERHAPS_S = 0.5
"""What was taken for a head for a shorter time, and not made out, is not mentioned."""
TURNS = (np.pi / 2, -np.pi / 2, np.pi)


@define
class _Live:
    """A head being followed."""

    x_px: float
    y_px: float
    radius_px: float
    seen_s: float
    turn: float = 0.0
    born_s: float = 0.0
    scores: list[float] = field(factory=list)
    checks: list[float] = field(factory=list)
    checked_s: float = -np.inf
    carried_back: bool = False
    seen_at: list[float] = field(factory=list)
    rows: list[Row] = field(factory=list)

    def note(self, t_s: float, *, least_s: float = 0.0) -> None:
        """Keep where it is now as a row."""
        if not self.rows or t_s - self.rows[-1][0] >= least_s - 1e-6:
            self.rows.append((t_s, self.x_px, self.y_px, self.radius_px))

    @property
    def sure(self) -> bool:
        """Whether it was seen clearly enough to be a head."""
        if max(self.scores) >= SURE_SEEN or max(self.checks, default=0.0) >= SURE_CHECKED:
            return True
        return sum(c >= SURE_OFTEN for c in self.checks) >= SURE_CHECKS

    @property
    def likely(self) -> bool:
        """Whether it may turn out to be one, together with what comes after it at its place."""
        return self.sure or max(self.checks, default=0.0) >= DOUBTED

    @property
    def unsettled(self) -> bool:
        """Whether it may be one and was not looked at often enough to be told."""
        return not self.sure and len(self.checks) < SURE_CHECKS and max(self.checks, default=0.0) >= SURE_OFTEN

    @property
    def certain(self) -> bool:
        """Whether nothing but a face looks like that."""
        return max(self.scores) >= SURE_SEEN or max(self.checks, default=0.0) >= CERTAIN

    def due(self, t_s: float) -> bool:
        """Whether it is to be looked at again from near."""
        wait = CHECK_DOUBTED_S if self.checks and self.checks[-1] < DOUBTED else CHECK_EVERY_S
        return self.seen_s == t_s and not self.sure and t_s - self.checked_s >= wait


class HeadScout:
    """Finds every head. Give it every frame with `see`, then take `result`.

    Parameters
    ----------
    models : ModelFiles
        With the face network.
    info : ClipInfo, optional
        Taken for callers that have it.

    Raises
    ------
    ModelsError
        When the face network is not among the files.
    """

    def __init__(self, models: ModelFiles, info: ClipInfo | None = None) -> None:
        if models.faces is None:
            raise ModelsError("The face network is not at hand; run `midfoot models fetch` once with a network.")
        self._net = FaceNet(models.faces)
        self._people = PeopleScout(models, info)
        self._live: list[_Live] = []
        self._done: list[_Live] = []
        self._shape: tuple[int, ...] = ()
        self._small: Iterator[list[Region]] = iter(())
        self._large: list[Region] = []
        self._turned: Iterator[list[Region]] = iter(())
        self._fine: Iterator[list[Region]] = iter(())
        self._carrier = Carrier()
        self._looked_s = -np.inf
        self._from_s, self._to_s = np.inf, -np.inf

    def see(self, frame: Frame) -> None:
        """Take the next frame."""
        if frame.luma.shape != self._shape:
            self._begin(frame.luma.shape)
        self._from_s, self._to_s = min(self._from_s, frame.t_s), frame.t_s
        self._people.see(frame)
        self._carry(frame)
        if frame.t_s - self._looked_s >= LOOK_S - 1e-3:
            self._looked_s = frame.t_s
            self._look(frame)
        for head in self._live:
            head.note(frame.t_s, least_s=ROW_S)

    def result(self) -> Heads:
        """Give the heads, in the clip's own pixels: those that were sure enough, and what may be one."""
        if self._to_s < self._from_s:
            return Heads(0.0, 0.0)
        least = LEAST_RADIUS * max(self._shape)
        followed = self._people.result().tracks
        people = [t for t in followed if clear(t)]
        heads = _joined([h for h in (*self._done, *self._live) if h.likely and h.radius_px >= least])
        kept = [h.sure and (h.certain or not on_a_body(_track(h), people)) for h in heads]
        found = [_track(h) for h, good in zip(heads, kept, strict=True) if good]
        perhaps = [_track(h, "perhaps") for h in heads if h.unsettled]
        perhaps += [evolve(head_of(t), by="perhaps") for t in followed if may_be_somebody(t)]
        long = [p for p in perhaps if p.t_s[-1] - p.t_s[0] >= LEAST_PERHAPS_S]
        height, width = self._shape[:2]
        return Heads(self._from_s, self._to_s, (*found, *map(head_of, people), *long), width, height)

    def _begin(self, shape: tuple[int, ...]) -> None:
        self._shape = shape
        height, width = shape[:2]
        small, *large = tiles(width, height)
        self._large = [view for size in large for view in size]
        self._small = cycle([small[0::2], small[1::2]])
        turned = [v.turned(t) for t in TURNS for v in self._large] + [
            v.turned(t) for t in TURNS[:2] for v in small
        ]
        self._turned = cycle([turned[k::TURNED_IN] for k in range(TURNED_IN)])
        (fine,) = tiles(width, height, (FINE,))
        self._fine = cycle([fine[k::FINE_IN] for k in range(FINE_IN)])

    def _look(self, frame: Frame) -> None:
        rgb, zoom = at_most(frame.rgb(), LONG_SIDE_PX)
        views = [*self._large, *next(self._small), *next(self._fine), *next(self._turned)]
        found = self._net.look(rgb, [_zoomed(v, zoom) for v in views], FOLLOW)
        missed = [h for h in self._live if max(h.scores) > FIND_AGAIN and not _among(h, found, zoom)]
        again = [Region(h.x_px, h.y_px, AROUND * h.radius_px, h.turn) for h in missed]
        found = apart([*found, *self._net.look(rgb, [_zoomed(v, zoom) for v in again], FOLLOW)])
        for face in found:
            self._take(face, frame.t_s, zoom)
        due = [h for h in self._live if h.due(frame.t_s)]
        if due:
            head = max(due, key=lambda h: min(frame.t_s - h.checked_s, 9.0) * h.scores[-1])
            head.checked_s = frame.t_s
            place = Face(1.0, head.x_px * zoom, head.y_px * zoom, head.radius_px * zoom, head.turn)
            head.checks.append(self._net.check(rgb, place))
        for head in self._live:
            if head.likely and not head.carried_back and head.rows:
                head.carried_back = True
                head.rows[:0] = self._carrier.back(head.rows[0])
        kept: list[_Live] = []
        for head in self._live:
            (kept if frame.t_s - head.seen_s <= COAST_S and self._inside(head) else self._done).append(head)
        self._live = kept
        self._done = [h for h in self._done if h.likely]

    def _take(self, face: Face, t_s: float, zoom: float) -> None:
        """Let a face go on with the head that it lies on, or begin one."""
        x, y, radius = face.x_px / zoom, face.y_px / zoom, face.radius_px / zoom
        own = [h for h in self._live if alike((h.x_px, h.y_px, h.radius_px), (x, y, radius))]
        head = min(own, key=lambda h: np.hypot(h.x_px - x, h.y_px - y), default=None)
        if head is None or head.seen_s == t_s:
            if face.score < FIND or head is not None:
                return
            head = _Live(x, y, radius, t_s, born_s=t_s)
            self._live.append(head)
        else:
            head.x_px, head.y_px = x, y
            head.radius_px = max(radius, 0.8 * head.radius_px + 0.2 * radius)
        head.seen_s, head.turn = t_s, face.turn
        head.seen_at.append(t_s)
        head.scores.append(face.score)
        head.note(t_s)

    def _inside(self, head: _Live) -> bool:
        height, width = self._shape[:2]
        return -head.radius_px < head.x_px < width + head.radius_px and -head.radius_px < head.y_px < (
            height + head.radius_px
        )

    def _carry(self, frame: Frame) -> None:
        """Carry every head along with the picture since the last frame."""
        circles = [(h.x_px, h.y_px, h.radius_px) for h in self._live]
        for head, step in zip(self._live, self._carrier.step(frame.luma, frame.t_s, circles), strict=True):
            if step is not None:
                head.x_px, head.y_px = head.x_px + step[0], head.y_px + step[1]


def _among(head: _Live, found: list[Face], zoom: float) -> bool:
    return any(np.hypot(f.x_px / zoom - head.x_px, f.y_px / zoom - head.y_px) < head.radius_px for f in found)


def _joined(heads: list[_Live]) -> list[_Live]:
    """Join what ends and begins again near the same place: somebody was hidden for a while.

    What was seen of the parts counts together. A later part was carried back: where both are known, the earlier
    one holds.
    """
    out: list[_Live] = []
    for head in sorted((h for h in heads if h.rows), key=lambda h: h.born_s):
        home = next((o for o in out if _goes_on(o, head)), None)
        if home is None:
            out.append(
                evolve(
                    head,
                    rows=list(head.rows),
                    scores=list(head.scores),
                    checks=list(head.checks),
                    seen_at=list(head.seen_at),
                )
            )
        else:
            home.rows.extend(r for r in head.rows if r[0] > home.rows[-1][0])
            home.scores.extend(head.scores)
            home.checks.extend(head.checks)
            home.seen_at.extend(head.seen_at)
    return out


def _goes_on(one: _Live, later: _Live) -> bool:
    """Tell whether a head that ended is the one that began again."""
    end_s = one.rows[-1][0]
    t_s, x, y, radius = next((r for r in later.rows if r[0] > end_s), later.rows[-1])
    _, x0, y0, radius0 = one.rows[-1]
    soon = later.born_s > end_s and 0 < t_s - end_s <= JOIN_S
    return soon and bool(np.hypot(x - x0, y - y0) <= JOIN_RADII * max(radius, radius0))


def _track(head: _Live, by: str = "face") -> HeadTrack:
    table: FloatArray = np.array(head.rows)
    best = max(head.scores) if max(head.scores) >= SURE_SEEN else max(head.checks, default=0.0)
    return HeadTrack(by, table[:, 0], table[:, 1:3], table[:, 3], score=best, seen_s=np.array(head.seen_at))


def _zoomed(view: Region, zoom: float) -> Region:
    return Region(view.x_px * zoom, view.y_px * zoom, view.side_px * zoom, view.turn)

"""What may be drawn over a frame, each by itself: evidence, bar path, joints, moment arms, the vertical, marks."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from midfoot.publish import evidence, look
from midfoot.publish.moments import Now, now
from midfoot.publish.review_shots import draw_mark
from midfoot.records.body import HIDDEN, INDEX, SEEN
from midfoot.records.measures import SetData
from midfoot.records.mechanics import ArmsInPicture
from midfoot.records.review import Mark

ARMS_REACH_S = 0.12
"""Moment arms belong to one frame; so near to it they may stand."""
BODY_REACH_S = 0.12
LINKS = (
    ("shoulder", "elbow"), ("elbow", "wrist"), ("shoulder", "hip"), ("hip", "knee"), ("knee", "ankle"),
    ("ankle", "heel"), ("ankle", "foot_index"),
)  # fmt: skip


def draw_layers(
    picture: look.Picture,
    data: SetData,
    t_s: float,
    layers: Sequence[str],
    marks: Sequence[Mark],
    arms: Sequence[ArmsInPicture],
    *,
    zoom: float,
    origin_px: tuple[float, float],
    size: float,
) -> None:
    """Draw the layers that are on, and the marks made by hand.

    Parameters
    ----------
    picture : RGB of a part of the upright frame, resized by `zoom`; drawn on in place.
    data : the set.
    t_s : the frame's timestamp on the clip's clock.
    layers : of `records.takes.LAYERS`.
    marks : in px of the clip.
    arms : of the whole set.
    zoom : picture px per clip px.
    origin_px : where the picture's corner lies in the clip.
    size : height of type in px.
    """
    moment = now(data, t_s)
    left, top = origin_px
    whole = _Shifted(zoom, left, top)
    if "vertical" in layers:
        _vertical(picture, data)
    if "path" in layers:
        _path(picture, data, moment, whole)
    if "body" in layers:
        _body(picture, data, t_s, whole)
    if "evidence" in layers:
        evidence.draw(picture, data, t_s, moment, zoom, size, label="", origin_px=origin_px)
    if "arms" in layers:
        for one in arms:
            if abs(one.at_s - t_s) <= ARMS_REACH_S:
                look.dashes(picture, whole(one.vertical_px[0]), whole(one.vertical_px[1]), look.BODY)
                for arm in one.arms:
                    look.line(picture, whole(arm.joint_px), whole(arm.end_px), look.EVIDENCE, halo=True)
                    look.ring(picture, whole(arm.joint_px), (5.0, 5.0), 0.0, look.EVIDENCE)
    for mark in marks:
        draw_mark(picture, mark, zoom, size, origin_px=origin_px)


class _Shifted:
    """From px of the clip to px of the picture."""

    def __init__(self, zoom: float, left: float, top: float) -> None:
        self._zoom, self._left, self._top = zoom, left, top

    def __call__(self, spot: tuple[float, float]) -> tuple[float, float]:
        return (spot[0] - self._left) * self._zoom, (spot[1] - self._top) * self._zoom


def _vertical(picture: look.Picture, data: SetData) -> None:
    height, width = picture.shape[:2]
    lean = float(np.tan(np.radians(np.nan_to_num(data.view.roll_deg.value))))
    look.dashes(
        picture, (width / 2 - lean * height / 2, height - 1), (width / 2 + lean * height / 2, 0.0), look.BODY
    )


def _path(picture: look.Picture, data: SetData, moment: Now, here: _Shifted) -> None:
    """The path of the rep that stands in the picture, before and after the moment alike."""
    rep, track = moment.rep, data.track
    if rep is None:
        return
    times = [m.t_s for m in (rep.start, rep.low_start, rep.low_end, rep.top_start, rep.top_end, rep.end) if m]
    if not times:
        return
    rows = np.flatnonzero(
        (track.t_s >= min(times)) & (track.t_s <= max(times)) & np.isfinite(track.xy_px).all(axis=1)
    )
    for a, b in pairwise(rows):
        if b == a + 1:
            ends = [here((float(track.xy_px[i, 0]), float(track.xy_px[i, 1]))) for i in (a, b)]
            look.line(picture, ends[0], ends[1], look.PATH, halo=True)


def _body(picture: look.Picture, data: SetData, t_s: float, here: _Shifted) -> None:
    """The near side's joints: full where seen, open where inferred, none where hidden."""
    body = data.body
    side = body.near_side or data.view.near_side
    if body.status != "seen" or side is None or not len(body.t_s):
        return
    row = int(np.argmin(np.abs(body.t_s - t_s)))
    if abs(body.t_s[row] - t_s) > BODY_REACH_S:
        return
    spots = {}
    for name in {n for link in LINKS for n in link}:
        k = INDEX[f"{side}_{name}"]
        if body.state[row, k] != HIDDEN and np.isfinite(body.xy_px[row, k]).all():
            spots[name] = (here((float(body.xy_px[row, k, 0]), float(body.xy_px[row, k, 1]))), body.state[row, k])
    for a, b in LINKS:
        if a in spots and b in spots:
            look.line(picture, spots[a][0], spots[b][0], look.BODY, halo=True)
    for place, state in spots.values():
        look.ring(picture, place, (4.0, 4.0), 0.0, look.BODY)
        if state == SEEN:
            look.ring(picture, place, (2.0, 2.0), 0.0, look.BODY)

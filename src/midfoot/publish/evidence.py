"""Drawing what a moment shows onto its frame: the bar, the rep's own vertical, one distance, one angle."""

from __future__ import annotations

import numpy as np
from attrs import evolve

from midfoot.publish import look
from midfoot.publish.moments import Now, at, reference_of, written
from midfoot.records.body import HIDDEN, INDEX
from midfoot.records.measures import SetData

SMALLEST_SHOWN_MM = 5.0


def draw(
    picture: look.Picture,
    data: SetData,
    moment_s: float,
    now: Now,
    zoom: float,
    size: float,
    *,
    label: str | None = None,
    origin_px: tuple[float, float] = (0.0, 0.0),
) -> None:
    """Draw the evidence of a moment.

    Parameters
    ----------
    picture : RGB of the frame, already resized by `zoom`; drawn on in place.
    data : the set.
    moment_s : the frame's timestamp.
    now : what the moment is.
    zoom : picture px per clip px.
    size : height of type in px.
    label : what to write at the distance in place of the figure with its sd; "" draws no distance.
    origin_px : where the picture's corner lies in the clip, when it is a part of the frame.
    """
    if origin_px != (0.0, 0.0):
        data = _moved(data, origin_px)
    plate = _plate(picture, data, moment_s, zoom)
    if now.rep is None or plate is None:
        return
    _own_vertical(picture, data, moment_s, now, plate, zoom, size, label)
    if now.part in ("low", "ascent", "descent", "top"):
        _segment(picture, data, moment_s, plate, zoom)


def _moved(data: SetData, origin_px: tuple[float, float]) -> SetData:
    """Count px from the corner of a part of the frame."""
    off = np.array(origin_px)
    return evolve(
        data, track=evolve(data.track, xy_px=data.track.xy_px - off),
        body=evolve(data.body, xy_px=data.body.xy_px - off),
    )  # fmt: skip


def _plate(picture: look.Picture, data: SetData, moment_s: float, zoom: float) -> tuple[float, float] | None:
    track = data.track
    x = at(track.xy_px[:, 0], track.t_s, moment_s, 0.1) * zoom
    y = at(track.xy_px[:, 1], track.t_s, moment_s, 0.1) * zoom
    if not (np.isfinite(x) and np.isfinite(y)):
        return None
    row = int(np.argmin(np.abs(track.t_s - moment_s)))
    seen = bool(track.seen[row])
    if track.source == "plate" and track.diameter_px is not None:
        major = track.diameter_px.value / 2 * zoom
        minor = major * (track.aspect.value if track.aspect is not None else 1.0)
        turn = track.axis_deg if track.axis_deg is not None else 0.0
        look.ring(picture, (x, y), (major, minor), turn, look.BODY, broken=not seen)
    look.cross(picture, (x, y), 6.0, look.BODY)
    return x, y


def _own_vertical(
    picture: look.Picture,
    data: SetData,
    moment_s: float,
    now: Now,
    plate: tuple[float, float],
    zoom: float,
    size: float,
    label: str | None,
) -> None:
    """Draw the rep's own vertical and how far the bar stands from it, in the plane of motion."""
    assert now.rep is not None
    reference, path, track = reference_of(now.rep), data.path, data.track
    if reference is None or path is None or data.scale is None:
        return
    x = at(track.xy_px[:, 0], track.t_s, reference.t_s, 0.1) * zoom
    y = at(track.xy_px[:, 1], track.t_s, reference.t_s, 0.1) * zoom
    if not (np.isfinite(x) and np.isfinite(y)):
        return
    lean = np.tan(np.radians(data.view.roll_deg.value))
    top = min(plate[1], y) - 30
    look.dashes(picture, (x - lean * (y - top), top), (x, y + 12), look.BODY)
    if data.view.facing == "unknown":
        return
    here = at(path.forward_mm, path.t_s, moment_s)
    there = at(path.forward_mm, path.t_s, reference.t_s)
    if label == "" or now.part != "ascent" or not abs(here - there) >= SMALLEST_SHOWN_MM:
        return
    way = "forward" if here > there else "back"
    foot = (x - lean * (y - plate[1]), plate[1])
    if label is None:
        sd = np.hypot(at(path.sd_forward_mm, path.t_s, moment_s), at(path.sd_forward_mm, path.t_s, reference.t_s))
        value, spread = written(abs(here - there), float(sd))
        look.distance(picture, foot, plate, f"{value} mm {way} (sd {spread})", size)
        return
    # the plate would be covered by words in it: they stand above its rim, and the line stays to be seen
    reach = track.diameter_px.value / 2 * zoom if track.diameter_px is not None else 3 * size
    look.line(picture, foot, plate, look.EVIDENCE, width=3, halo=True)
    look.label(picture, f"{label} {way}", ((foot[0] + plate[0]) / 2, plate[1] - reach - 0.6 * size), size)


def _segment(
    picture: look.Picture, data: SetData, moment_s: float, plate: tuple[float, float], zoom: float
) -> None:
    """Draw the one body line that matters for the lift against the vertical."""
    side = data.body.near_side or data.view.near_side
    if data.body.status != "seen" or side is None or abs(data.view.yaw_deg.value) > 40:
        return
    names = {"squat": ("hip", None), "bench": ("elbow", "wrist"), "deadlift": ("hip", "shoulder")}
    low, high = names[data.asked.lift]
    corner = _joint(data, f"{side}_{low}", moment_s, zoom)
    end = plate if high is None else _joint(data, f"{side}_{high}", moment_s, zoom)
    if corner is None or end is None:
        return
    reach = float(np.hypot(end[0] - corner[0], end[1] - corner[1]))
    if reach < 20:
        return
    look.line(picture, corner, end, look.BODY, halo=True)
    # no figure here: the picture's own angle is not the measured one, which is corrected for the camera
    look.angle(picture, corner, end)


def _joint(data: SetData, name: str, moment_s: float, zoom: float) -> tuple[float, float] | None:
    body, k = data.body, INDEX[name]
    if not len(body.t_s):
        return None
    row = int(np.argmin(np.abs(body.t_s - moment_s)))
    if abs(body.t_s[row] - moment_s) > 0.12 or body.state[row, k] == HIDDEN:
        return None
    x, y = at(body.xy_px[:, k, 0], body.t_s, moment_s, 0.12), at(body.xy_px[:, k, 1], body.t_s, moment_s, 0.12)
    return (x * zoom, y * zoom) if np.isfinite(x) and np.isfinite(y) else None

"""Stills of the key moments, each with the evidence of that moment and a line of words under it."""

from __future__ import annotations

import cv2
import numpy as np
from attrs import frozen

from midfoot.publish import evidence, finding_marks, look
from midfoot.publish.moments import end_of, now, said, start_of, written
from midfoot.records.clip import Frame
from midfoot.records.findings import Finding, Size
from midfoot.records.measures import Measurement, SetData
from midfoot.records.reps import Moment, Rep

STILL_HEIGHT_PX = 640
STRIP_PX = 58

SHOWN = {
    "squat": (("low", "low_end", ("squat_depth_mm", "trunk_angle_low_deg")),),
    "bench": (("touch", "low_start", ("touch_point_mm", "forearm_angle_deg")),),
    "deadlift": (
        ("lift-off", "start", ("trunk_angle_start_deg",)),
        ("lockout", "top_start", ("lockout_shortfall_mm",)),
    ),
}
"""Per lift: name of the moment, which of the rep's moments it is, measures worth saying there."""


@frozen
class Still:
    """A moment worth a picture: its rep, name, second, words under it; of a finding its measure and size."""

    rep: int
    name: str
    at_s: float
    words: str
    measure: str = ""
    figure: str = ""

    @property
    def file(self) -> str:
        """Name of the picture's file."""
        return f"rep{self.rep:02d}-{self.name.replace(' ', '-')}.jpg"


def key_moments(measurement: Measurement) -> list[Still]:
    """Give the moments of every rep worth a picture, in order of time."""
    found: list[Still] = []
    data = measurement.data
    for place, rep in enumerate(data.reps.reps):
        for name, field, measures in SHOWN[data.asked.lift]:
            moment: Moment | None = getattr(rep, field)
            if moment is not None:
                found.append(Still(rep.n, name, moment.t_s, _words(measurement, place, measures)))
        slowest = _slowest(measurement, place, rep)
        if slowest is not None:
            found.append(slowest)
    return sorted([*found, *finding_stills(measurement)], key=lambda still: still.at_s)


def finding_stills(measurement: Measurement) -> list[Still]:
    """Give the moment to look at of every finding that is more than a hint, in the rep that shows it most."""
    found = []
    for finding in measurement.found.findings:
        moments = dict(zip(finding.reps, finding.at_s, strict=False))
        if finding.confidence != "hint" and finding.worst_rep in moments:
            measure = finding.evidence[0].measure if finding.evidence else ""
            at_s, size = moments[finding.worst_rep], finding.size
            figure = _figure(size) if size is not None else ""
            found.append(Still(finding.worst_rep, finding.title, at_s, _strip(finding), measure, figure))
    return found


def _figure(size: Size) -> str:
    value, sd = written(abs(size.value), size.sd)
    return f"{value} {size.unit}{f' (sd {sd})' if sd else ''}"


def _strip(finding: Finding) -> str:
    """The first sentence is short enough to stand under a picture."""
    return finding.text.split(". ")[0].rstrip(".")


def _words(measurement: Measurement, place: int, ids: tuple[str, ...]) -> str:
    parts = []
    for measure_id in ids:
        measure = measurement.measured.of(place, measure_id)
        if measure is not None and measure.status != "not_applicable":
            parts.append(f"{_plain(measure_id)} {said(measure, signed=measure_id in SIGNED)}")
    return " · ".join(parts)


SIGNED = {"squat_depth_mm", "path_at_low_mm", "path_departure_mm"}


def _plain(measure_id: str) -> str:
    return measure_id.rsplit("_", 1)[0].replace("_", " ")


def _slowest(measurement: Measurement, place: int, rep: Rep) -> Still | None:
    """Give the moment at which the bar stands farthest from the rep's own vertical on the way up."""
    path, span = measurement.data.path, rep.ascent_s
    if path is None or span is None:
        return None
    rising = (path.t_s > span[0]) & (path.t_s < span[1]) & np.isfinite(path.forward_mm)
    if rising.sum() < 5:
        return None
    forward = path.forward_mm[rising]
    k = int(np.argmax(np.abs(forward - forward[0])))
    words = _words(measurement, place, ("path_departure_mm",))
    return Still(rep.n, "farthest", float(path.t_s[rising][k]), words)


def scene_px(data: SetData) -> tuple[int, int, int, int]:
    """Give the part of the picture that holds the set through the reps: left, top, right, bottom.

    It holds the bar's path and the lifter and is the same for every still of a set, so that they can be compared
    side by side; it is the whole picture when little of it would be left out.
    """
    width, height = data.clip.width_px, data.clip.height_px
    spots: list[np.ndarray] = []
    reach = data.track.diameter_px.value / 2 if data.track.diameter_px is not None else 0.06 * height
    for rep in data.reps.reps:
        start, end = start_of(rep, data), end_of(rep, data)
        inside = (data.track.t_s >= start) & (data.track.t_s <= end)
        bar = data.track.xy_px[inside]
        spots += [bar - reach, bar + reach]
        if len(data.body.t_s):
            during = (data.body.t_s >= start) & (data.body.t_s <= end)
            spots.append(data.body.xy_px[during].reshape(-1, 2))
    points = np.concatenate(spots) if spots else np.zeros((0, 2))
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < 4:
        return 0, 0, width, height
    low, high = np.quantile(points, 0.005, axis=0), np.quantile(points, 0.995, axis=0)
    margin = 0.1 * float(max(high - low))
    box_h = max(float(high[1] - low[1]) + 2 * margin, 0.4 * height)
    box_w = max(float(high[0] - low[0]) + 2 * margin, 0.62 * box_h)
    middle = (low + high) / 2
    left, right = _within(float(middle[0]), box_w, width)
    top, bottom = _within(float(middle[1]), box_h, height)
    return left, top, right, bottom


def _within(middle: float, size: float, limit: int) -> tuple[int, int]:
    size = min(size, limit)
    start = min(max(middle - size / 2, 0.0), limit - size)
    return int(start), int(start + size)


def still_picture(measurement: Measurement, still: Still, frame: Frame) -> look.Picture:
    """Draw a still: the frame with its evidence above a strip of words; RGB."""
    data = measurement.data
    left, top, right, bottom = scene_px(data)
    zoom = STILL_HEIGHT_PX / (bottom - top)
    rgb = frame.rgb()
    size = (round(rgb.shape[1] * zoom), round(rgb.shape[0] * zoom))
    picture = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC)
    moment = now(data, frame.t_s)
    forward = not still.measure or still.measure in finding_marks.FORWARD
    evidence.draw(picture, data, frame.t_s, moment, zoom, 15, label=None if forward else "")
    finding_marks.draw(picture, data, still.measure, frame.t_s, still.at_s, zoom, 15, still.figure)
    picture = picture[round(top * zoom) : round(bottom * zoom), round(left * zoom) : round(right * zoom)]
    return with_strip(picture, f"rep {still.rep}, {still.name}", frame.t_s, still.words)


def with_strip(picture: look.Picture, head: str, at_s: float, words: str) -> look.Picture:
    """Put a strip of words under a picture: what it shows and when, then `words` as large as they fit."""
    width = picture.shape[1]
    strip = np.empty((STRIP_PX, width, 3), np.uint8)
    strip[:] = look.PAPER
    look.text(strip, head, (14, 24), 17, look.INK, 600)
    look.text(strip, f"{at_s:.2f} s", (14 + look.text_width(head, 17, 600) + 14, 24), 15, look.SOFT)
    for size_px in (15, 14, 13, 12, 11):
        if look.text_width(words, size_px) < width - 28:
            break
    look.text(strip, words, (14, 47), size_px, look.INK)
    return np.vstack([picture, strip])

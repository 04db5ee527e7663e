"""What of a finding stands in its picture: where the bar goes down again, what is missing to the tallest lockout.

A finding that is not about the bar's way forward is not shown by it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from attrs import frozen

from midfoot.publish import look
from midfoot.publish.moments import at, now, reference_of
from midfoot.records.measures import SetData
from midfoot.records.reps import Moment, Rep

DIP_REACH_S = 0.6
"""The dip is looked for this near to the finding's moment."""
LOCKOUT_REACH_S = 0.5
SMALLEST_SHOWN_MM = 5.0
FORWARD = ("path_forward_mm", "path_departure_mm")
"""Measures that the distance to the rep's own vertical shows."""
Spot = tuple[float, float]


@frozen
class Levels:
    """Two levels across the bar and the stretch between them: the upper one's y and the bar's place, px; words."""

    upper_y: float
    bar: Spot
    words: str


def levels_of(
    data: SetData, measure: str, at_s: float, place_s: float, figure: str = "", zoom: float = 1.0
) -> Levels | None:
    """Give what `draw` draws, in px of the frame times `zoom`; None where there is nothing to draw."""
    drawing = DRAWINGS.get(measure)
    rep = now(data, at_s).rep
    return None if drawing is None or rep is None else drawing(data, rep, at_s, place_s, zoom, figure)


def draw(
    picture: look.Picture, data: SetData, measure: str, at_s: float, place_s: float, zoom: float, size: float,
    figure: str = "",
) -> bool:  # fmt: skip
    """Draw the evidence that belongs to a finding's measure; tells whether there was something to draw.

    Parameters
    ----------
    picture : RGB of the whole upright frame, resized by `zoom`; drawn on in place.
    data : the set.
    measure : id of the finding's first measure.
    at_s : the frame's timestamp.
    place_s : the finding's own moment in this rep.
    zoom, size : picture px per clip px; height of type in px.
    figure : value, unit and sd for the coach; "" for the lifter.
    """
    found = levels_of(data, measure, at_s, place_s, figure, zoom)
    if found is not None:
        _between(picture, data, found.upper_y, found.bar, zoom, size, found.words)
    return found is not None


def _dip(data: SetData, rep: Rep, at_s: float, place_s: float, zoom: float, figure: str) -> Levels | None:
    """Mark the stretch in which the bar goes down again, from the height that it had reached."""
    path, span = data.path, rep.ascent_s
    if path is None or span is None:
        return None
    inside = (path.t_s >= span[0]) & (path.t_s <= span[1]) & np.isfinite(path.up_mm)
    inside &= np.abs(path.t_s - place_s) <= DIP_REACH_S
    if inside.sum() < 3:
        return None
    times, height = path.t_s[inside], path.up_mm[inside]
    drop = np.maximum.accumulate(height) - height
    low = int(np.argmax(drop))
    top = int(np.argmax(height[: low + 1]))
    upper, lower = _bar(data, float(times[top]), zoom), _bar(data, float(times[low]), zoom)
    if drop[low] < SMALLEST_SHOWN_MM or upper is None or lower is None:
        return None
    return Levels(upper[1], lower, f"down again, {figure}" if figure else "down again")


def _shortfall(data: SetData, rep: Rep, at_s: float, place_s: float, zoom: float, figure: str) -> Levels | None:
    """Mark the height of the set's tallest lockout above the bar at this one."""
    path, low, here = data.path, reference_of(rep), _lockout(rep)
    if path is None or low is None or here is None or abs(at_s - here.t_s) > LOCKOUT_REACH_S:
        return None
    heights = [at(path.up_mm, path.t_s, m.t_s) for r in data.reps.reps if (m := _lockout(r)) is not None]
    held, rise = at(path.up_mm, path.t_s, here.t_s), at(path.up_mm, path.t_s, low.t_s)
    bar, foot = _bar(data, here.t_s, zoom), _bar(data, low.t_s, zoom)
    missing = float(np.nanmax(heights)) - held if np.isfinite(heights).any() else float("nan")
    if not missing >= SMALLEST_SHOWN_MM or bar is None or foot is None or not held - rise > SMALLEST_SHOWN_MM:
        return None
    px_per_mm = (foot[1] - bar[1]) / (held - rise)
    words = f"tallest lockout, {figure} higher" if figure else "tallest lockout"
    return Levels(bar[1] - missing * px_per_mm, bar, words)


Drawing = Callable[[SetData, Rep, float, float, float, str], Levels | None]
DRAWINGS: dict[str, Drawing] = {"downward_movement_mm": _dip, "lockout_shortfall_mm": _shortfall}


def _lockout(rep: Rep) -> Moment | None:
    return rep.top_start or rep.end


def _bar(data: SetData, at_s: float, zoom: float) -> Spot | None:
    track = data.track
    x, y = (at(track.xy_px[:, k], track.t_s, at_s, 0.1) * zoom for k in (0, 1))
    return (x, y) if np.isfinite(x) and np.isfinite(y) else None


def _between(
    picture: look.Picture, data: SetData, upper_y: float, bar: Spot, zoom: float, size: float, words: str
) -> None:
    """Draw two levels across the bar and the stretch between them, the words above the upper one."""
    reach = data.track.diameter_px.value / 2 * zoom if data.track.diameter_px is not None else 3 * size
    x, y = bar
    for level in (upper_y, y):
        look.dashes(picture, (x - reach, level), (x + reach, level), look.EVIDENCE)
    look.line(picture, (x, upper_y), (x, y), look.EVIDENCE, width=3, halo=True)
    # above the plate's rim: the stretch itself stays to be seen
    look.label(picture, words, (x, min(upper_y, y - reach) - 0.6 * size), size)

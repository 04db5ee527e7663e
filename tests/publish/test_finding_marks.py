"""What of a finding stands in the picture: the dip where it is, the shortfall up to the tallest lockout."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from sets import made_measurement

from midfoot.publish import evidence, finding_marks, look
from midfoot.publish.moments import now
from midfoot.records.measures import SetData


def changed(up_mm: np.ndarray) -> SetData:
    """The made set with another height of the bar, in mm and in the picture alike."""
    data = made_measurement(lift="squat").data
    assert data.path is not None
    px_per_mm = np.ptp(data.track.xy_px[:, 1]) / np.ptp(data.path.up_mm)
    xy = data.track.xy_px.copy()
    xy[:, 1] -= np.interp(data.track.t_s, data.path.t_s, up_mm - data.path.up_mm) * px_per_mm
    return evolve(data, path=evolve(data.path, up_mm=up_mm), track=evolve(data.track, xy_px=xy))


def marks(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, float, float]]:
    """Note each thick line, (x, upper y, lower y), and each slip of words instead of drawing."""
    noted: list[tuple[str, float, float]] = []

    def line(_: object, a: tuple[float, float], b: tuple[float, float], *__: object, **more: object) -> None:
        if more.get("width") == 3:
            noted.append(("line", a[1], b[1]))

    monkeypatch.setattr(look, "line", line)
    monkeypatch.setattr(look, "label", lambda _, words, centre, size: noted.append((words, *centre)))
    return noted


def test_a_dip_is_marked_from_the_height_it_had_reached(monkeypatch: pytest.MonkeyPatch) -> None:
    """A drop of 30 mm planted half-way up the second rep: the mark spans it in the picture, and only there."""
    data = made_measurement(lift="squat").data
    assert data.path is not None
    rep = data.reps.reps[1]
    assert rep.ascent_s is not None
    middle = sum(rep.ascent_s) / 2
    t, up = data.path.t_s, data.path.up_mm.copy()
    reached = float(np.interp(middle, t, up))
    dipped = (t > middle) & (t <= middle + 0.2)
    up[dipped] = reached - 30.0
    data = changed(up)
    noted = marks(monkeypatch)
    canvas = np.full((480, 640, 3), 90, np.uint8)

    assert finding_marks.draw(canvas, data, "downward_movement_mm", middle + 0.1, middle + 0.1, 1.0, 14.0)
    (_, upper, lower), (words, *_) = noted
    ys = np.interp([middle, middle + 0.1], data.track.t_s, data.track.xy_px[:, 1])
    assert words == "down again"
    assert (upper, lower) == (pytest.approx(ys[0], abs=3), pytest.approx(ys[1], abs=3))
    first = data.reps.reps[0].ascent_s
    assert first is not None
    assert not finding_marks.draw(canvas, data, "downward_movement_mm", sum(first) / 2, sum(first) / 2, 1.0, 14.0)


def test_a_short_lockout_is_marked_up_to_the_tallest(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second rep ends 40 mm lower than the first: as many px above its bar stands the mark."""
    data = made_measurement(lift="squat").data
    assert data.path is not None
    first, second = data.reps.reps
    assert first.end is not None
    assert second.end is not None
    up = data.path.up_mm.copy()
    up[np.abs(data.path.t_s - second.end.t_s) < 0.3] -= 40.0
    data = changed(up)
    noted = marks(monkeypatch)
    canvas = np.full((480, 640, 3), 90, np.uint8)

    end = second.end.t_s
    assert finding_marks.draw(canvas, data, "lockout_shortfall_mm", end, end, 1.0, 14.0, "40 mm (sd 2)")
    (_, upper, lower), (words, *_) = noted
    ys = np.interp([first.end.t_s, end], data.track.t_s, data.track.xy_px[:, 1])
    assert words == "tallest lockout, 40 mm (sd 2) higher"
    assert (upper, lower) == (pytest.approx(ys[0], abs=4), pytest.approx(ys[1], abs=1))
    assert not finding_marks.draw(canvas, data, "lockout_shortfall_mm", first.end.t_s, end, 1.0, 14.0)


def test_other_findings_draw_nothing_of_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """And the way forward is not measured out for them: no slip of words at all."""
    data = made_measurement(lift="squat").data
    span = data.reps.reps[1].ascent_s
    assert span is not None
    noted = marks(monkeypatch)
    canvas = np.full((480, 640, 3), 90, np.uint8)
    middle = sum(span) / 2

    assert not finding_marks.draw(canvas, data, "hip_lead_ratio", middle, middle, 1.0, 14.0)
    evidence.draw(canvas, data, middle, now(data, middle), 1.0, 14.0, label="")
    assert noted == []

"""A length told by two points, on scenes that a pinhole of known place took (tests/pinhole.py, independent)."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from pinhole import Shot, disc, take

from midfoot.bar.scale import length_prior
from midfoot.bar.view import view_and_scale
from midfoot.records.base import RecordError
from midfoot.records.clip import KnownLength, Tap


def across(x: float, y: float, px: float, mm: float) -> KnownLength:
    """Two points one above the other about a place."""
    return KnownLength(Tap(x, y - px / 2, 1.0), Tap(x, y + px / 2, 1.0), mm)


@pytest.mark.parametrize("plate_mm", [380.0, 450.0])
def test_half_a_plate_of_a_told_length_gives_the_plates_diameter(plate_mm: float) -> None:
    """The pinhole films a plate of 380 or 450 mm; two points half its picture apart are told half its length."""
    t = take(Shot(plate_mm=plate_mm))
    px = t.track.diameter_px.value / 2
    x, y = np.nanmedian(t.track.xy_px, axis=0)
    length = across(x, y, px, plate_mm / 2)

    _, scale, warnings = view_and_scale(t.track, t.body, evolve(t.asked, plate_mm=None), t.info, length=length)

    assert length_prior(length, t.track).mm.value == pytest.approx(plate_mm, rel=1e-6)
    assert scale.plate_mm == pytest.approx(plate_mm, rel=1e-6)
    true_mm_per_px = plate_mm / t.track.diameter_px.value
    # the body's own size is weighed against the clicks: within one of the stated sds
    assert abs(scale.mm_per_px.value - true_mm_per_px) < scale.mm_per_px.sd
    # two clicks of 1.5 px on half a plate
    told = 2**0.5 * 1.5 / px
    assert 0.8 * told < scale.mm_per_px.sd / scale.mm_per_px.value < 1.3 * told + 0.005
    assert "plate_diameter_assumed" not in {w.id for w in warnings}
    assert "two points" in scale.basis


def test_a_length_goes_before_what_was_told_of_the_plate() -> None:
    t = take(Shot(plate_mm=400.0))
    x, y = np.nanmedian(t.track.xy_px, axis=0)
    length = across(x, y, t.track.diameter_px.value, 400.0)

    _, scale, _ = view_and_scale(t.track, t.body, evolve(t.asked, plate_mm=450.0), t.info, length=length)

    assert scale.plate_mm == pytest.approx(400.0)


def test_without_a_plate_the_length_gives_the_scale_where_the_hands_are() -> None:
    """Hands followed, no disc: an upright of 300 mm at the bar's near end gives mm per px there.

    Its length in the picture is the pinhole's own: a disc of 300 mm seen at that place.
    """
    shot = Shot()
    t = take(shot)
    x, y = np.nanmedian(t.track.xy_px, axis=0)
    _, px, _, _ = disc(shot, (shot.side * 0.3, 0.0, 1.1), 0.15)
    none = np.full_like(t.track.far_xy_px, np.nan)
    track = evolve(t.track, source="hands", diameter_px=None, aspect=None, axis_deg=None, far_xy_px=none,
                   far_diameter_px=None)  # fmt: skip
    length = across(float(x), float(y), float(px), 300.0)

    _, without, _ = view_and_scale(track, t.body, evolve(t.asked, stature_m=None), t.info)
    _, scale, warnings = view_and_scale(track, t.body, evolve(t.asked, stature_m=None), t.info, length=length)

    assert scale.plate_mm is None
    assert scale.mm_per_px.value == pytest.approx(300.0 / px, rel=0.02)
    assert scale.mm_per_px.sd < without.mm_per_px.sd
    assert "scale_from_body" not in {w.id for w in warnings}


def test_points_too_near_each_other_are_refused() -> None:
    with pytest.raises(RecordError, match="at least 20 px"):
        across(10, 10, 5, 450)

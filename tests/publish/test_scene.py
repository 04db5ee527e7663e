"""The set as a player draws it: numbers that agree with the records they come from."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from sets import made_measurement, made_set

from midfoot import measures
from midfoot.publish import desk_charts, grid
from midfoot.publish.moments import at, now
from midfoot.publish.scene import scene_of
from midfoot.records.measures import Curve, Measured, Measurement


@pytest.mark.parametrize("lift", ["squat", "deadlift"])
def test_a_scene_is_json_and_names_every_part_as_the_report_does(lift: str) -> None:
    """The words of `moments.now` are the oracle: the video and the report use them."""
    measurement = made_measurement(lift=lift)
    scene = json.loads(json.dumps(scene_of(measurement), allow_nan=False))

    assert scene["size_px"] == [640, 480]
    for rep in scene["reps"]:
        for part in rep["parts"]:
            middle = (part["start_s"] + part["end_s"]) / 2
            assert now(measurement.data, middle).words == f"{rep['words']}, {part['words']}"


def test_bar_and_joints_stand_where_the_records_say() -> None:
    measurement = made_measurement()
    scene = scene_of(measurement)
    data = measurement.data

    assert scene["bar"]["x"] == pytest.approx(data.track.xy_px[:, 0], abs=0.006)
    assert scene["bar"]["forward"] == pytest.approx(data.path.forward_mm, abs=0.006)
    hip = scene["body"]["joints"]["left_hip"]
    assert len(hip["x"]) == len(scene["body"]["t_s"]) == len(data.body.t_s)
    assert all((x is None) == (state == 0) for x, state in zip(hip["x"], hip["state"], strict=True))


def test_without_bar_and_body_the_reason_and_the_candidates_are_there() -> None:
    scene = scene_of(Measurement(made_set(seen=False), Measured(()), ()))

    assert scene["bar"]["status"] == "not_found"
    assert scene["bar"]["candidates"] == [{"x": 10, "y": 20, "r": 30, "at_s": 1.5}]
    assert scene["body"]["joints"] == {}
    assert scene["body"]["reason"] == "nobody was seen"
    assert scene["reps"] == []
    assert desk_charts.samples(Measurement(made_set(seen=False), Measured(()), ()), None) == {
        "set": [],
        "reps": [],
    }


def test_a_point_of_the_grid_lies_on_the_path_that_is_drawn_there() -> None:
    """Where `places` puts the bar at a moment, the SVG's own line of that rep passes."""
    data = made_measurement().data
    layout = grid.lay_out(data, None)
    assert layout is not None
    svg, places = grid.svg(layout), grid.places(layout)
    cell, k = layout.cells[1], 40
    corner = places["cells"][1]  # type: ignore[index]
    x = cell.forward_mm[k] - places["back_mm"]  # type: ignore[operator]
    y = places["high_mm"] - cell.up_mm[k]  # type: ignore[operator]

    second = svg.split("<g ")[2]
    assert second.startswith(f'transform="translate({corner["x"]:.1f} {corner["y"]:.1f})"')
    assert f"{x:.1f},{y:.1f}" in second


def test_samples_follow_the_path_and_the_measures_velocity() -> None:
    """At any sample the velocity is the measures' own curve; the way forward counts from the rep's vertical."""
    measurement = made_measurement()
    speed = measures.velocity_over_clip(measurement.data)
    assert isinstance(speed, Curve)
    rows = desk_charts.samples(measurement, speed)

    row = rows["set"][len(rows["set"]) // 3]
    assert row["v"] == pytest.approx(at(speed.velocity_m_s, speed.t_s, row["t"]), abs=2e-3)
    first = [r for r in rows["reps"] if r["rep"] == 1]
    # a frame after the ascent began the made bar has risen by up to 628 sin(0.08 pi) / 30 = 5.2 mm
    assert first[0]["up"] == pytest.approx(0, abs=5.2)
    assert first[0]["forward"] == pytest.approx(0, abs=1.0)
    peak = max(r["v"] for r in first if r["v"] is not None)
    # the made squat rises 500 mm as sin^2 over half of 2.5 s: at most 500 * pi / 2.5 = 628 mm/s
    assert peak == pytest.approx(0.628, abs=0.02)


def test_every_chart_compiles_and_holds_no_data_of_its_own(tmp_path: Path) -> None:
    """vl-convert, the same compiler that the page's bundle holds, takes every specification with its samples."""
    import vl_convert

    measurement = made_measurement()
    speed = measures.velocity_over_clip(measurement.data)
    assert isinstance(speed, Curve)
    rows = desk_charts.samples(measurement, speed)
    specs = desk_charts.specs(measurement, rows)

    assert tuple(specs) == desk_charts.NAMES
    for spec in specs.values():
        assert len(json.dumps(spec)) < 6000
        whole = {**spec, "width": 300, "datasets": {**rows, "other": []}}
        assert "<svg" in vl_convert.vegalite_to_svg(whole)


def test_nothing_forward_is_drawn_where_the_facing_is_not_known() -> None:
    measurement = made_measurement()
    data = evolve(measurement.data, view=evolve(measurement.data.view, facing="unknown"))
    blind = evolve(measurement, data=data)
    rows = desk_charts.samples(blind, None)

    assert scene_of(blind)["forward_px"] == 0
    assert {r["forward"] for r in rows["reps"]} == {None}
    assert "forward_over_height" not in desk_charts.specs(blind, rows)
    assert np.isfinite([r["up"] for r in rows["reps"]]).all()


def test_a_view_that_does_not_show_the_way_forward_gives_none() -> None:
    """The measures of it were not seen in any rep: then neither picture nor chart says how far."""
    made = made_measurement()
    hidden = {"path_departure_mm", "path_range_mm"}
    rows = tuple(
        tuple(
            evolve(m, value=None, sd=None, sd_common=None, status="not_seen") if m.id in hidden else m for m in rep
        )
        for rep in made.measured.reps
    )
    front = evolve(made, measured=evolve(made.measured, reps=rows))

    assert scene_of(made)["forward_px"] == -1
    assert scene_of(front)["forward_px"] == 0
    assert {r["forward"] for r in desk_charts.samples(front, None)["reps"]} == {None}


def test_a_rep_whose_ascent_is_not_in_the_clip_is_in_no_chart_over_height() -> None:
    made = made_measurement()
    first, second = made.data.reps.reps
    cut = evolve(made.data.reps, reps=(evolve(first, start=None, low_start=None, low_end=None), second))
    rows = desk_charts.samples(evolve(made, data=evolve(made.data, reps=cut)), None)

    assert {r["rep"] for r in rows["reps"]} == {2}

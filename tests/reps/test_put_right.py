"""Reps that a person puts in or takes out, against the dense path that the heights were made from."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from made_reps import Made, nobody, sampled
from sets import made_measurement

from midfoot import findings, measures
from midfoot.records.reps import Rep, RepSet
from midfoot.reps import GivenError, GivenReps, find_reps

STEP_S = 0.001


def found_in(made: Made, given: GivenReps | None = None, lift: str = "squat") -> RepSet:
    path, info = sampled(made, noise_mm=0.3)
    return find_reps(path, nobody(), lift=lift, info=info, given=given)


def spans_s(made: Made) -> list[tuple[float, float]]:
    return [(a * STEP_S, d * STEP_S) for a, _, _, d in made.spans]


def lows(rep: Rep) -> tuple[float, float]:
    assert rep.low_start is not None
    assert rep.low_end is not None
    return rep.low_start.t_s, rep.low_end.t_s


def test_a_partial_rep_that_is_not_counted_is_put_in_with_its_low_by_the_rule() -> None:
    """200 mm between squats of 600 mm: its low lies where the path was made to have it, within 10 mm."""
    made = Made().hold(1.5).rep().hold(1).rep(depth_mm=200.0).hold(1).rep().hold(1.5)
    plain = found_in(made)
    assert len(plain.reps) == 2
    span = spans_s(made)[1]

    reps = found_in(made, GivenReps((), missing=(span,))).reps

    assert [r.n for r in reps] == [1, 2, 3]
    assert (reps[1].start.t_s, reps[1].end.t_s) == pytest.approx(span)
    assert (reps[1].start.why, reps[1].outcome) == ("given", "completed")
    # the dense path, without the program: first and last moment within 10 mm of its lowest point
    dense = np.concatenate(made.up)[made.spans[1][0] : made.spans[1][3]]
    inside = np.flatnonzero(dense <= dense.min() + 10.0) * STEP_S + span[0]
    assert lows(reps[1]) == pytest.approx((inside[0], inside[-1]), abs=0.03)
    assert [lows(r) for r in (reps[0], reps[2])] == [lows(r) for r in plain.reps]
    assert [p.kind for p in found_in(made, GivenReps((), missing=(span,))).phases].count("descent") == 3


def test_what_is_no_rep_is_taken_out_and_may_be_put_in_again() -> None:
    made = Made().hold(1.5).rep().hold(1).rep().hold(1).rep().hold(1.5)
    plain = found_in(made).reps
    a, b = spans_s(made)[1]

    left = found_in(made, GivenReps((), false_at=((a + b) / 2,))).reps

    assert [lows(r) for r in left] == [lows(plain[0]), lows(plain[2])]
    assert [r.n for r in left] == [1, 2]
    again = found_in(made, GivenReps((), missing=((a, b),), false_at=((a + b) / 2,))).reps
    assert np.array([lows(r) for r in again]) == pytest.approx(np.array([lows(r) for r in plain]), abs=0.011)


def test_said_of_a_rep_that_is_found_or_of_none_it_changes_nothing() -> None:
    made = Made().hold(1.5).rep().hold(1).rep().hold(1.5)
    a, b = spans_s(made)[0]
    plain = found_in(made).reps

    assert found_in(made, GivenReps((), missing=((a + 0.2, b),), false_at=(0.3,))).reps == plain


def test_a_pull_that_was_missed_has_its_top() -> None:
    made = Made(height_mm=225.0).hold(1).rep(depth_mm=-500).hold(1.5).rep(depth_mm=-500).hold(1)
    a, b = spans_s(made)[1]
    plain = found_in(made, lift="deadlift").reps[1]

    gone = GivenReps((), missing=((a, b),), false_at=((a + b) / 2,))
    pull = found_in(made, gone, "deadlift").reps[1]

    assert pull.low_start is None
    assert pull.top_start.t_s == pytest.approx(plain.top_start.t_s, abs=0.011)
    assert pull.top_end.t_s == pytest.approx(plain.top_end.t_s, abs=0.011)


def test_where_nothing_was_seen_only_the_ends_are_known() -> None:
    made = Made().hold(1.5).rep().hold(1.5)
    _, info = sampled(made)

    (rep,) = find_reps(None, nobody(), lift="squat", info=info, given=GivenReps((), missing=((1.5, 4.6),))).reps

    assert (rep.start.t_s, rep.end.t_s, rep.low_start) == (1.5, 4.6, None)


def test_a_stretch_without_a_way_down_has_no_low() -> None:
    made = Made().hold(4).rep().hold(1.5)

    rep = found_in(made, GivenReps((), missing=((0.5, 3.5),))).reps[0]

    assert (rep.low_start, rep.low_end) == (None, None)


def test_outside_the_clip_it_is_refused() -> None:
    with pytest.raises(GivenError, match="does not lie in the clip"):
        found_in(Made().hold(1.5).rep().hold(1.5), GivenReps((), missing=((50.0, 53.0),)))


def test_measures_and_findings_follow() -> None:
    """Three squats of 500 mm, the third 50 mm forward on its way up and not counted: put in, the finding comes."""
    forward = [0.0, 0.0, 50.0]
    t = np.arange(360) / 30
    data = made_measurement().data
    starts = [1.0 + 3.5 * n for n in range(3)]
    up, ahead = np.zeros_like(t), np.zeros_like(t)
    for start, by in zip(starts, forward, strict=True):
        phase = np.clip((t - start) / 2.5, 0, 1)
        up -= 500.0 * np.sin(np.pi * phase) ** 2
        ahead += np.where(phase > 0.5, by * np.sin(np.pi * (phase - 0.5) * 2), 0.0) * (phase < 1)
    still = np.full(360, 0.3)
    path = evolve(data.path, t_s=t, up_mm=up, forward_mm=ahead, sd_up_mm=still, sd_forward_mm=still,
                  seen=np.ones(360, bool))  # fmt: skip
    info = evolve(data.clip, duration_s=12.0, frames=360)
    data = evolve(data, path=path, clip=info, body=nobody())

    def counted(given: GivenReps) -> tuple[int, float | None, set[int]]:
        now = evolve(data, reps=find_reps(path, nobody(), lift="squat", info=info, given=given))
        measured = measures.measure(now)
        found = findings.find(now, measured, made_measurement().context, ())
        last = measured.of(len(measured.reps) - 1, "range_of_motion_mm")
        reps = {n for f in found.findings if f.id == "squat_bar_forward" for n in f.reps}
        return len(measured.reps), None if last is None else last.value, reps

    gone = GivenReps((), false_at=(starts[2] + 1.25,))
    assert counted(gone)[0] == 2
    assert counted(gone)[2] == set()
    count, range_mm, reps = counted(evolve(gone, missing=((starts[2], starts[2] + 2.5),)))
    assert count == 3
    assert range_mm == pytest.approx(500.0, abs=3.0)
    assert reps == {3}

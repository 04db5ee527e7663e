"""Reps of made sets whose moments are known: counts, outcomes, moments, and what must not be called a rep."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from attrs import evolve
from made_reps import Made, info_of, nobody, sampled

from midfoot.records.base import RecordError
from midfoot.records.reps import Moment, Rep, RepSet
from midfoot.reps import find_reps


def found(made: Made, lift: str, **errors: object) -> RepSet:
    path, info = sampled(made, **errors)  # type: ignore[arg-type]
    return find_reps(path, nobody(), lift=lift, info=info)


def outcomes(reps: RepSet) -> list[str]:
    return [r.outcome for r in reps.reps]


def four(rep: Rep) -> tuple[Moment | None, ...]:
    return rep.start, rep.low_start or rep.top_start, rep.low_end or rep.top_end, rep.end


def errors_s(reps: RepSet, made: Made) -> np.ndarray:
    """Measured less true, (reps, 4), and every moment must be there."""
    assert len(reps.reps) == len(made.spans)
    rows = []
    for rep, true in zip(reps.reps, made.moments(), strict=True):
        moments = four(rep)
        assert all(m is not None for m in moments), rep
        rows.append([m.t_s - t for m, t in zip(moments, true, strict=True) if m is not None])
    return np.array(rows)


def squats(n: int = 3, hold_s: float = 1.0, **how: float) -> Made:
    made = Made(1300).hold(1.5)
    for _ in range(n):
        made.rep(**how).hold(hold_s)
    return made


def presses(n: int = 5, depth_mm: float = 400, hold_s: float = 1.0, **how: float) -> Made:
    made = Made(1000).hold(1.5)
    for _ in range(n):
        made.rep(depth_mm, **how).hold(hold_s)
    return made.hold(1.0)


def pulls(n: int = 4, hold_s: float = 1.0, pause_s: float = 0.6) -> Made:
    made = Made(225).hold(1.5)
    for _ in range(n):
        made.rep(-560, 1.3, pause_s, 0.9).hold(hold_s)
    return made.hold(1.0)


SETS = {
    "squat": (squats(), "squat"),
    "paused bench": (presses(pause_s=1.0), "bench"),
    "bench, touch and go": (presses(12, hold_s=0, pause_s=0, down_s=0.9, up_s=0.8), "bench"),
    "bench of 100 mm": (presses(5, 100, down_s=0.8, up_s=0.8), "bench"),
    "deadlift": (pulls(), "deadlift"),
    "deadlift, touch and go": (pulls(6, hold_s=0, pause_s=0.15), "deadlift"),
    "twenty squats": (squats(20), "squat"),
    "slow single with long commands": (
        Made(1000).hold(8).rep(350, 2, 3.0, 6, stick=0.97).hold(6), "bench"),
}  # fmt: skip


@pytest.mark.parametrize("name", SETS)
def test_moments_within_the_target_at_side_noise(name: str) -> None:
    """0.7 mm of slow noise and pixels of 1.5 mm at 30 fps: within 35 ms, the issue's target for side views."""
    made, lift = SETS[name]

    reps = found(made, lift, noise_mm=0.7, px_mm=1.5, seed=3)

    assert outcomes(reps) == ["completed"] * len(made.spans)
    assert np.abs(errors_s(reps, made)).max() <= 0.035


@pytest.mark.parametrize("name", ["squat", "paused bench", "deadlift", "deadlift, touch and go"])
def test_moments_within_the_target_at_oblique_noise(name: str) -> None:
    """3 mm of slow noise: within 80 ms, the issue's target for oblique views."""
    made, lift = SETS[name]

    reps = found(made, lift, noise_mm=3.0, seed=1)

    assert np.abs(errors_s(reps, made)).max() <= 0.080


@pytest.mark.parametrize("noise_mm", [0.7, 3.0, 8.0, 15.0, 25.0])
@pytest.mark.parametrize("name", ["squat", "deadlift", "bench, touch and go"])
def test_noise_changes_no_count_and_the_sd_covers_it(name: str, noise_mm: float) -> None:
    """Errors in stated sds stay of order one from plates to hands (2 allows for tails), counts are exact."""
    made, lift = SETS[name]

    ratios = []
    for seed in range(2):
        reps = found(made, lift, noise_mm=noise_mm, seed=seed)
        sd = np.array([[m.sd_s for m in four(r) if m is not None] for r in reps.reps])
        ratios.append(errors_s(reps, made) / sd)

    assert float(np.sqrt(np.mean(np.square(ratios)))) < 2.0


@pytest.mark.parametrize("name", ["squat", "deadlift", "bench, touch and go"])
def test_sd_grows_with_the_noise(name: str) -> None:
    """Noisier tracks give less sure moments."""
    made, lift = SETS[name]

    sds = []
    for noise_mm in (0.7, 3.0, 8.0, 25.0):
        reps = found(made, lift, noise_mm=noise_mm, seed=1)
        sds.append(float(np.median([m.sd_s for r in reps.reps for m in four(r) if m is not None])))

    assert sds == sorted(sds)
    assert sds[-1] > 4 * sds[0]


@pytest.mark.parametrize("rate_hz", [5.0, 8.0, 15.0, 120.0])
def test_any_frame_rate(rate_hz: float) -> None:
    """Few frames make moments less sure, not wrong: within one frame plus 10 ms."""
    for name in ("squat", "deadlift"):
        made, lift = SETS[name]

        reps = found(made, lift, rate_hz=rate_hz, noise_mm=1.0)

        assert np.abs(errors_s(reps, made)).max() <= 1 / rate_hz + 0.015


def test_uneven_timestamps_and_lost_frames() -> None:
    """Each row's own timestamp counts."""
    made, lift = SETS["squat"]

    reps = found(made, lift, noise_mm=0.7, jitter=0.8, lost=0.15, seed=2)

    assert np.abs(errors_s(reps, made)).max() <= 0.045


def test_set_that_slows_down_and_sticks() -> None:
    """Ever slower ascents with sticking, holds long and short."""
    made = Made().hold(1.5)
    for k in range(8):
        made.rep(560, 1.2, 0.1, 1.0 + 0.2 * k, stick=0.1 * k).hold(0.3 if k % 2 else 2.0)

    reps = found(made, "squat", noise_mm=0.7)

    assert np.abs(errors_s(reps, made)).max() <= 0.035


@pytest.mark.parametrize(
    ("made", "lift"),
    [
        (Made().hold(10), "squat"),
        (Made(1250).hold(2).move(60, 0.7).steps(8).hold(5).steps(6).move(-60, 0.6).hold(2), "squat"),
        (Made(225).hold(1).move(700, 1).steps(10, 40, 0.6, 3000).move(-700, 1).hold(1), "squat"),
        (Made(900).hold(2).move(50, 0.6, forward_by=200).hold(6).move(-50, 0.6, forward_by=-200).hold(2), "bench"),
        (Made(225).hold(3).move(40, 0.5).move(-40, 0.4).hold(2).move(30, 0.4).move(-30, 0.4).hold(3), "deadlift"),
    ],
    ids=["held", "walkout and back without a rep", "carried about", "unracked only", "rolled and jerked"],
)  # fmt: skip
@pytest.mark.parametrize("noise_mm", [1.0, 3.0])
def test_no_false_reps(made: Made, lift: str, noise_mm: float) -> None:
    """What is no rep is not called one, and the warning says so."""
    reps = found(made, lift, noise_mm=noise_mm, sway_mm=4.0, seed=1)

    assert reps.reps == ()
    assert [w.id for w in reps.warnings] == ["no_reps"]


@pytest.mark.parametrize("noise_mm", [8.0, 15.0, 25.0])
def test_noise_alone_is_no_rep(noise_mm: float) -> None:
    """A still lifter followed by noisy hands makes no reps."""
    for seed in range(3):
        for lift in ("squat", "bench", "deadlift"):
            assert found(Made().hold(15), lift, noise_mm=noise_mm, sway_mm=6, seed=seed).reps == ()


def test_unrack_walkout_sway_and_rerack() -> None:
    """The set around the reps is named, and the start is not taken from the rack."""
    made = Made(1250).hold(2).move(60, 0.7).steps(4).hold(2).rep().hold(1).rep().hold(1.5)
    made.steps(4, forward_by=150).move(-60, 0.6).hold(2)

    reps = found(made, "squat", noise_mm=0.7, sway_mm=2.0)

    assert np.abs(errors_s(reps, made)).max() <= 0.06
    kinds = [p.kind for p in reps.phases]
    assert kinds[:4] == ["setup", "unrack", "walkout", "hold"]
    assert kinds[4:11] == ["descent", "low", "ascent", "between", "descent", "low", "ascent"]
    assert kinds[11:13] == ["hold", "rerack"]
    edges = [(p.start_s, p.end_s) for p in reps.phases]
    assert all(a[1] == pytest.approx(b[0]) for a, b in pairwise(edges))


def test_straight_from_the_rack_and_back() -> None:
    """No hold between rack and reps: the turning height stands for the held one."""
    made = Made(1250).hold(2).move(60, 0.7).rep().rep().move(-60, 0.6).hold(2)

    reps = found(made, "squat", noise_mm=0.7)

    assert np.abs(errors_s(reps, made)).max() <= 0.035
    assert "without a hold" in reps.reps[0].start.why  # type: ignore[union-attr]
    assert [p.kind for p in reps.phases][:3] == ["setup", "unrack", "descent"]
    assert [p.kind for p in reps.phases][-3:] == ["hold", "rerack", "aside"]


@pytest.mark.parametrize("size_mm", [15.0, 40.0, 150.0])
def test_slips_of_single_frames_move_nothing(size_mm: float) -> None:
    """A frame in which the tracking jumped and came back is left out, in holds and in movement."""
    made = squats()
    path, info = sampled(made, noise_mm=0.5)
    up = np.array(path.up_mm)
    for k, i in enumerate(range(7, len(up) - 7, 23)):
        up[i] += size_mm * (-1) ** k

    reps = find_reps(evolve(path, up_mm=up), nobody(), lift="squat", info=info)

    assert np.abs(errors_s(reps, made)).max() <= 0.06


@pytest.mark.parametrize("said_sd_mm", [0.2, 6.0])
def test_track_that_is_wrong_about_its_own_noise(said_sd_mm: float) -> None:
    """Counts and moments do not hang on the sd that the track states."""
    for name in ("squat", "deadlift", "bench, touch and go"):
        made, lift = SETS[name]

        reps = found(made, lift, noise_mm=1.5, said_sd_mm=said_sd_mm, seed=2)

        assert np.abs(errors_s(reps, made)).max() <= 0.09


def test_bench_with_a_rack_as_low_as_its_short_range() -> None:
    """The hand-off and the rerack travel as far as the reps: they go toward the head, and stay there."""
    made = Made(900).hold(2).move(80, 0.8, forward_by=200).hold(1).rep(90, 0.9, 0.5, 0.8).hold(1)
    made.rep(90, 0.9, 0.5, 0.8).hold(1).move(-80, 0.8, forward_by=-200).hold(2)

    for seed in range(4):
        assert np.abs(errors_s(found(made, "bench", noise_mm=0.7, seed=seed), made)).max() <= 0.04


def test_bar_fetched_from_the_floor_before_the_set() -> None:
    """One long lift to the rack is not one of the reps."""
    made = Made(225).hold(1).move(800, 2).hold(1).rep(300).hold(1).rep(300).hold(1).rep(300).hold(2)

    assert np.abs(errors_s(found(made, "bench", noise_mm=0.7), made)).max() <= 0.035


DONE = ["completed"] * 3
CUT_LAST = ["completed", "completed", "cut_off"]
CUTS = {
    "deadlift from mid-pull": (pulls(3), "deadlift", lambda m: (m[0][0] + 0.35, 99), DONE, True, False),
    "deadlift from the top": (pulls(3), "deadlift", lambda m: (m[0][1] + 0.2, 99), DONE, True, False),
    "deadlift to the top": (pulls(3), "deadlift", lambda m: (0, m[2][1] + 0.3), DONE, False, True),
    "one deadlift to the top": (pulls(1), "deadlift", lambda m: (0, m[0][1] + 0.3), DONE[:1], False, True),
    "deadlift to the lowering": (pulls(3), "deadlift", lambda m: (0, m[2][2] + 0.35), DONE, False, True),
    "deadlift to mid-pull": (
        pulls(3), "deadlift", lambda m: (0, m[2][0] + 0.5), CUT_LAST, False, True),
    "squat from the descent": (squats(), "squat", lambda m: (m[0][0] + 0.4, 99), DONE, True, False),
    "squat from the low": (squats(), "squat", lambda m: (m[0][1] + 0.2, 99), DONE, True, False),
    "squat from the ascent": (squats(), "squat", lambda m: (m[0][2] + 0.4, 99), DONE, True, False),
    "squat to the ascent": (
        squats(), "squat", lambda m: (0, m[2][2] + 0.5), CUT_LAST, False, True),
    "squat to the descent": (
        squats(), "squat", lambda m: (0, m[2][0] + 0.6), CUT_LAST, False, True),
    "one squat to the ascent": (squats(1), "squat", lambda m: (0, m[0][2] + 0.5), ["cut_off"], False, True),
    "squat to just after": (squats(), "squat", lambda m: (0, m[2][3] + 0.25), DONE, False, False),
}  # fmt: skip


@pytest.mark.parametrize("name", CUTS)
def test_clip_that_starts_or_ends_within_a_rep(name: str) -> None:
    """The outcome is what the clip shows; moments outside it are None; the others stay right."""
    made, lift, when, expected, first_cut, last_cut = CUTS[name]
    true = made.moments()

    begin, end = when(true)
    end = min(end, float(made.dense[0][-1]))
    reps = found(made, lift, noise_mm=0.7, cut=(begin, end), seed=1)

    assert outcomes(reps) == expected
    assert [r.start_seen for r in reps.reps] == [not first_cut] + [True] * (len(expected) - 1)
    assert [r.end_seen for r in reps.reps] == [True] * (len(expected) - 1) + [not last_cut]
    for rep, moments in zip(reps.reps, true, strict=True):
        for got, t in zip(four(rep), moments, strict=True):
            if got is not None:
                assert begin - 0.02 <= got.t_s <= end
                assert abs(got.t_s - t) <= 0.035
            else:
                assert t < begin + 0.02 or t > end - 0.35


def test_pull_shaped_like_a_clip_that_starts_in_its_middle() -> None:
    """Lockouts at 0.90 3.33 5.63 8.27 s, on the floor at 1.83 4.13 6.53 s: times known of a real set."""
    tops, floors = (0.90, 3.33, 5.63, 8.27), (1.83, 4.13, 6.53)
    made = Made(225 + 230)
    made.move(300, 0.85)
    for k, top in enumerate(tops):
        made.hold(0.12)
        if k < len(floors):
            made.move(-530, floors[k] - top - 0.02).hold(0.35)
            made.move(530, tops[k + 1] - floors[k] - 0.42)
    made.hold(0.5)

    reps = found(made, "deadlift", noise_mm=1.5, seed=4)

    assert outcomes(reps) == ["completed"] * 4
    assert not reps.reps[0].start_seen
    assert not reps.reps[3].end_seen
    t, up, _ = made.dense
    for rep, top in zip(reps.reps, tops, strict=True):
        before = (t < top + 0.1) & (t > top - 0.6)
        assert rep.top_start is not None
        assert abs(rep.top_start.t_s - t[before][up[before] >= up[before].max() - 10][0]) < 0.05
        assert abs(rep.top_start.t_s - top) < 0.25
    for rep, floor in zip(reps.reps[:3], floors, strict=True):
        before = (t < floor + 0.1) & (t > floor - 0.6)
        assert rep.end is not None
        assert abs(rep.end.t_s - t[before][up[before] <= up[before].min() + 10][0]) < 0.05


MISSED = {
    "squat, taken down to the safeties": (
        Made().hold(2).rep().hold(1).rep().hold(1).move(-600, 1.5).hold(0.2).move(200, 1.2).move(-300, 0.8)
        .hold(3), "squat", ["completed", "completed", "missed"]),
    "one squat": (
        Made().hold(2).move(-600, 1.5).hold(0.2).move(200, 1.2).move(-300, 0.8).hold(3), "squat", ["missed"]),
    "squat, failed high": (
        Made().hold(2).rep().hold(1).move(-600, 1.5).hold(0.2).move(420, 2.2).move(-500, 1.8).hold(3),
        "squat", ["completed", "missed"]),
    "bench, lifted off by others after lying on the chest": (
        Made(1000).hold(2).rep(350).hold(1).move(-350, 1.5).hold(0.5).move(150, 1.5).move(-150, 1).hold(1.5)
        .move(350, 2).hold(2), "bench", ["completed", "missed"]),
    "deadlift to the knee": (
        Made(225).hold(2).rep(-560).hold(1.5).move(250, 1.2).move(-250, 0.6).hold(2),
        "deadlift", ["completed", "missed"]),
}  # fmt: skip


@pytest.mark.parametrize("name", MISSED)
def test_missed_reps(name: str) -> None:
    """A rep that does not get there is missed, once, and says how far it came."""
    made, lift, expected = MISSED[name]

    for seed in range(3):
        reps = found(made, lift, noise_mm=1.0, seed=seed)

        assert outcomes(reps) == expected
        assert "mm" in reps.reps[-1].why


@pytest.mark.parametrize(
    ("said_sd_mm", "expected"), [(1.0, ["missed", "missed", "completed"]), (42.0, ["completed"] * 3)]
)
def test_a_pull_within_the_error_of_the_others_is_not_missed(said_sd_mm: float, expected: list[str]) -> None:
    # half a metre and 600 mm, followed by boxes alone near edge-on: 42 mm is what is stated of a place there
    made = Made(225).hold(2).rep(-500).hold(1.5).rep(-500).hold(1.5).rep(-605).hold(2)

    reps = found(made, "deadlift", noise_mm=0.5, said_sd_mm=said_sd_mm)

    assert outcomes(reps) == expected


def test_missed_squat_ascends_to_its_highest_point() -> None:
    """Low and highest point of a failed ascent are where they were made."""
    made = Made().hold(2).move(-600, 1.5).hold(0.4).move(200, 1.2).move(-300, 0.8).hold(3)
    _, up, _ = made.dense
    high = 3.9 + np.flatnonzero(up[3900:5100] >= up[5100] - 10)[0] / 1000

    rep = found(made, "squat", noise_mm=0.5).reps[0]

    assert rep.end is not None
    assert rep.low_end is not None
    assert abs(rep.end.t_s - high) < 0.05
    assert 3.85 < rep.low_end.t_s < 4.2
    assert "highest point" in rep.end.why


def test_completed_after_going_down_on_the_way() -> None:
    """One effort with a way back is one rep; help is neither claimed nor excluded."""
    made = Made().hold(2).move(-600, 1.5).move(200, 0.6).move(-120, 0.5).move(520, 1.5).hold(2)

    reps = found(made, "squat", noise_mm=1.0)

    assert outcomes(reps) == ["completed"]
    assert "cannot be told" in reps.reps[0].why


def test_partial_reps_as_a_habit_are_reps() -> None:
    """A set pressed without locking out is a set; only its unlocked height differs."""
    made = Made(1000).hold(2).rep(400, 1, 0, 0.8, short_mm=90)
    for _ in range(6):
        made.rep(310, 0.8, 0, 0.8)
    made.hold(0.3).move(90, 0.6).hold(2)

    assert outcomes(found(made, "bench", noise_mm=1.0)) == ["completed"] * 7


def test_deadlift_that_hitches_dips_bounces_and_swings() -> None:
    """One pull with a dip of 40 mm; plates that bounce on the floor and swing at lockout are no reps."""
    hitch = Made(225).hold(2).move(300, 1).move(-40, 0.4).move(300, 1.2).hold(0.6).move(-560, 1.2).hold(2)
    bounce = Made(225).hold(2).rep(-560, 1.1, 0.6, 0.7).swing(40, 3, 1).hold(1).rep(-560, 1.1, 0.6, 0.7)
    bounce.swing(40, 3, 1).hold(1)
    swing = Made(225).hold(2).move(560, 1.1).swing(20, 4, 1.2).hold(0.4).move(-560, 0.9).hold(2)

    assert outcomes(found(hitch, "deadlift", noise_mm=1.0)) == ["completed"]
    assert np.abs(errors_s(found(bounce, "deadlift", noise_mm=0.7), bounce)).max() <= 0.035
    assert outcomes(found(swing, "deadlift", noise_mm=1.0)) == ["completed"]


@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
def test_dropped_bar(rate_hz: float) -> None:
    """Let go at the top it falls as things fall; lowered fast it does not."""
    t = np.arange(400) / 1000
    fall = 560 - 0.5 * 9806.65 * t**2
    dropped = Made(225).hold(2).move(560, 1.2).hold(0.5)
    dropped._add(225 + fall[fall > 0])
    dropped.swing(100, 2, 1.0).hold(1)
    lowered = Made(225).hold(2).rep(-560, 1.2, 0.5, 0.75).hold(1)

    assert outcomes(found(dropped, "deadlift", noise_mm=1.0, rate_hz=rate_hz)) == ["dropped"]
    assert outcomes(found(lowered, "deadlift", noise_mm=1.0, rate_hz=rate_hz)) == ["completed"]


def test_moments_inside_gaps() -> None:
    """A short hole makes the moment less sure, a long one takes it away, a whole rep unseen is told."""
    made = squats()
    true = made.moments()
    whole = found(made, "squat", noise_mm=0.7).reps[1].start
    short = found(made, "squat", noise_mm=0.7, hidden=((true[1][0] - 0.1, true[1][0] + 0.1),)).reps[1].start
    low = found(made, "squat", noise_mm=0.7, hidden=((true[1][1] - 0.3, true[1][2] + 0.3),)).reps[1]
    missing = found(made, "squat", noise_mm=0.7, hidden=((true[1][0] - 0.3, true[1][3] + 0.3),))

    assert whole is not None
    assert short is not None
    assert abs(short.t_s - true[1][0]) < 0.1
    assert short.sd_s > 3 * whole.sd_s
    assert low.low_start is None
    assert low.low_end is None
    assert low.end is not None
    assert len(missing.reps) == 2
    assert "bar_unseen" in [w.id for w in missing.warnings]


def test_a_cut_in_the_picture_splits_and_one_without_a_jump_does_not() -> None:
    """Pieces are measured on their own; a flash that changes nothing in the bar's path divides no rep."""
    made = squats(2)
    path, _ = sampled(made, noise_mm=0.7)
    middle = float(np.mean(made.moments()[0][1:3]))
    flash = find_reps(path, nobody(), lift="squat", info=info_of(path.t_s, (middle,)))
    other = path.up_mm + np.where(path.t_s > middle, 300.0, 0.0)
    cut = find_reps(evolve(path, up_mm=other), nobody(), lift="squat", info=info_of(path.t_s, (middle,)))

    assert outcomes(flash) == ["completed", "completed"]
    assert (cut.reps[0].start_seen, cut.reps[0].end_seen) == (True, False)
    assert cut.reps[0].outcome == "cut_off"


def test_hands_that_come_to_the_bar_and_leave_it_are_no_pulls() -> None:
    """With the bar followed at the hands, bending down to it looks like lowering it."""
    made = Made(780).hold(1).move(-555, 1.5).hold(1).rep(-555, 1.3, 0.6, 1).hold(1).rep(-555, 1.3, 0.6, 1)
    made.hold(0.6).move(560, 1.5).hold(1)

    reps = found(made, "deadlift", noise_mm=10.0, source="hands")

    assert outcomes(reps) == ["completed", "completed"]


def test_unknown_lift_is_misuse() -> None:
    """The error names field, expected and got."""
    path, info = sampled(squats(1))
    with pytest.raises(RecordError, match="lift: expected one of squat, bench, deadlift, got 'row'"):
        find_reps(path, nobody(), lift="row", info=info)


def test_nothing_seen_at_all() -> None:
    """No path and no body: no reps, one clear warning."""
    _, info = sampled(squats(1))
    reps = find_reps(None, nobody(), lift="squat", info=info)

    assert reps.reps == ()
    assert [w.id for w in reps.warnings] == ["no_reps"]


def test_rack_below_the_reps_where_forward_is_not_known() -> None:
    """From the front nothing tells toward which end the bar is racked: it stays there, and that is enough."""
    made = Made(930).hold(1).move(70, 0.7).hold(1).rep(120, 0.9, 0.5, 0.8).hold(1).rep(120, 0.9, 0.5, 0.8).hold(1)
    made.move(-70, 0.7).hold(1)

    for seed in range(3):
        path, info = sampled(made, noise_mm=0.7, seed=seed)
        nowhere = evolve(path, forward_mm=np.full(len(path.t_s), np.nan))
        reps = find_reps(nowhere, nobody(), lift="bench", info=info)

        assert np.abs(errors_s(reps, made)).max() <= 0.04


def test_lowered_and_lifted_while_walking_is_no_rep() -> None:
    """Down and up by as much as a rep, but a metre and a half farther on: the bar is being carried."""
    made = Made(1300).hold(1.5).rep().hold(1).rep().hold(1.5)
    made.move(-500, 1.0, forward_by=900).move(500, 1.0, forward_by=900).hold(1)

    reps = found(made, "squat", noise_mm=1.0)

    assert outcomes(reps) == ["completed", "completed"]


@pytest.mark.parametrize("seed", range(3))
def test_a_bar_that_bends_is_in_the_sd_of_a_start_by_the_hands(seed: int) -> None:
    """Hands rise 45 mm in 0.6 s before the plates leave: the start by them lies before, by less than 2.5 sds."""
    made = Made(225).hold(2).move(45, 0.6)
    plates = made.n * 0.001
    made.move(515, 1.4).hold(0.8).move(-560, 1.0).hold(1.5)

    hands = found(made, "deadlift", noise_mm=12, said_sd_mm=15, source="hands", seed=seed)
    plate = found(made, "deadlift", noise_mm=12, said_sd_mm=15, seed=seed)

    (one,), (other,) = hands.reps, plate.reps
    assert one.start is not None
    assert other.start is not None
    assert 0 < plates - one.start.t_s < 2.5 * one.start.sd_s
    assert one.start.sd_s > other.start.sd_s + 0.1
    assert one.start.t_s == other.start.t_s


@pytest.mark.parametrize(("short_mm", "outcome"), [(5.0, "completed"), (10.0, "completed"), (80.0, "cut_off")])
def test_a_clip_that_ends_on_the_last_millimetres_of_an_ascent(short_mm: float, outcome: str) -> None:
    """Back within 15 mm of where it was held it has come back; 80 mm short nobody can say that it will."""
    made = Made(1300).hold(1.5).rep(600, 1.4, 0.2, 1.4)
    t, up, _ = made.dense
    true = made.moments()[0][3]
    ends = float(t[np.flatnonzero(up < 1300 - short_mm)[-1]])

    reps = found(made.hold(1), "squat", noise_mm=0.5, cut=(0.0, ends))

    assert outcomes(reps) == [outcome]
    end = reps.reps[0].end
    assert (end is not None) == (outcome == "completed")
    assert end is None or abs(end.t_s - true) < 3 * end.sd_s

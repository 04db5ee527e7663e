"""Who is covered and how: what lies under a cover cannot be told from what else might lie there."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from midfoot.publish.blur import NOWHERE, Veil, is_plate, own_head, veil_of
from midfoot.publish.tiles import BLOCKS, cover
from midfoot.records.bar import BarTrack
from midfoot.records.body import INDEX, BodyTrack
from midfoot.records.heads import Heads, HeadTrack

T = np.arange(0, 4, 0.1)


def track(x: float, y: float, radius: float = 20.0, *, t_s: np.ndarray = T, by: str = "face") -> HeadTrack:
    return HeadTrack(by, t_s, np.tile([x, y], (len(t_s), 1)), np.full(len(t_s), radius))


def body(head: tuple[float, float] | None, *, until_s: float = 9.0) -> BodyTrack:
    """A standing lifter with his shoulders 60 px under the head's middle and a trunk of 90 px."""
    xy = np.full((len(T), 33, 2), np.nan)
    state = np.zeros((len(T), 33))
    if head is not None:
        places = {"nose": (0, 0), "left_shoulder": (-5, 60), "right_shoulder": (5, 60), "left_hip": (0, 150),
                  "right_hip": (0, 150)}  # fmt: skip
        for name, (dx, dy) in places.items():
            xy[:, INDEX[name]] = [head[0] + dx, head[1] + dy]
            state[until_s >= T, INDEX[name]] = 2
    flat = np.where(state > 0, 0.9, 0.0)
    return BodyTrack(status="seen" if head else "not_seen", model="full", t_s=T, xy_px=xy, sd_px=flat, state=state,
                     peak=flat, depth_m=flat, world_m=np.zeros((len(T), 33, 3)))  # fmt: skip


def heads(*tracks: HeadTrack) -> Heads:
    return Heads(0.0, 4.0, tracks)


def test_others_are_covered_and_the_lifter_is_not() -> None:
    veil = veil_of(heads(track(100, 100), track(300, 100)), body((100, 100)), with_lifter=False)
    assert [c[:2] for c in veil.circles(2.0)] == [(300.0, 100.0)]


def test_the_lifter_is_covered_by_choice_also_where_no_face_was_found() -> None:
    veil = veil_of(heads(track(300, 100)), body((100, 100)), with_lifter=True)
    assert {(round(c[0]), round(c[1])) for c in veil.circles(2.0)} == {(300, 100), (100, 100)}


def test_everybody_is_covered_where_the_lifter_was_not_seen() -> None:
    found = heads(track(100, 100), track(300, 100))
    assert len(veil_of(found, body(None), with_lifter=False).circles(1.0)) == 2


def test_a_head_is_covered_again_once_the_lifter_is_out_of_sight() -> None:
    """Who stands there then is not sure."""
    veil = veil_of(heads(track(100, 100)), body((100, 100), until_s=3.0), with_lifter=False)
    assert veil.circles(2.0) == []
    assert len(veil.circles(3.8)) == 1


def test_a_head_that_was_the_lifters_for_half_its_time_is_covered() -> None:
    moved = HeadTrack("face", T, np.where(T[:, None] < 2, [100.0, 100.0], [300.0, 100.0]), np.full(len(T), 20.0))
    veil = veil_of(heads(moved), body((100, 100)), with_lifter=False)
    assert len(veil.circles(1.0)) == 1


def test_of_two_faces_at_the_lifters_head_the_farther_is_covered() -> None:
    """A spotter's face right beside his."""
    veil = veil_of(heads(track(102, 100), track(126, 100)), body((100, 100)), with_lifter=False)
    assert [c[:2] for c in veil.circles(2.0)] == [(126.0, 100.0)]


def test_two_finders_of_one_head_spare_it_both() -> None:
    veil = veil_of(heads(track(102, 100), track(96, 104, by="body")), body((100, 100)), with_lifter=False)
    assert veil.circles(2.0) == []


def followed(head: tuple[float, float], hips: tuple[float, float]) -> HeadTrack:
    """A body of the first look: its head and its hips."""
    count = len(T)
    return HeadTrack("body", T, np.tile(head, (count, 1)), np.full(count, 20.0), np.tile(hips, (count, 1)))


def hidden_head() -> BodyTrack:
    """The lifter with head and shoulders behind a plate: hips and knees are seen, at (100, 250) and (100, 340)."""
    seen = body((100, 100))
    state, xy = seen.state.copy(), seen.xy_px.copy()
    state[:] = 0
    for name, y in (("hip", 250), ("knee", 340)):
        for side in ("left", "right"):
            xy[:, INDEX[f"{side}_{name}"]], state[:, INDEX[f"{side}_{name}"]] = (100, y), 2
    return evolve(seen, state=state, xy_px=xy)


def test_behind_a_plate_the_lifter_is_known_by_his_hips() -> None:
    """His head is nowhere in the body track; who stands behind him, hips beside his, is still covered."""
    own, behind = followed((100, 100), (102, 252)), followed((140, 90), (120, 246))
    veil = veil_of(heads(own, behind, track(104, 102), track(142, 92)), hidden_head(), with_lifter=False)
    assert {(round(c[0]), round(c[1])) for c in veil.circles(2.0)} == {(140, 90), (142, 92)}


def test_whose_hips_are_elsewhere_is_covered() -> None:
    veil = veil_of(heads(followed((100, 100), (200, 250))), hidden_head(), with_lifter=False)
    assert len(veil.circles(2.0)) == 1


def bar_going(down_px: float) -> BarTrack:
    t_s = np.arange(0, 4, 1 / 30)
    xy = np.column_stack([np.full(len(t_s), 300.0), 200 + down_px * np.sin(t_s * 2) ** 2])
    return BarTrack(status="found", source="plate", t_s=t_s, xy_px=xy, steady_px=xy, sd_px=np.ones((len(t_s), 2)),
                    seen=np.ones(len(t_s), bool), far_xy_px=np.full((len(t_s), 2), np.nan))  # fmt: skip


def test_a_plate_that_goes_with_the_bar_is_no_face() -> None:
    """One that stays while the bar goes by is a face, and so is one at the end of a bar that never moved."""
    bar = bar_going(120.0)
    plate = HeadTrack("face", T, np.column_stack([np.full(len(T), 303.0), np.interp(T, bar.t_s, bar.xy_px[:, 1])]),
                      np.full(len(T), 20.0))  # fmt: skip
    assert is_plate(plate, bar)
    assert not is_plate(track(303, 210), bar)
    assert not is_plate(track(303, 200), bar_going(0.0))
    veil = veil_of(heads(plate, track(100, 100)), body(None), with_lifter=False, bar=bar)
    assert [c[:2] for c in veil.circles(2.0)] == [(100.0, 100.0)]


def test_a_moment_that_was_not_looked_at_is_refused() -> None:
    with pytest.raises(ValueError, match="looked for from 0 to 4 s, not at 5"):
        Veil(heads=heads(), own=NOWHERE).circles(5.0)


def test_the_head_stands_above_the_shoulders_where_the_face_is_hidden() -> None:
    seen = body((100, 100))
    hidden = seen.state.copy()
    hidden[:, INDEX["nose"]] = 0
    own = own_head(evolve(seen, state=hidden))
    x, y, radius = own.at(1.0) or (0, 0, 0)
    assert np.hypot(x - 100, y - 100) < radius


def test_a_head_goes_on_a_little_after_it_was_last_seen() -> None:
    seen = track(50, 60, t_s=np.array([1.0, 1.1, 1.2]))
    assert seen.at(0.5) is None
    assert seen.at(0.8) == (50, 60, 25)
    assert seen.at(1.15) == (50, 60, 20)
    assert seen.at(1.6) == (50, 60, 25)
    assert seen.at(1.8) is None


def test_two_heads_with_the_same_tiles_become_the_same_picture() -> None:
    """Nothing but the tiles' means is left: two faces that differ in everything finer give equal bytes."""
    rng = np.random.default_rng(1)
    base = rng.integers(60, 190, (6, 6, 3))
    one = np.kron(base, np.ones((20, 20, 1))).astype(np.uint8)
    fine = np.where((np.indices((120, 120)).sum(axis=0) % 2 == 0)[..., None], 50, -50)
    other = (one.astype(int) + fine).astype(np.uint8)
    assert np.abs(one.astype(int) - other).min() == 50
    circle = (60.0, 60.0, 100.0)  # holds the whole picture
    cover(one, circle)
    cover(other, circle)
    np.testing.assert_array_equal(one, other)


@given(st.floats(-30, 230), st.floats(-30, 170), st.floats(1, 90), st.integers(0, 9))
def test_a_cover_reaches_over_the_head_and_little_farther(x: float, y: float, radius: float, seed: int) -> None:
    picture = np.random.default_rng(seed).integers(0, 255, (140, 200, 3)).astype(np.uint8)
    before = picture.copy()
    cover(picture, (x, y, radius))
    rows, columns = np.indices((140, 200))
    away = np.hypot(columns - x, rows - y)
    np.testing.assert_array_equal(picture[away > 1.13 * radius + 1], before[away > 1.13 * radius + 1])
    inside = away < 0.98 * radius
    if inside.sum() > 400:  # noise of sd 73 is gone from all of it
        across = np.abs(np.diff(picture.astype(float), axis=1))[inside[:, 1:] & inside[:, :-1]]
        assert np.quantile(across, 0.9) < 30


def test_so_few_tiles_that_no_face_is_left() -> None:
    assert BLOCKS <= 6


def squatting() -> tuple[BodyTrack, BarTrack, np.ndarray]:
    """Three squats with the bar on the shoulders, from the side; gives his body, the bar, where his head truly is.

    While he stands the plate hides head and shoulders; lower down the head comes out before it.
    """
    t_s = np.arange(0, 12, 0.05)
    down = 60 * (1 - np.cos(2 * np.pi * t_s / 4))
    bar_xy = np.column_stack([220 + 0 * t_s, 120 + down])
    head = bar_xy + [-50, -6]
    xy, state = np.full((len(t_s), 33, 2), np.nan), np.zeros((len(t_s), 33))
    out = down > 60
    for name, places, known in (
        ("nose", head, out), ("left_shoulder", bar_xy + [-15, 10], out & (t_s < 2)),
        ("left_hip", np.column_stack([200 + 0.2 * down, 270 + 0.8 * down]), down > -1),
    ):  # fmt: skip
        xy[known, INDEX[name]], state[known, INDEX[name]] = places[known], 2
    flat, nowhere = np.where(state > 0, 0.9, 0.0), np.full_like(bar_xy, np.nan)
    made = BodyTrack(
        status="seen", model="full", t_s=t_s, xy_px=xy, sd_px=flat, state=state, peak=flat, depth_m=flat,
        world_m=np.zeros((len(t_s), 33, 3)),
    )  # fmt: skip
    bar = BarTrack(
        status="found", source="plate", t_s=t_s, xy_px=bar_xy, steady_px=bar_xy, sd_px=np.ones_like(bar_xy),
        seen=np.ones(len(t_s), bool), far_xy_px=nowhere,
    )  # fmt: skip
    return made, bar, head


def test_the_bar_carries_the_lifters_head_while_a_plate_hides_it() -> None:
    """Between two lows the head went up and down again with the bar; on a straight line it would hang low."""
    made, bar, head = squatting()
    own = own_head(made, bar)
    assert np.max([np.hypot(*(np.array(own.at(t)[:2]) - at)) for t, at in zip(made.t_s, head, strict=True)]) < 3
    face = HeadTrack("face", made.t_s, head, np.full(len(made.t_s), 22.0))
    assert not any(
        veil_of(Heads(0, 12, (face,)), made, with_lifter=False, bar=bar, wide=False).circles(t) for t in made.t_s
    )


def test_a_head_that_does_not_go_along_with_the_bar_is_not_carried() -> None:
    made, bar, _ = squatting()
    still = evolve(bar, xy_px=np.tile(bar.xy_px[0], (len(bar.t_s), 1)))
    assert len(own_head(made, still).t_s) == len(own_head(made).t_s) < len(made.t_s)


def test_a_plate_taken_for_the_head_of_one_who_lies_is_not_his() -> None:
    """Landmarks of a head alone, away from where it lay on his neck: a face found there is covered."""
    made = body((100, 100))
    xy, state = made.xy_px.copy(), made.state.copy()
    late = T > 3.2
    xy[late, INDEX["nose"]] = [180, 40]
    state[late[:, None] & (np.arange(33) != INDEX["nose"])] = 0
    wrong = evolve(made, xy_px=xy, state=state)
    own = own_head(wrong)
    assert float(own.t_s[-1]) <= 3.2
    assert np.ptp(own.xy_px, axis=0) == pytest.approx(0)
    assert veil_of(heads(track(180, 40)), wrong, with_lifter=False).circles(3.5)


def test_his_face_that_slid_off_along_a_plate_is_no_second_head() -> None:
    """It was seen on his head each time; what is seen beside it is somebody else."""
    xy = np.tile([100.0, 100.0], (len(T), 1))
    xy[20:28] = [120.0, 100.0]
    slid = HeadTrack("face", T, xy, np.full(len(T), 20.0), seen_s=T[::2][:10])
    seen = evolve(slid, seen_s=T)
    for other, covered in ((slid, 0), (seen, 1)):
        veil = veil_of(heads(track(100, 100), other), body((100, 100)), with_lifter=False)
        assert len(veil.circles(2.4)) == covered

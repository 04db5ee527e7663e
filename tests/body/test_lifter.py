"""Choosing the lifter among made people: never the tallest, never the nearest, but whose hands go with the bar."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from midfoot.body.lifter import LifterChoice, choose_lifter
from midfoot.records.base import NotMeasured, RecordError
from midfoot.records.body import INDEX, LANDMARKS, People, PersonTrack
from midfoot.records.clip import Tap

T = np.arange(0, 8, 0.1)
RISE = 60 * (1 - np.cos(2 * np.pi * T / 2.5)) / 2
"""Way of a bar, px: up and down about three times."""


def person(
    who: int,
    x: float,
    floor: float,
    tall: float,
    *,
    hands: tuple[float, float],
    hand_way: np.ndarray | None = None,
    body_way: np.ndarray | None = None,
    carries: bool = True,
    peak: float = 0.75,
    t_s: np.ndarray = T,
    shift: float = 0.0,
) -> PersonTrack:
    """Make an upright person of `tall` px at (x, floor), hands at `hands` (share of height, half width in px)."""
    rows = np.isin(np.round(T, 3), np.round(t_s, 3))
    hand_way = np.zeros(len(T)) if hand_way is None else hand_way
    body_way = np.zeros(len(T)) if body_way is None else body_way
    xy = np.zeros((len(T), len(LANDMARKS), 2))
    heights = {"shoulder": 0.82, "hip": 0.52, "knee": 0.28, "ankle": 0.04}
    for k, name in enumerate(LANDMARKS):
        sign = 1 if name.startswith("left") else -1
        joint = name.split("_")[-1]
        xy[:, k, 0] = x + sign * 0.1 * tall
        xy[:, k, 1] = floor - tall * heights.get(joint, 0.9) - body_way * (heights.get(joint, 0.9) > 0.4)
        if joint in ("wrist", "elbow", "pinky", "index", "thumb"):
            xy[:, k, 0] = x + sign * hands[1]
            xy[:, k, 1] = floor - tall * hands[0] - hand_way
    moves = np.diff(-hand_way, prepend=-hand_way[0])
    carried = np.stack([moves] * 3, axis=1) if carries else np.zeros((len(T), 3))
    region = np.tile([x, floor - tall / 2, tall * 1.35, shift], (len(T), 1))
    return PersonTrack(
        id=who, t_s=T[rows], xy_px=xy[rows], peak=np.full((rows.sum(), len(LANDMARKS)), peak),
        presence=np.full(rows.sum(), 0.95), region=region[rows], carried_px=carried[rows],
    )  # fmt: skip


def people(*tracks: PersonTrack) -> People:
    return People(looked_t_s=T, tracks=tracks)


def disc(x: float, y: float, way: np.ndarray, radius: float = 40.0) -> SimpleNamespace:
    return SimpleNamespace(t_s=T, xy_px=np.stack([np.full(len(T), x), y - way], axis=1), radius_px=radius)


SPOTTER = {"tall": 520.0, "hands": (0.45, 60.0), "carries": False}


def deadlifter(who: int, x: float = 400.0, **more: object) -> PersonTrack:
    return person(who, x, 700, 400, hands=(0.4, 60), hand_way=RISE, body_way=RISE * 0.8, **more)  # type: ignore[arg-type]


def test_a_taller_clearer_person_beside_him_is_not_the_lifter() -> None:
    crowd = people(person(7, 600, 720, peak=0.95, **SPOTTER), deadlifter(3))
    for bar in (None, disc(500, 700 - 160, RISE)):
        choice = choose_lifter(crowd, bar, lift="deadlift")
        assert isinstance(choice, LifterChoice)
        assert choice.person_ids == (3,)
        assert choice.next_score < choice.score / 3


def test_a_second_lifter_behind_is_told_apart_by_the_bar() -> None:
    behind = 45 * (1 - np.cos(2 * np.pi * (T - 0.9) / 2.1)) / 2
    other = person(9, 900, 500, 300, hands=(0.4, 45), hand_way=behind, body_way=behind * 0.8)
    crowd = people(other, deadlifter(3))
    front = choose_lifter(crowd, disc(500, 540, RISE), lift="deadlift")
    back = choose_lifter(crowd, disc(970, 380, behind), lift="deadlift")
    assert isinstance(front, LifterChoice)
    assert isinstance(back, LifterChoice)
    assert (front.person_ids, back.person_ids) == ((3,), (9,))


def test_two_who_carry_alike_are_not_decided_without_a_bar() -> None:
    crowd = people(deadlifter(1, 300), deadlifter(2, 800))
    got = choose_lifter(crowd, None, lift="deadlift")
    assert isinstance(got, NotMeasured)
    assert "--lifter-at" in got.remedy


def test_a_spotter_who_goes_down_with_the_squat_is_not_the_lifter() -> None:
    lifter = person(1, 500, 700, 400, hands=(0.82, 80), hand_way=-RISE, body_way=-RISE)
    side_spotter = person(2, 760, 700, 430, hands=(0.55, 60), hand_way=-0.8 * RISE, body_way=-0.8 * RISE)
    got = choose_lifter(people(side_spotter, lifter), disc(640, 700 - 0.82 * 400, -RISE), lift="squat")
    assert isinstance(got, LifterChoice)
    assert got.person_ids == (1,)


def lying(who: int) -> PersonTrack:
    """Make a lifter on the bench: wrists above shoulders in the picture, going up and down."""
    return person(who, 400, 600, 300, hands=(1.05, 70), hand_way=RISE - 30, shift=1.6)


def test_on_the_bench_hands_that_hang_are_not_the_lifters() -> None:
    # the spotter's hands go along with the bar all the way, below his shoulders
    spotter = person(5, 420, 640, 500, hands=(0.62, 70), hand_way=RISE)
    for bar in (None, disc(520, 600 - 1.05 * 300 + 30, RISE)):
        got = choose_lifter(people(spotter, lying(2)), bar, lift="bench")
        assert isinstance(got, LifterChoice)
        assert got.person_ids == (2,)


def test_a_lifter_lost_in_between_is_one_person() -> None:
    first, second = deadlifter(1, t_s=T[:30]), deadlifter(4, t_s=T[48:])
    got = choose_lifter(people(first, second), disc(500, 540, RISE), lift="deadlift")
    assert isinstance(got, LifterChoice)
    assert set(got.person_ids) == {1, 4}
    assert len(got.t_s) == len(first.t_s) + len(second.t_s)
    assert (np.diff(got.t_s) > 0).all()


def test_nobody_is_chosen_when_no_hands_go_with_the_bar() -> None:
    crowd = people(person(7, 600, 720, **SPOTTER), person(8, 300, 720, **SPOTTER))
    got = choose_lifter(crowd, disc(450, 540, RISE), lift="deadlift")
    assert isinstance(got, NotMeasured)
    assert "2 people followed" in got.reason


def test_short_or_unclear_tracks_do_not_count() -> None:
    for track in (deadlifter(1, t_s=T[:12]), deadlifter(1, peak=0.4)):
        assert isinstance(choose_lifter(people(track), None, lift="deadlift"), NotMeasured)
    assert isinstance(choose_lifter(people(), None, lift="squat"), NotMeasured)


def test_a_tap_decides() -> None:
    crowd = people(person(7, 600, 720, **SPOTTER), deadlifter(3))
    got = choose_lifter(crowd, disc(500, 540, RISE), lift="deadlift", tap=Tap(600, 720 - 350, 2.0))
    assert isinstance(got, LifterChoice)
    assert got.person_ids == (7,)
    far = choose_lifter(crowd, None, lift="deadlift", tap=Tap(3000, 100, 2.0))
    assert isinstance(far, NotMeasured)


@pytest.mark.parametrize("scale", [0.5, 3.0])
def test_the_size_of_the_picture_does_not_matter(scale: float) -> None:
    def grown(track: PersonTrack) -> PersonTrack:
        region = track.region * [scale, scale, scale, 1]
        return PersonTrack(
            id=track.id, t_s=track.t_s, xy_px=track.xy_px * scale, peak=track.peak, presence=track.presence,
            region=region, carried_px=track.carried_px * scale,
        )  # fmt: skip

    crowd = (person(7, 600, 720, **SPOTTER), deadlifter(3))
    bar = disc(500, 540, RISE)
    large = SimpleNamespace(t_s=T, xy_px=bar.xy_px * scale, radius_px=bar.radius_px * scale)
    one = choose_lifter(people(*crowd), bar, lift="deadlift")
    other = choose_lifter(people(*map(grown, crowd)), large, lift="deadlift")
    assert isinstance(one, LifterChoice)
    assert isinstance(other, LifterChoice)
    assert other.person_ids == one.person_ids
    assert other.score == pytest.approx(one.score, rel=1e-9)


def test_the_hold_is_measured_from_the_bar() -> None:
    got = choose_lifter(people(deadlifter(3)), disc(500, 560, RISE), lift="deadlift")
    assert isinstance(got, LifterChoice)
    np.testing.assert_allclose(got.hold_px, [400 - 500, (700 - 160) - 560], atol=1.0)
    assert INDEX["left_wrist"] == 15


def test_an_unknown_lift_is_misuse() -> None:
    with pytest.raises(RecordError, match="lift: expected one of"):
        choose_lifter(people(), None, lift="curl")

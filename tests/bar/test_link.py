from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from discs import INFO, LOOKS, Scene, bar, holder, squats
from hypothesis import given, settings
from hypothesis import strategies as st

from midfoot.bar.coarse import Coarse
from midfoot.bar.link import link
from midfoot.records.bar import Box, Sightings
from midfoot.records.body import INDEX, People
from midfoot.records.clip import Tap


def off(found: Coarse, place: np.ndarray, radius: float) -> float:
    """Ninth decile of the distance from the truth, radii."""
    true = np.stack([np.interp(found.t_s, LOOKS, place[:, k]) for k in (0, 1)], axis=1)
    return float(np.percentile(np.hypot(*(found.xy_px - true).T) / radius, 90))


def crowded(seed: int = 0, **more: float) -> tuple[Scene, np.ndarray]:
    scene = Scene(seed)
    near = bar(scene, **more)
    for x, y, r in ((150, 300, 78), (980, 330, 75), (1150, 200, 60)):
        scene.still(x, y, r)
    scene.flicker()
    return scene, near


@pytest.mark.parametrize("seed", range(4))
def test_near_plate_among_look_alikes_with_hands_on_it(seed: int) -> None:
    scene, near = crowded(seed)
    first = link(scene.sightings(), holder(near, LOOKS), lift="squat", info=INFO)[0]
    assert first.status == "found"
    assert off(first, near, 80) < 0.2
    assert np.ptp(first.t_s) > 11
    assert len(first.t_s) > 0.7 * len(LOOKS)
    assert first.radius_px[0] == pytest.approx(80, rel=0.12)
    assert first.person_ids == (0,)


@pytest.mark.parametrize("seed", range(4))
def test_without_people_the_best_path_is_right(seed: int) -> None:
    scene, near = crowded(seed)
    first = link(scene.sightings(), None, lift="squat", info=INFO)[0]
    assert first.status in ("found", "unsure")
    assert off(first, near, 80) < 0.2


def test_nothing_seen() -> None:
    first = link(Scene().sightings(), None, lift="bench", info=INFO)[0]
    assert first.status == "not_found"
    assert first.source == "none"
    assert first.reason


@pytest.mark.parametrize("seed", range(3))
def test_what_stands_and_flickers_is_no_bar(seed: int) -> None:
    scene = Scene(seed)
    for x, y, r in ((150, 300, 78), (400, 320, 80), (980, 330, 75)):
        scene.still(x, y, r)
    scene.flicker(3.0)
    assert link(scene.sightings(), None, lift="squat", info=INFO)[0].status == "not_found"


def test_a_caption_moves_in_the_room_only() -> None:
    scene = Scene()
    pan = np.stack([0 * LOOKS, squats(LOOKS, -250.0)], axis=1)
    # still on the screen while the camera goes up and down three times
    scene.disc(np.tile([640.0, 500.0], (len(LOOKS), 1)) - pan, 70, jitter=0.01)
    assert link(scene.sightings(pan), None, lift="squat", info=INFO)[0].status == "not_found"


def test_what_goes_to_and_fro_sideways_is_no_bar() -> None:
    scene = Scene()
    side = np.stack([300 + 2 * squats(LOOKS, 200.0), 300 + 0.2 * squats(LOOKS, 200.0)], axis=1)
    scene.disc(side, 60)
    assert link(scene.sightings(), None, lift="squat", info=INFO)[0].status == "not_found"


def test_two_bars_alike_are_asked_about() -> None:
    scene = Scene()
    a = np.stack([np.full(len(LOOKS), 300.0), 260 + squats(LOOKS, 170.0)], axis=1)
    b = np.stack([np.full(len(LOOKS), 900.0), 260 + squats(LOOKS, 170.0, start_s=3.3)], axis=1)
    scene.disc(a, 80)
    scene.disc(b, 80)
    first = link(scene.sightings(), None, lift="squat", info=INFO)[0]
    assert first.status == "unsure"
    assert 2 <= len(first.candidates) <= 4
    for place in (a, b):
        near = [abs(c.x_px - np.interp(c.at_s, LOOKS, place[:, 0])) < 40 for c in first.candidates]
        assert any(near)


def test_hands_tell_two_bars_apart() -> None:
    scene = Scene()
    a = np.stack([np.full(len(LOOKS), 300.0), 260 + squats(LOOKS, 170.0)], axis=1)
    b = np.stack([np.full(len(LOOKS), 900.0), 260 + squats(LOOKS, 170.0, start_s=3.3)], axis=1)
    scene.disc(a, 80)
    scene.disc(b, 80)
    first = link(scene.sightings(), holder(b, LOOKS), lift="squat", info=INFO)[0]
    assert off(first, b, 80) < 0.2


def test_a_shaking_and_panning_camera_changes_nothing_in_the_frame() -> None:
    scene, near = crowded(1)
    shake = np.stack([40 * np.sin(1.3 * LOOKS) + 15 * LOOKS, 25 * np.sin(2.1 * LOOKS)], axis=1)
    first = link(scene.sightings(shake), None, lift="squat", info=INFO)[0]
    assert off(first, near + shake, 80) < 0.2


def test_covered_for_a_while_stays_one_path() -> None:
    covered = np.where((LOOKS > 5.6) & (LOOKS < 7.2), 0.0, 0.9)
    scene = Scene()
    near = bar(scene, seen=covered)  # type: ignore[arg-type]
    first = link(scene.sightings(), None, lift="squat", info=INFO)[0]
    assert off(first, near, 80) < 0.2
    assert first.t_s[0] < 1
    assert first.t_s[-1] > 11


def test_inner_rings_do_not_shrink_it() -> None:
    scene = Scene()
    near = bar(scene, rings=0.6)
    first = link(scene.sightings(), None, lift="squat", info=INFO)[0]
    assert off(first, near, 80) < 0.2
    assert first.radius_px[0] == pytest.approx(80, rel=0.12)


def test_a_deadlift_that_begins_and_ends_on_the_floor() -> None:
    scene = Scene()
    up = squats(LOOKS, 200.0, start_s=4.0, reps=1)
    near = np.stack([np.full(len(LOOKS), 500.0), 560 - up], axis=1)
    scene.disc(near, 90)
    scene.still(1000, 560, 90)
    first = link(scene.sightings(), None, lift="deadlift", info=INFO)[0]
    assert first.status in ("found", "unsure")
    assert off(first, near, 90) < 0.2


def test_a_tap_takes_what_it_lies_on_even_if_it_stands() -> None:
    scene, near = crowded()
    first = link(scene.sightings(), None, lift="squat", info=INFO, tap=Tap(985, 340, 4.0))[0]
    assert first.status == "found"
    assert np.abs(first.xy_px[:, 0] - 980).max() < 40
    at = Tap(float(near[50, 0]) + 20, float(near[50, 1]) - 10, float(LOOKS[50]))
    assert off(link(scene.sightings(), None, lift="squat", info=INFO, tap=at)[0], near, 80) < 0.2


def test_a_tap_on_nothing_starts_there() -> None:
    first = link(Scene().sightings(), None, lift="squat", info=INFO, tap=Tap(30, 40, 2.0))[0]
    assert first.status == "found"
    assert first.xy_px.tolist() == [[30, 40]]
    assert np.isnan(first.radius_px[0])


def test_the_far_end_alone_is_not_taken_for_the_near_one() -> None:
    scene = Scene()
    down = squats(LOOKS, 120.0)
    far = np.stack([np.full(len(LOOKS), 760.0), 250 + down], axis=1)
    scene.disc(far, 56, aspect=0.8)
    hands = np.stack([np.full(len(LOOKS), 600.0), 250 + 1.3 * down], axis=1)
    first = link(scene.sightings(), holder(hands, LOOKS), lift="squat", info=INFO)[0]
    assert first.status == "unsure"
    assert "far" in first.reason
    assert len(first.candidates) == 1


def test_an_end_alone_that_moves_more_than_the_hands_is_the_near_one() -> None:
    scene = Scene()
    down = squats(LOOKS, 180.0)
    near = np.stack([np.full(len(LOOKS), 500.0), 250 + down], axis=1)
    scene.disc(near, 80, aspect=0.8)
    hands = np.stack([np.full(len(LOOKS), 640.0), 250 + 0.8 * down], axis=1)
    first = link(scene.sightings(), holder(hands, LOOKS), lift="squat", info=INFO)[0]
    assert first.status == "found"


@pytest.mark.parametrize(
    ("radius", "aspect", "status"),
    [(93, 1.0, "found"), (66, 1.0, "unsure"), (93, 0.8, "unsure")],
    ids=["nearer than he is", "may be behind him", "not from the side"],
)
def test_an_end_alone_that_hides_the_hands_is_the_near_one_where_none_behind_him_looks_so_large(
    radius: float, aspect: float, status: str
) -> None:
    """A body of 300 px for half of 1.72 m; a disc of 450 mm at his own distance would measure 78 px."""
    scene = Scene()
    down = squats(LOOKS, 2.2 * radius)
    place = np.stack([np.full(len(LOOKS), 620.0), 250 + down], axis=1)
    scene.disc(place, radius, aspect=aspect)
    # the plate hides the hands most of the time: he is followed for a part of the clip only
    passed = (LOOKS - LOOKS[0]) / np.ptp(LOOKS)
    shown = (passed > 0.1) & (passed < 0.25)
    first = link(scene.sightings(), holder(place[shown], LOOKS[shown]), lift="bench", info=INFO)[0]
    assert first.status == status, first.reason
    if status == "unsure":
        assert "nearer" in first.reason


def test_a_disc_on_the_sleeve_is_no_other_end() -> None:
    scene = Scene()
    near = bar(scene)
    scene.disc(near + [-90.0, 0.0] + 0.1 * (near - near[0]), 36, aspect=0.5, score=(0.3, 0.5))
    first = link(scene.sightings(), holder(near, LOOKS), lift="squat", info=INFO)[0]
    assert first.status == "found"
    assert off(first, near, 80) < 0.2


def test_somebody_elses_bar_behind_the_lifter() -> None:
    scene = Scene()
    theirs = np.stack([np.full(len(LOOKS), 150.0), 150 + squats(LOOKS, 100.0)], axis=1)
    scene.disc(theirs, 45)
    own = np.stack([np.full(len(LOOKS), 800.0), 300 + squats(LOOKS, 300.0, start_s=3.6)], axis=1)
    lifter = holder(own, LOOKS, body_px=420.0)
    down = np.diff(own[:, 1], prepend=own[0, 1])
    carried = evolve(lifter.tracks[0], carried_px=np.stack([down] * 3, axis=1))
    first = link(scene.sightings(), evolve(lifter, tracks=(carried,)), lift="squat", info=INFO)[0]
    assert first.status != "found"
    # nobody else in view, the same disc is worth asking about
    assert link(scene.sightings(), None, lift="squat", info=INFO)[0].status == "unsure"


@pytest.mark.parametrize("seed", range(3))
def test_a_lone_end_with_only_bystanders_in_view_is_offered(seed: int) -> None:
    """The lifter was missed: those who were seen stand still, and there is no second end to go with it."""
    scene = Scene(seed)
    near = np.stack([np.full(len(LOOKS), 520.0), 260 + squats(LOOKS, 170.0)], axis=1)
    scene.disc(near, 80)
    scene.still(150, 300, 78)
    standing = holder(np.tile([900.0, 200.0], (len(LOOKS), 1)), LOOKS, body_px=400.0)
    shaking = standing.tracks[0].xy_px + np.random.default_rng(seed).normal(0, 2.0, standing.tracks[0].xy_px.shape)
    people = evolve(standing, tracks=(evolve(standing.tracks[0], xy_px=shaking),))

    first = link(scene.sightings(), people, lift="bench", info=INFO)[0]

    assert first.status == "unsure"
    assert off(first, near, 80) < 0.2
    assert len(first.candidates) == 1
    assert "nobody" in first.reason


@pytest.mark.parametrize("wrong", ["still", "sideways", "rough", "half seen"])
def test_what_does_not_plainly_move_as_a_bar_is_not_offered_without_hands(wrong: str) -> None:
    scene = Scene(1)
    down = {"still": 0.0, "sideways": 60.0}.get(wrong, 170.0)
    near = np.stack([np.full(len(LOOKS), 520.0), 260 + squats(LOOKS, down)], axis=1)
    if wrong == "sideways":
        near[:, 0] += squats(LOOKS, 300.0)
    scene.disc(near, 80, seen=0.3 if wrong == "half seen" else 0.85, jitter=0.4 if wrong == "rough" else 0.05)
    standing = holder(np.tile([900.0, 200.0], (len(LOOKS), 1)), LOOKS, body_px=400.0)

    first = link(scene.sightings(), standing, lift="bench", info=INFO)[0]

    assert first.status == "not_found"


def test_what_stays_on_a_joint_is_no_bar() -> None:
    scene = Scene()
    down = squats(LOOKS, 150.0)
    hip = np.stack([np.full(len(LOOKS), 600.0), 400 + down], axis=1)
    scene.disc(hip, 60, score=(0.15, 0.35))
    people = holder(hip - [0.0, 150.0], LOOKS)
    track = people.tracks[0]
    xy = track.xy_px.copy()
    xy[:, INDEX["left_hip"]] = hip
    first = link(scene.sightings(), evolve(people, tracks=(evolve(track, xy_px=xy),)), lift="squat", info=INFO)[0]
    assert first.status == "not_found"


def hidden_behind(hands: np.ndarray, shoulders: np.ndarray, seed: int = 0) -> People:
    """Somebody whose hands a disc hides: they are put anywhere about `hands` (k, 2), his shoulders are seen."""
    lifter = holder(shoulders, LOOKS)
    track = lifter.tracks[0]
    xy, peak = track.xy_px.copy(), track.peak.copy()
    random = np.random.default_rng(seed)
    for name in ("left_wrist", "right_wrist"):
        xy[:, INDEX[name]] = hands + random.normal(0, 45.0, hands.shape)
        peak[:, INDEX[name]] = 0.35
    return evolve(lifter, tracks=(evolve(track, xy_px=xy, peak=peak),))


def pulls(x: float, top: float, way_px: float) -> np.ndarray:
    """Where a disc is that is pulled three times."""
    return np.stack([np.full(len(LOOKS), x), top + way_px - squats(LOOKS, way_px)], axis=1)


@pytest.mark.parametrize("seed", range(3))
def test_a_pull_whose_hands_the_plate_hides_goes_with_the_shoulders(seed: int) -> None:
    """Arms hang straight in a pull: shoulders rise as the bar does, in the picture less than a nearer plate."""
    scene = Scene(seed)
    scene.disc(pulls(600.0, 350.0, 210.0), 90, aspect=0.9)
    lifter = hidden_behind(pulls(600.0, 350.0, 160.0), pulls(600.0, 120.0, 160.0), seed)
    first = link(scene.sightings(), lifter, lift="deadlift", info=INFO)[0]

    assert first.status == "found", first.reason
    assert "hands" in first.reason


def test_hidden_hands_that_move_too_much_make_no_far_end_of_a_near_one() -> None:
    """A plate before the hands: the network moves them more than the bar moves, the shoulders tell it."""
    scene = Scene()
    down = squats(LOOKS, 210.0)
    scene.disc(np.stack([np.full(len(LOOKS), 600.0), 250 + down], axis=1), 80, aspect=0.98)
    lifter = holder(np.stack([np.full(len(LOOKS), 600.0), 250 + down / 1.3], axis=1), LOOKS, body_px=260.0)
    track = lifter.tracks[0]
    xy, peak = track.xy_px.copy(), track.peak.copy()
    for name in ("left_wrist", "right_wrist"):
        xy[:, INDEX[name], 1] = 250 + 1.2 * down
        peak[:, INDEX[name]] = 0.35
    lifter = evolve(lifter, tracks=(evolve(track, xy_px=xy, peak=peak),))
    first = link(scene.sightings(), lifter, lift="squat", info=INFO)[0]
    assert first.status == "found", first.reason


def test_a_far_end_alone_stays_one_where_hands_are_hidden_and_shoulders_tell_it() -> None:
    scene = Scene()
    down = squats(LOOKS, 140.0)
    scene.disc(np.stack([np.full(len(LOOKS), 600.0), 250 + down], axis=1), 60, aspect=0.98)
    held = np.stack([np.full(len(LOOKS), 600.0), 250 + 1.25 * down], axis=1)
    people = hidden_behind(held, held)
    first = link(scene.sightings(), people, lift="squat", info=INFO)[0]
    assert first.status == "unsure"
    assert "far" in first.reason


@pytest.mark.parametrize(("radius", "status"), [(93, "found"), (62, "unsure")])
def test_a_full_face_alone_is_the_near_end_unless_as_small_as_far_ones(radius: float, status: str) -> None:
    """Hands that go as far as the disc does, not measured to a few per cent: its size beside the body is left."""
    scene = Scene(1)
    down = squats(LOOKS, 2.2 * radius)
    place = np.stack([np.full(len(LOOKS), 600.0), 250 + down], axis=1)
    scene.disc(place, radius, aspect=0.98)
    first = link(scene.sightings(), hidden_behind(place, place), lift="bench", info=INFO)[0]
    assert first.status == status, first.reason


@pytest.mark.parametrize(
    ("radius", "taller", "status"),
    [(80, 1.06, "found"), (80, 0.98, "unsure"), (64, 1.06, "unsure"), (64, 0.87, "unsure")],
    ids=["goes a little farther too", "goes no farther", "as small as far ones", "a far one"],
)
def test_a_full_face_alone_that_goes_no_less_than_the_lifter_is_the_near_end(
    radius: float, taller: float, status: str
) -> None:
    """Of 450 mm on a bar of 2.2 m: 0.7 m behind a lifter 4 m away an end moves 4 / 4.7 = 0.85 of what he does."""
    scene = Scene(2)
    down = squats(LOOKS, 2.2 * radius)
    place = np.stack([np.full(len(LOOKS), 600.0), 250 + down], axis=1)
    scene.disc(place, radius, aspect=0.98)
    held = np.stack([np.full(len(LOOKS), 600.0), 250 + down / taller], axis=1)
    first = link(scene.sightings(), holder(held, LOOKS), lift="squat", info=INFO)[0]
    assert first.status == status, first.reason


@pytest.mark.parametrize(
    ("radius", "aspect", "spotter_px", "status"),
    [
        (108, 0.98, 320.0, "found"),
        (108, 0.85, 320.0, "unsure"),
        (90, 0.98, 320.0, "unsure"),
        (108, 0.98, 360.0, "unsure"),
    ],
    ids=["larger than any far one", "not from the side", "no larger", "beside the spotter no larger"],
)
def test_a_full_face_alone_is_near_where_no_far_one_looks_so_large_beside_anybody(
    radius: float, aspect: float, spotter_px: float, status: str
) -> None:
    """The plate hides hands that barely go with it, and a spotter stands by: 108 px of 300 are 0.36."""
    scene = Scene(3)
    down = squats(LOOKS, 1.8 * radius)
    place = np.stack([np.full(len(LOOKS), 600.0), 300 + down], axis=1)
    scene.disc(place, radius, aspect=aspect)
    lifter = holder(place, LOOKS, move=0.295)
    still = np.stack([np.full(len(LOOKS), 900.0), np.full(len(LOOKS), 300.0)], axis=1)
    spotter = holder(still, LOOKS, person=1, body_px=spotter_px)
    people = People(looked_t_s=LOOKS, tracks=(*lifter.tracks, *spotter.tracks))
    first = link(scene.sightings(), people, lift="bench", info=INFO)[0]
    assert first.status == status, first.reason


def test_a_far_end_that_shows_only_at_the_bottom_is_no_second_bar() -> None:
    """From the side it peeks out over the near one there; elsewhere its path is what else was boxed weakly."""
    scene = Scene()
    down = squats(LOOKS, 200.0)
    near = np.stack([np.full(len(LOOKS), 600.0), 250 + down], axis=1)
    scene.disc(near, 80, aspect=0.98)
    low = down > 130
    scene.disc(
        np.stack([near[:, 0], 230 + 0.72 * down], axis=1), 46, seen=np.where(low, 0.95, 0.0), score=(0.6, 0.8)
    )
    aside = np.stack([np.full(len(LOOKS), 650.0), np.where(down < 1, 300.0, 330.0)], axis=1)
    scene.disc(aside, 44, seen=np.where(low, 0.0, 0.8), score=(0.13, 0.18))
    lifter = holder(np.stack([near[:, 0], 250 + down / 1.2], axis=1), LOOKS)
    first = link(scene.sightings(), lifter, lift="squat", info=INFO)[0]
    assert first.status == "found", first.reason
    assert off(first, near, 80) < 0.2


def test_a_shred_that_is_seen_for_a_moment_is_no_other_end_that_may_be_nearer() -> None:
    """Near and far disc boxed as one for a while: hardly smaller and moving alike, at the near one's edge."""
    scene = Scene()
    near = np.stack([np.full(len(LOOKS), 600.0), 250 + squats(LOOKS, 200.0)], axis=1)
    scene.disc(near, 80, aspect=0.98)
    shred = np.where((LOOKS > 2.2) & (LOOKS < 4.0), 0.9, 0.0)
    scene.disc(near + [62.0, 10.0], 70, seen=shred, score=(0.3, 0.6), aspect=0.5)
    lifter = holder(np.stack([np.full(len(LOOKS), 600.0), 250 + squats(LOOKS, 160.0)], axis=1), LOOKS)
    first = link(scene.sightings(), lifter, lift="squat", info=INFO)[0]
    assert first.status == "found", first.reason
    assert off(first, near, 80) < 0.2


def test_a_lifter_who_is_lost_at_every_rep_has_held_the_bar_all_the_time() -> None:
    scene = Scene()
    place = np.stack([np.full(len(LOOKS), 620.0), 250 + squats(LOOKS, 200.0)], axis=1)
    scene.disc(place, 80, aspect=1.0)
    parts = []
    for k, (start, end) in enumerate([(0.0, 3.4), (3.6, 6.4), (6.6, 9.4), (9.6, 12.0)]):
        use = (start <= LOOKS) & (end > LOOKS)
        track = holder(place[use], LOOKS[use], person=k).tracks[0]
        parts.append(evolve(track, peak=0.5 * track.peak))
    first = link(scene.sightings(), People(LOOKS, tuple(parts)), lift="bench", info=INFO)[0]
    assert first.status == "found", first.reason


def test_a_head_that_goes_along_is_neither_the_other_end_nor_a_bar() -> None:
    """A head goes as far as the bar does and is much smaller (0.1 of 0.86 m against 0.225 m)."""
    scene = Scene()
    bar_at, head = pulls(560.0, 350.0, 210.0), pulls(520.0, 100.0, 220.0)
    scene.disc(head, 42, aspect=0.95, score=(0.15, 0.35))
    people = holder(pulls(560.0, 130.0, 175.0), LOOKS)
    track = people.tracks[0]
    xy = track.xy_px.copy()
    for name, aside in (("nose", -25.0), ("left_ear", 8.0), ("right_ear", 12.0)):
        xy[:, INDEX[name]] = head + [aside, 5.0]
    people = evolve(people, tracks=(evolve(track, xy_px=xy),))
    assert link(scene.sightings(), people, lift="deadlift", info=INFO)[0].status == "not_found"
    scene.disc(bar_at, 80, aspect=0.95)
    first = link(scene.sightings(), people, lift="deadlift", info=INFO)[0]
    assert first.status == "found", first.reason
    assert off(first, bar_at, 80) < 0.2
    # nobody to hold it against, the smaller is still no other end: its size and its way contradict each other
    assert "end" not in link(scene.sightings(), None, lift="deadlift", info=INFO)[0].reason


def test_a_stored_plate_that_is_covered_at_every_rep_is_no_second_bar() -> None:
    """It is boxed surely where it hangs; while the bar passes, something below it is, hardly."""
    scene = Scene()
    near = bar(scene)
    low = squats(LOOKS, 1.0) > 0.6
    stored = np.tile([900.0, 200.0], (len(LOOKS), 1))
    scene.disc(stored, 42, seen=np.where(low, 0.0, 0.95), score=(0.55, 0.7), jitter=0.02)
    scene.disc(stored + [0.0, 46.0], 42, seen=np.where(low, 0.9, 0.0), score=(0.12, 0.19), jitter=0.05)
    first = link(scene.sightings(), None, lift="squat", info=INFO)[0]
    assert off(first, near, 80) < 0.2
    assert "Two things" not in first.reason


def test_a_tap_fills_a_gap_of_the_path() -> None:
    covered = np.where((LOOKS > 5.6) & (LOOKS < 7.2), 0.0, 0.9)
    scene = Scene()
    near = bar(scene, seen=covered)  # type: ignore[arg-type]
    at = Tap(float(near[64, 0]) + 5, float(near[64, 1]), float(LOOKS[64]))
    first = link(scene.sightings(), None, lift="squat", info=INFO, tap=at)[0]
    row = int(np.argmin(np.abs(first.t_s - at.at_s)))
    assert first.t_s[row] == at.at_s
    assert first.xy_px[row].tolist() == [at.x_px, at.y_px]


def changed(s: Sightings, *, mirror: bool = False, scale: float = 1.0, later_s: float = 0.0) -> Sightings:
    def box(b: Box) -> Box:
        x = 1279 - b.x_px if mirror else b.x_px
        return Box(x * scale, b.y_px * scale, b.radius_px * scale, b.aspect, b.score)

    return evolve(
        s,
        boxes=tuple(tuple(box(b) for b in row) for row in s.boxes),
        boxes_t_s=s.boxes_t_s + later_s,
        camera_t_s=s.camera_t_s + later_s,
    )


@settings(max_examples=12)
@given(
    seed=st.integers(0, 50),
    mirror=st.booleans(),
    scale=st.sampled_from([0.4, 1.0, 2.3]),
    later_s=st.sampled_from([0.0, 0.07, 31.0]),
)
def test_mirror_size_and_time_change_only_what_they_must(
    seed: int, mirror: bool, scale: float, later_s: float
) -> None:
    scene, _ = crowded(seed)
    plain = link(scene.sightings(), None, lift="squat", info=INFO)[0]
    other = link(
        changed(scene.sightings(), mirror=mirror, scale=scale, later_s=later_s), None, lift="squat", info=INFO
    )[0]
    assert other.status == plain.status
    assert other.score == pytest.approx(plain.score, abs=0.05)
    if len(other.t_s) == len(plain.t_s):
        x = 1279 - plain.xy_px[:, 0] if mirror else plain.xy_px[:, 0]
        assert np.allclose(other.xy_px, np.stack([x, plain.xy_px[:, 1]], axis=1) * scale, atol=1e-6)
        assert np.allclose(other.t_s, plain.t_s + later_s)

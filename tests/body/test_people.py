"""Everybody in a picture, and the work it takes."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from body.network import files

from midfoot.body.people import PeopleScout
from midfoot.body.search import UPPER, probes
from midfoot.records.clip import Frame

TRUNKS = {
    # middle of the lifter's trunk in the picture, by eye, px of 850 x 567
    "Barbell_Bench_Press_-_Medium_Grip_0": (405, 185),
    "Close-Grip_Barbell_Bench_Press_0": (360, 290),
    "Bench_Press_-_Powerlifting_1": (390, 250),
    "Barbell_Deadlift_0": (375, 190),
    "Barbell_Full_Squat_1": (365, 220),
    "Sumo_Deadlift_0": (405, 260),
}


def still(path: Path) -> Frame:
    rgb = np.asarray(cv2.cvtColor(cv2.imread(str(path)), cv2.COLOR_BGR2RGB), np.uint8)
    return Frame(0, 0.0, np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), np.uint8), lambda: rgb)


def clearest(scout: PeopleScout) -> np.ndarray:
    """Give the trunk and arms of the person seen best."""
    best = max(scout.result().tracks, key=lambda t: (t.presence[:, None] * t.peak).mean())
    return best.xy_px[-1][list(UPPER)]


@pytest.mark.footage
@pytest.mark.parametrize("name", sorted(TRUNKS))
def test_the_lifter_is_found_upright_or_lying(shared_clips: Path, name: str) -> None:
    frame = still(shared_clips / "stills" / f"{name}.jpg")
    scout = PeopleScout(files())
    for k in range(4):
        scout.see(Frame(k, 0.1 * k, frame.luma, frame.rgb))
    assert np.hypot(*(np.median(clearest(scout), axis=0) - TRUNKS[name])) < 75


@pytest.mark.footage
def test_a_picture_turned_a_quarter_gives_the_same_person(shared_clips: Path) -> None:
    frame = still(shared_clips / "stills" / "Barbell_Deadlift_1.jpg")
    turned = np.ascontiguousarray(np.rot90(frame.rgb()))
    seen = []
    for rgb in (frame.rgb(), turned):
        scout = PeopleScout(files())
        for k in range(4):
            scout.see(Frame(k, 0.1 * k, np.ascontiguousarray(rgb[..., 1]), lambda rgb=rgb: rgb))
        seen.append(clearest(scout))
    back = np.stack([frame.luma.shape[1] - 1 - seen[1][:, 1], seen[1][:, 0]], axis=1)
    assert np.median(np.hypot(*(back - seen[0]).T)) < 12


def test_an_empty_picture_holds_nobody() -> None:
    scout = PeopleScout(files())
    grey = np.full((240, 320), 90, np.uint8)
    for k in range(5):
        scout.see(Frame(k, 0.1 * k, grey, lambda: np.repeat(grey[..., None], 3, axis=2)))
    assert scout.result().tracks == ()
    assert len(scout.result().looked_t_s) == 5


def test_frames_between_looks_are_passed_over() -> None:
    scout = PeopleScout(files())
    grey = np.full((120, 160), 90, np.uint8)
    for k in range(31):
        scout.see(Frame(k, k / 30, grey, lambda: np.repeat(grey[..., None], 3, axis=2)))
    np.testing.assert_allclose(np.diff(scout.result().looked_t_s), 0.1, atol=0.001)


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (720, 1280), (850, 567), (368, 656)])
def test_the_views_cover_the_picture_at_four_turns(width: int, height: int) -> None:
    views = probes(width, height)
    assert len(views) % 4 == 0
    assert len(views) <= 52
    covered = np.zeros((height, width), bool)
    for view in views[1 : len(views) // 4]:
        half = view.side_px / 2
        rows = slice(max(0, round(view.y_px - half)), round(view.y_px + half))
        covered[rows, max(0, round(view.x_px - half)) : round(view.x_px + half)] = True
    assert covered.mean() > 0.999

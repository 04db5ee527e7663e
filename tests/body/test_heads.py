"""Heads followed over a made clip: found by a face network that is replaced, carried by the picture between."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from midfoot.body import heads as module
from midfoot.body.faces import Face
from midfoot.body.followed_head import head_of, on_a_body
from midfoot.body.heads import HeadScout
from midfoot.body.models import ModelFiles, ModelsError
from midfoot.records.body import INDEX, People, PersonTrack
from midfoot.records.clip import Frame
from midfoot.records.heads import HeadTrack

FILES = ModelFiles(Path("detector"), Path("full"), faces=Path("faces"))
STEP_S = 1 / 30


class Nobody:
    def __init__(self, *_: object) -> None: ...

    def see(self, frame: Frame) -> None: ...

    def result(self) -> People:
        return People(np.zeros(0))


def scout(monkeypatch: pytest.MonkeyPatch, faces: object, again: float = 0.0) -> HeadScout:
    """Give a scout that sees nobody, and the faces that `faces(look)` gives at each of its looks."""

    class Net:
        looks = 0

        def __init__(self, _: Path) -> None: ...

        def look(self, rgb: np.ndarray, views: list[object], threshold: float) -> list[Face]:
            if len(views) < 5:  # the second, narrow look
                return []
            Net.looks += 1
            return faces(Net.looks - 1)  # type: ignore[operator]

        def check(self, rgb: np.ndarray, face: Face) -> float:
            return again

    monkeypatch.setattr(module, "PeopleScout", Nobody)
    monkeypatch.setattr(module, "FaceNet", Net)
    return HeadScout(FILES)


def moving(k: int) -> Frame:
    """A patch of texture that goes 2 px a frame to the right over a still ground."""
    rng = np.random.default_rng(3)
    ground = rng.integers(90, 110, (240, 426)).astype(np.uint8)
    patch = np.kron(rng.integers(0, 255, (14, 14)), np.ones((4, 4))).astype(np.uint8)
    ground[80:136, 60 + 2 * k : 116 + 2 * k] = patch
    return Frame(k, k * STEP_S, ground, lambda: np.dstack([ground] * 3))


def test_between_looks_the_picture_carries_a_head(monkeypatch: pytest.MonkeyPatch) -> None:
    """Found once clearly and never again: it is still covered where it went to (2 px a frame, by construction)."""
    looker = scout(monkeypatch, lambda look: [Face(0.95, 88.0, 108.0, 28.0)] if look == 0 else [])
    for k in range(40):
        looker.see(moving(k))
    (track,) = looker.result().tracks
    x, y, _ = track.at(30 * STEP_S) or (0, 0, 0)
    assert abs(x - (88 + 60)) < 5
    assert abs(y - 108) < 5


def test_weak_answers_make_no_head(monkeypatch: pytest.MonkeyPatch) -> None:
    looker = scout(monkeypatch, lambda _: [Face(0.55, 300.0, 60.0, 28.0)])
    for k in range(30):
        looker.see(moving(k))
    assert looker.result().tracks == ()


def test_what_stands_up_to_a_second_look_is_a_head(monkeypatch: pytest.MonkeyPatch) -> None:
    looker = scout(monkeypatch, lambda _: [Face(0.55, 300.0, 60.0, 28.0)], again=0.85)
    for k in range(30):
        looker.see(moving(k))
    assert len(looker.result().tracks) == 1


def test_a_head_that_was_covered_for_a_while_is_one(monkeypatch: pytest.MonkeyPatch) -> None:
    looker = scout(monkeypatch, lambda look: [Face(0.95, 300.0, 60.0, 28.0)] if look < 2 or look > 14 else [])
    for k in range(110):
        looker.see(moving(k))
    (track,) = looker.result().tracks
    assert all(track.at(t) is not None for t in np.arange(0, 3.5, 0.1))


def test_without_the_face_network_nothing_is_looked_for() -> None:
    with pytest.raises(ModelsError, match="midfoot models fetch"):
        HeadScout(ModelFiles(Path("detector"), Path("full")))


def person(peak: float) -> PersonTrack:
    """Somebody upright, 200 px from the hips to the top, eyes 140 px above the hips; segments in px by hand."""
    xy = np.zeros((3, 33, 2))
    xy[:, :11] = [100, 60]
    for name, y in (("shoulder", 110), ("hip", 220)):
        for side in ("left", "right"):
            xy[:, INDEX[f"{side}_{name}"]] = [100, y]
    region = np.tile([100.0, 220.0, 500.0, 0.0], (3, 1))
    return PersonTrack(1, np.arange(3) / 10, xy, np.full((3, 33), peak), np.ones(3), region)


def test_a_followed_bodys_head_is_where_its_landmarks_are() -> None:
    track = head_of(person(0.9))
    np.testing.assert_allclose(track.xy_px[0], [100, 60])
    assert 26 < track.radius_px[0] < 45  # a head of 0.13 of a stature of 400 px, and some room


def test_a_hand_taken_for_a_face_is_none() -> None:
    someone = person(0.9)
    xy = someone.xy_px.copy()
    xy[:, INDEX["left_wrist"]] = [180, 200]
    someone = PersonTrack(1, someone.t_s, xy, someone.peak, someone.presence, someone.region)

    def taken(x: float, y: float) -> HeadTrack:
        return HeadTrack("face", someone.t_s, np.tile([x, y], (3, 1)), np.full(3, 20.0))

    assert on_a_body(taken(184, 204), [someone])
    assert not on_a_body(taken(250, 204), [someone])
    assert not on_a_body(taken(102, 62), [someone])
    assert not on_a_body(taken(184, 204), [])


def test_a_turned_head_is_above_the_shoulders() -> None:
    track = head_of(person(0.1))
    x, y, radius = track.at(0.1) or (0, 0, 0)
    assert np.hypot(x - 100, y - 60) < 0.6 * radius

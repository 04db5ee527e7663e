"""The far end of the bar: found where it is seen, at its place, and refused where it is not there.

The scenes are drawn by a pinhole of the tests' own (`drawn_bar`), so that every place is known from outside.
"""

from __future__ import annotations

import json
import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from drawn_bar import Film
from pinhole import Shot

import midfoot
from midfoot.bar.far_bar import Ends, inner_span
from midfoot.bar.far_learn import Learnt, believed
from midfoot.bar.far_shots import FarShots, Layers, NearSeen
from midfoot.footage import frames_at, probe
from midfoot.records.base import Value
from midfoot.records.clip import Asked, Frame

STILL = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
STORED = ((0.9, 1.0), (-1.0, 0.4))
EVERY = 7
"""Of 30 frames a second: three reps give some forty frames, as the near plate is learnt from."""


def _film(yaw_deg: float, lift: str = "squat", near_side: str = "right", **more: object) -> Film:
    shot = Shot(yaw_deg=yaw_deg, lift=lift, near_side=near_side, size_px=(960, 540))
    return Film(shot, every=EVERY, stored=STORED, **more)  # type: ignore[arg-type]


def _looked(film: Film) -> tuple[Layers, Ends, Learnt | None]:
    pictures, truth, t_s = film.pictures(), film.truth(), film.course()[0]
    shots = FarShots()
    for _ in shots.beside(
        Frame(i, float(t), p, p.copy) for i, (t, p) in enumerate(zip(t_s, pictures, strict=True))
    ):
        pass
    aspect, lean = float(np.median(truth["aspect"])), float(np.median(truth["lean"]))
    near = NearSeen(t_s, truth["near"], np.full(len(t_s), np.median(truth["radius"])), aspect, lean)
    layers = shots.layers(near, None)
    assert layers is not None
    w, h = film.shot.size_px
    ends = Ends(
        layers.near_px, np.median(layers.near_px, axis=0), layers.radius_px, ((w - 1) / 2, (h - 1) / 2), 0.0,
        inner_span(Asked("squat")).value, film.shot.plate_mm / 2000,
    )  # fmt: skip
    lens = 0.5 * max(w, h) / math.tan(math.radians(30.0))
    learnt = believed(shots, layers, near, ends, Value(lens, 0.2 * lens), Value(aspect, 0.01), None)
    return layers, ends, learnt


@cache
def _seen(yaw_deg: float, lift: str, near_side: str) -> tuple[Learnt, np.ndarray, float]:
    """Give what is learnt, how far off the true place that is (near radii), and the turn (deg)."""
    film = _film(yaw_deg, lift, near_side)
    layers, ends, learnt = _looked(film)
    assert learnt is not None
    camera, truth = learnt.look.camera, film.truth()
    seen = camera.ellipse_centres(ends.far_m(camera), ends.radius_m)
    return learnt, np.median(seen - truth["far"], axis=0) / layers.radius_px, math.degrees(camera.turn_rad)


SIDES = [(-35.0, "squat", "right"), (8.0, "bench", "left"), (12.0, "squat", "right"), (25.0, "deadlift", "left"),
         (45.0, "bench", "right")]  # fmt: skip


@pytest.mark.parametrize(("yaw_deg", "lift", "near_side"), SIDES)
def test_far_end_is_found_where_it_is(yaw_deg: float, lift: str, near_side: str) -> None:
    """The disc between look-alikes on the wall is the one that moves with the bar, at its place within 3 sd."""
    learnt, off, _ = _seen(yaw_deg, lift, near_side)

    assert np.abs(off).max() <= 3.0 * learnt.sd
    assert np.abs(off).max() <= 0.15


@pytest.mark.parametrize(("yaw_deg", "lift", "near_side"), SIDES)
def test_far_end_tells_the_turn(yaw_deg: float, lift: str, near_side: str) -> None:
    """Place and size give the camera's turn (design, section 4): 0.06 radii are about one degree."""
    _, _, turn = _seen(yaw_deg, lift, near_side)

    true = yaw_deg if near_side == "right" else -yaw_deg
    assert turn == pytest.approx(true, abs=3.0)


def test_tilt_is_followed_in_every_frame() -> None:
    """A bar that tips by 0.6 degrees either way moves the far disc off a level bar's place, and is followed."""
    film = _film(-30.0, tilt_deg=(0.2, 0.6))
    _, _, learnt = _looked(film)
    assert learnt is not None
    truth, look = film.truth(), learnt.look
    laid = [look.lay_on(p, n, STILL) for p, n in zip(film.pictures(), truth["near"], strict=True)]
    level = np.array([look.expected(n, STILL)[0] for n in truth["near"]])

    off = np.array([[p.x_px, p.y_px] if p is not None and p.fit >= look.accept else [np.nan] * 2 for p in laid])
    off -= truth["far"]

    assert np.isfinite(off[:, 0]).mean() > 0.9
    assert np.nanstd(off, axis=0).max() < 0.5
    assert np.std((level - truth["far"])[:, 1]) > 1.5


@pytest.mark.parametrize("yaw_deg", [-20.0, 0.0, 15.0])
def test_no_far_end_is_made_up(yaw_deg: float) -> None:
    """Without a disc on the far end nothing is believed: stored discs stand still, and a lifter has no outline."""
    _, _, learnt = _looked(_film(yaw_deg, far=False))

    assert learnt is None


DEMO = Path(midfoot.__file__).parent / "demo"
TRUTH = Path(__file__).resolve().parents[1] / "data" / "demo"


@pytest.mark.footage
@pytest.mark.parametrize(("name", "load_kg"), [("squat", 80.0), ("deadlift", 102.0)])
def test_far_end_in_a_rendered_clip(name: str, load_kg: float) -> None:
    """Against the renderer's truth (tests/data/demo): the turn, and the far plate on the way to its outer face."""
    truth = json.loads((TRUTH / f"{name}.json").read_text())
    times, near_px, far_px = (np.array(truth[k]) for k in ("t_s", "near_px", "far_px"))
    camera, face = truth["camera"], truth["face_mm"] / 1000.0
    side = 1.0 if camera["near_side"] == "left" else -1.0
    bar = np.median(truth["bar_mm"], axis=0) / 1000.0
    ray = np.array([side * face, -bar[0], bar[1]]) - np.array(camera["place_m"])
    aspect = abs(ray[0]) / float(np.linalg.norm(ray))
    way = np.cumsum(np.linalg.norm(np.diff(near_px, axis=0, prepend=near_px[:1]), axis=1))
    by_way = np.searchsorted(way, np.linspace(0.0, way[-1] * 0.999, 30))
    chosen = np.unique(np.concatenate([by_way, np.linspace(0, len(times) - 1, 30).astype(int)]))
    shots = FarShots()
    info = probe(DEMO / f"{name}.mp4")
    w, h = info.width_px, info.height_px
    seen = [f.t_s for f in shots.beside(frames_at(DEMO / f"{name}.mp4", times[chosen]))]
    places = np.stack([np.interp(seen, times, near_px[:, k]) for k in (0, 1)], axis=1)
    radius = 225.0 / camera["mm_per_px"]
    near = NearSeen(np.array(seen), places, np.full(len(seen), radius), aspect, 0.0)
    layers = shots.layers(near, None)
    assert layers is not None
    ends = Ends(
        layers.near_px, np.median(layers.near_px, axis=0), layers.radius_px, ((w - 1) / 2, (h - 1) / 2),
        math.radians(camera["roll_deg"]), inner_span(Asked(name, load_kg=load_kg)).value, 0.225,
    )  # fmt: skip
    lens = 0.5 * max(w, h) / math.tan(math.radians(30.0))

    learnt = believed(shots, layers, near, ends, Value(lens, 0.2 * lens), Value(aspect, 0.01), None)

    assert learnt is not None
    turn = -side * camera["yaw_deg"]
    assert math.degrees(learnt.look.camera.turn_rad) == pytest.approx(turn, abs=2.5)
    disc = learnt.look.camera.ellipse_centres(ends.far_m(learnt.look.camera), 0.225) - layers.near_px
    outer = np.stack([np.interp(seen, times, far_px[:, k] - near_px[:, k]) for k in (0, 1)], axis=1)
    # the face that is seen is nearer than the outer one by the plates' depth, some 5 % of the way
    assert np.abs(np.median(disc - 0.95 * outer, axis=0)).max() <= 0.12 * radius

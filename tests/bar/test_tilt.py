"""Roll and pitch from upright lines: drawn rooms with known tilt, people and stickers that must not count."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pinhole import Shot, project

from midfoot.bar.tilt import Tilt, TiltScout, tilt_of, upright_segments
from midfoot.records.bar import Sightings
from midfoot.records.clip import ClipInfo, Frame

SIZE = (1280, 720)


def info(duration_s=4.0, size=SIZE):
    return ClipInfo(
        name="room", sha256="0" * 64, duration_s=duration_s, frames=30, width_px=size[0], height_px=size[1],
        rotation_deg=0, mirrored=False, variable_rate=False, frame_interval_median_s=0.5,
        frame_interval_max_s=0.5, codec="none", bit_depth=8, hdr=False,
    )  # fmt: skip


def posts(shot, rng, n=8):
    """Plumb lines of a room behind the lifter, (n, 4) px, the upper end first."""
    out = []
    for _ in range(n):
        x, y, z = rng.uniform(-4.0, -1.0) * shot.side, rng.uniform(-1.5, 1.5), rng.uniform(0.0, 1.2)
        ends = project(shot, np.array([[x, y, z + rng.uniform(0.4, 1.2)], [x, y, z]]))
        out.append(ends.ravel())
    return np.array(out)


def picture(lines, rng, width=3):
    luma = np.full(SIZE[::-1], 110, np.uint8)
    for x0, y0, x1, y1 in lines:
        cv2.line(
            luma, (round(x0 * 16), round(y0 * 16)), (round(x1 * 16), round(y1 * 16)), 200, width, cv2.LINE_AA, 4
        )
    return np.clip(luma + rng.normal(0, 3, luma.shape), 0, 255).astype(np.uint8)


def watched(pictures, sightings=None):
    scout = TiltScout(info())
    for i, luma in enumerate(pictures):
        scout.see(Frame(i, 0.5 * i, luma, lambda: np.zeros((1, 1, 3), np.uint8)))
    return scout.result(sightings)


def pitch_of(shot):
    return math.degrees(math.atan2(shot.height_m - shot.look_up_m, shot.distance_m))


@pytest.mark.parametrize(("roll", "height"), [(0.0, 0.9), (2.5, 0.9), (-3.0, 1.6), (1.0, 0.3)])
def test_tilt_of_a_drawn_room(roll, height):
    rng = np.random.default_rng(5)
    shot = Shot(roll_deg=roll, height_m=height)
    got = watched([picture(posts(shot, np.random.default_rng(7)), rng) for _ in range(4)])
    assert got.roll_deg.sd < 0.8
    assert abs(got.roll_deg.value - roll) < 2.5 * got.roll_deg.sd
    assert abs(got.roll_deg.value - roll) < 0.7
    assert abs(got.pitch_deg.value - pitch_of(shot)) < 2.5 * got.pitch_deg.sd


@settings(max_examples=15)
@given(st.integers(0, 9999), st.floats(-4, 4), st.floats(0.3, 1.8), st.floats(50, 72))
def test_stated_sd_covers_the_tilt(seed, roll, height, angle):
    rng = np.random.default_rng(seed)
    shot = Shot(roll_deg=roll, height_m=height, view_angle_deg=angle)
    lines = posts(shot, rng)
    lines += np.tile(rng.normal(0, 0.4, (1, 4)), (lines.shape[0], 1))
    wild = rng.uniform(-120, 120, (6, 4)) + np.array([640, 200, 640, 500])
    both = np.concatenate([lines, wild + rng.uniform(-500, 500, (6, 1)) * np.array([1, 0, 1, 0])])
    got = tilt_of(both, np.zeros(len(both), dtype=int), SIZE)
    assert abs(got.roll_deg.value - roll) < 4.0 * got.roll_deg.sd + 0.2
    assert abs(got.pitch_deg.value - pitch_of(shot)) < 4.0 * got.pitch_deg.sd + 0.5


def test_a_mirrored_room_rolls_the_other_way():
    lines = posts(Shot(roll_deg=2.0), np.random.default_rng(3))
    flipped = lines * np.array([-1, 1, -1, 1]) + np.array([SIZE[0] - 1, 0, SIZE[0] - 1, 0])
    one, two = (tilt_of(x, np.zeros(len(x), dtype=int), SIZE) for x in (lines, flipped))
    assert two.roll_deg.value == pytest.approx(-one.roll_deg.value, abs=1e-6)
    assert two.pitch_deg.value == pytest.approx(one.pitch_deg.value, abs=1e-6)


def test_what_moves_is_no_line_of_the_room():
    rng = np.random.default_rng(1)
    still = posts(Shot(), np.random.default_rng(2), n=4)
    pictures = []
    for i in range(6):
        # legs and arms: long, leaning the same way, never twice at the same place
        limbs = np.array([[300 + 70 * i + 40 * k, 250, 345 + 70 * i + 40 * k, 600] for k in range(4)])
        pictures.append(picture(np.concatenate([still, limbs]), rng))
    got = watched(pictures)
    assert abs(got.roll_deg.value) < 1.0


def test_a_wall_without_lines_leaves_the_habit():
    rng = np.random.default_rng(0)
    flat = [rng.normal(110, 3, SIZE[::-1]).clip(0, 255).astype(np.uint8) for _ in range(3)]
    assert watched(flat) == Tilt()
    one = tilt_of(np.array([[700.0, 300.0, 690.0, 340.0]]), np.zeros(1, dtype=int), SIZE)
    assert one.roll_deg.sd > 1.2


def test_stickers_and_captions_do_not_count():
    """Drawn on the screen they are exactly upright, whatever the camera does."""
    luma = np.full(SIZE[::-1], 110, np.uint8)
    cv2.rectangle(luma, (500, 300), (700, 380), 240, -1)
    assert upright_segments(luma).shape[0] == 0


def test_the_cameras_own_movement_is_taken_out():
    """Every frame rolled on its own: with what the background says, the first frame's roll comes out."""
    rng = np.random.default_rng(8)
    rolls = [2.0, 3.0, 4.0, 3.0, 1.0, 2.5]
    pictures, to_first = [], []
    middle = (np.array(SIZE) - 1) / 2
    for roll in rolls:
        pictures.append(picture(posts(Shot(roll_deg=roll), np.random.default_rng(7)), rng))
        # content turns counter-clockwise with roll: turn it back by what it exceeds the first
        a = math.radians(roll - rolls[0])
        m = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
        to_first.append(np.column_stack([m, middle - m @ middle]))
    moved = Sightings(
        boxes_t_s=[], boxes=(), camera_t_s=0.5 * np.arange(len(rolls)), camera_to_first=np.array(to_first),
        camera_ok=np.ones(len(rolls), bool),
    )  # fmt: skip
    got = watched(pictures, moved)
    assert got.roll_deg.value == pytest.approx(2.0, abs=0.6)
    assert got.roll_deg.sd < 0.8


@pytest.mark.footage
def test_rooms_of_the_rendered_clips(shared_clips):
    """True rolls are 0; bench_side looks 2.3 degrees down, bench_oblique 9.1."""
    from midfoot import footage
    from midfoot.records.clip import Reading

    for name, pitch in (("bench_side", 2.30), ("bench_oblique", 9.10)):
        clip = shared_clips / "rendered" / f"{name}.mp4"
        about = footage.probe(clip, Reading())
        scout = TiltScout(about)
        for frame in footage.frames(clip, Reading()):
            scout.see(frame)
        got = scout.result()
        assert abs(got.roll_deg.value) < 0.5
        assert got.roll_deg.sd < 0.8
        assert abs(got.pitch_deg.value - pitch) < 2.0 * got.pitch_deg.sd

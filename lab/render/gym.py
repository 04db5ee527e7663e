"""A gym of our own: floor, walls, uprights, a bench, storage with discs that look like the ones on the bar."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import frozen

from lab.render.barbell import Plate
from lab.render.mesh import BRICK, FLECK, GRAIN, PLAIN, WOOD, Colour, Mesh, box, joined, quad, rod


@frozen
class Room:
    """What a room looks like and what stands in it.

    `uprights_at` are places (forward, m) of a pair of uprights; `hooks_m` the height of their hooks;
    `posts_at` are places (x, forward, m) of single posts, such as those of a rack that stands nearer.
    `stored` are discs hung on a storage rack against the far wall, `stored_at` (x, forward) of its middle.
    """

    floor: Colour = (0.17, 0.17, 0.18)
    platform: Colour = (0.52, 0.36, 0.22)
    wall: Colour = (0.62, 0.60, 0.56)
    band: Colour = (0.30, 0.36, 0.42)
    bricks: bool = False
    far_x_m: float = -2.6
    steel: Colour = (0.14, 0.15, 0.17)
    uprights_at: tuple[float, ...] = ()
    upright_half_m: float = 0.60
    hooks_m: float | None = None
    upright_height_m: float = 2.35
    bench_m: float | None = None
    bench_at: tuple[float, float] = (-0.1, 1.1)
    stored: tuple[Plate, ...] = ()
    stored_forward_m: tuple[float, float] = (-1.6, 1.6)
    clutter: bool = True
    posts_at: tuple[tuple[float, float], ...] = ()


def _walls(room: Room) -> Mesh:
    far, side = room.far_x_m, 4.6
    surface = BRICK if room.bricks else GRAIN
    s = 1.0 if far < 0 else -1.0
    near = -far + 3.2 * s

    def wall(a: Sequence[float], b: Sequence[float], colour: Colour, z0: float, z1: float, kind: float) -> Mesh:
        return quad((*a, z0), (*b, z0), (*b, z1), (*a, z1), colour, kind, 0.02)

    runs = [
        ((far, -side), (far, side)),
        ((far, side), (near, side)),
        ((near, -side), (far, -side)),
        ((near, side), (near, -side)),
    ]
    if s < 0:
        runs = [(b, a) for a, b in runs]
    parts = []
    for a, b in runs:
        parts.append(wall(a, b, room.band, 0.0, 1.05, GRAIN))
        parts.append(wall(a, b, room.wall, 1.05, 7.0, surface))
    return joined(parts)


def _floor(room: Room) -> Mesh:
    parts = [quad((-9, -7, 0), (9, -7, 0), (9, 7, 0), (-9, 7, 0), room.floor, FLECK, 0.03)]
    if room.bench_m is None:
        z = 0.002
        parts.append(
            quad((-0.6, -1.25, z), (0.6, -1.25, z), (0.6, 1.25, z), (-0.6, 1.25, z), room.platform, WOOD, 0.08)
        )
        for x in (-0.95, 0.95):
            parts.append(
                quad((x - 0.35, -1.25, z), (x + 0.35, -1.25, z), (x + 0.35, 1.25, z), (x - 0.35, 1.25, z),
                     (0.10, 0.10, 0.11), FLECK, 0.03)
            )  # fmt: skip
    return joined(parts)


def _uprights(room: Room) -> list[Mesh]:
    parts = []
    for forward in room.uprights_at:
        for s in (1.0, -1.0):
            x, y, h = s * room.upright_half_m, -forward, room.upright_height_m
            parts.append(box((x, y, h / 2), (0.07, 0.07, h), room.steel, PLAIN, 0.25))
            parts.append(box((x, y, 0.03), (0.09, 0.70, 0.06), room.steel, PLAIN, 0.25))
            for k in range(int((h - 0.4) / 0.1)):
                parts.append(box((x + s * 0.0355, y, 0.3 + 0.1 * k), (0.002, 0.022, 0.022), (0.5, 0.5, 0.5)))
            if room.hooks_m is not None:
                z = room.hooks_m - 0.014
                parts.append(box((x, y + 0.075, z - 0.012), (0.05, 0.085, 0.024), (0.55, 0.12, 0.10), PLAIN, 0.2))
                parts.append(box((x, y + 0.117, z + 0.022), (0.05, 0.016, 0.06), (0.55, 0.12, 0.10), PLAIN, 0.2))
        top = room.upright_height_m - 0.04
        parts.append(box((0, -forward, top), (2 * room.upright_half_m, 0.06, 0.06), room.steel, PLAIN, 0.25))
    return parts


def _bench(room: Room) -> list[Mesh]:
    if room.bench_m is None:
        return []
    head, feet = room.bench_at
    middle, length, z = -(head + feet) / 2.0, feet - head, room.bench_m
    return [
        box((0, middle, z - 0.04), (0.29, length, 0.08), (0.09, 0.09, 0.10), PLAIN, 0.18),
        box((0, middle, z - 0.10), (0.06, length * 0.9, 0.05), room.steel, PLAIN, 0.25),
        box((0, -head - 0.12, (z - 0.1) / 2), (0.06, 0.06, z - 0.1), room.steel, PLAIN, 0.25),
        box((0, -feet + 0.12, (z - 0.1) / 2), (0.06, 0.06, z - 0.1), room.steel, PLAIN, 0.25),
        box((0, -head - 0.12, 0.025), (0.55, 0.07, 0.05), room.steel, PLAIN, 0.25),
        box((0, -feet + 0.12, 0.025), (0.40, 0.07, 0.05), room.steel, PLAIN, 0.25),
    ]


def _storage(room: Room, rng: np.random.Generator) -> list[Mesh]:
    """Discs on pegs of a frame before the far wall, faces toward the room."""
    if not room.stored:
        return []
    s = 1.0 if room.far_x_m < 0 else -1.0
    x = room.far_x_m + s * 0.30
    lo, hi = room.stored_forward_m
    parts = []
    columns = len(room.stored)
    for i, plate in enumerate(room.stored):
        forward = lo + (hi - lo) * (i + 0.5) / columns
        row = 0.55 if i % 2 else 1.15
        parts.append(rod((x - s * 0.25, -forward, row), (x + s * 0.20, -forward, row), 0.024, (0.5, 0.5, 0.52)))
        parts.append(box((x - s * 0.22, -forward, 0.8), (0.06, 0.06, 1.6), room.steel, PLAIN, 0.25))
        mesh = plate.mesh()
        turn = np.diag([s, s, 1.0]) if s < 0 else np.eye(3)
        roll = rng.uniform(0, 2 * np.pi)
        roll_turn = np.array(
            [[1, 0, 0], [0, np.cos(roll), -np.sin(roll)], [0, np.sin(roll), np.cos(roll)]], dtype=float
        )
        parts.append(mesh.moved((0, 0, 0), roll_turn).moved((x, -forward, row), turn))
    return parts


def _clutter(room: Room, rng: np.random.Generator) -> list[Mesh]:
    """A rack of dumbbells, a box to jump on, plain pictures and a clock-less board on the wall."""
    s = 1.0 if room.far_x_m < 0 else -1.0
    wall = room.far_x_m
    parts = []
    for k in range(4):
        y = rng.uniform(-3.4, 3.4)
        w, h = rng.uniform(0.35, 0.9), rng.uniform(0.3, 0.7)
        z = rng.uniform(1.5, 2.4)
        hue = 0.42 + 0.17 * rng.uniform(-1.0, 1.0, 3)
        colour: Colour = (float(hue[0]), float(hue[1]), float(hue[2]))
        parts.append(box((wall + s * (0.01 + 0.003 * k), y, z), (0.02, w, h), colour, GRAIN, 0.05))
        inner: Colour = (float(1 - hue[0]) * 0.8, float(1 - hue[1]) * 0.8, float(1 - hue[2]) * 0.8)
        parts.append(box((wall + s * (0.022 + 0.003 * k), y, z), (0.01, w * 0.6, h * 0.25), inner, PLAIN, 0.05))
    rack = 2.9 if rng.random() < 0.5 else -2.9
    for level in (0.35, 0.75):
        parts.append(box((wall + s * 0.5, rack, level), (0.35, 1.7, 0.04), room.steel, PLAIN, 0.2))
        for k in range(5):
            y = rack - 0.65 + 0.32 * k
            parts.append(
                rod((wall + s * 0.38, y, level + 0.09), (wall + s * 0.62, y, level + 0.09), 0.017, (0.6, 0.6, 0.6))
            )
            for e in (-0.11, 0.11):
                parts.append(
                    box(
                        (wall + s * (0.5 + e), y, level + 0.09), (0.09, 0.11, 0.11), (0.12, 0.12, 0.12), PLAIN, 0.1
                    )
                )
    for e in (-0.8, 0.8):
        parts.append(box((wall + s * 0.5, rack + e, 0.45), (0.06, 0.06, 0.9), room.steel, PLAIN, 0.2))
    parts.append(box((wall + s * 0.7, -rack * 0.72, 0.25), (0.5, 0.6, 0.5), (0.55, 0.42, 0.26), WOOD, 0.05))
    return parts


def build(room: Room, seed: int) -> Mesh:
    """Everything in the room that stands still."""
    rng = np.random.default_rng(seed)
    parts = [_walls(room), _floor(room), *_uprights(room), *_bench(room), *_storage(room, rng)]
    for x, forward in room.posts_at:
        high = room.upright_height_m
        parts.append(box((x, -forward, high / 2), (0.075, 0.075, high), room.steel, PLAIN, 0.25))
    if room.clutter:
        parts += _clutter(room, rng)
    return joined(parts)

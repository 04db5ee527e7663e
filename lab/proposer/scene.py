# ruff: noqa: E501 - the text is part of the recipe's fingerprint: no change without training again
"""Compose one training scene: which discs, sleeves, limbs and look-alikes stand where (numbers only, no pixels).

A scene is three lists of layers, painted in order: what stands still behind, what moves (the loaded bar), what
passes in front. Every layer is one primitive, an ellipse swept along a segment: a plate is the visible face plus the
wall that its thickness shows, a sleeve or shaft a thin one swept far, a limb a circle swept without a face.
Lengths are pixels of the sample; directions of the bar's axis are directions of the ellipses' minor axes.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

SIZE = 384
STATIC, MOVING, FRONT = 7, 26, 8
TARGETS = 8
FAR, NEAR, UNKNOWN = 0.0, 1.0, -1.0
TABLE = 64
LETTERINGS = 192
SPRITES = 224
SPRITE_SLOTS = 4

FIELDS = (
    "cx", "cy", "a", "b", "axis", "om", "on", "soft", "face", "group",
    "wall_r", "wall_g", "wall_b", "wall_x", "wall_y", "light", "grad", "aniso", "aniso_at", "rot",
    "text", "text_r0", "text_r1", "text_red", "text_green", "text_blue", "text_gain",
    "holes", "hole_r", "hole_w", "hole_arc", "hole_through", "hole_dark",
    "grain", "photo", "camo", "mean_r", "mean_g", "mean_b",
)  # fmt: skip
AT = {name: i for i, name in enumerate(FIELDS)}


@dataclass
class Layer:
    """One primitive: its numbers by FIELDS and the radial table (red, green, blue, relief) of its face."""

    numbers: np.ndarray
    table: np.ndarray


@dataclass
class Scene:
    """Layers and targets (x, y, major half-axis, aspect, axis, thickness offset, group, near) of one sample.

    `near` is NEAR or FAR for the two ends of one bar, UNKNOWN for what stands in the room.
    """

    static: list[Layer] = field(default_factory=list)
    moving: list[Layer] = field(default_factory=list)
    front: list[Layer] = field(default_factory=list)
    targets: list[tuple[float, ...]] = field(default_factory=list)
    groups: int = 0

    def new_group(self) -> int:
        self.groups += 1
        return self.groups


def _layer(table: np.ndarray | None = None, **numbers: float) -> Layer:
    row = np.zeros(len(FIELDS), np.float32)
    row[AT["soft"]] = 1.2
    row[AT["a"]] = row[AT["b"]] = 1.0
    for name, value in numbers.items():
        row[AT[name]] = value
    if table is None:
        table = np.zeros((TABLE, 4), np.float32)
    row[AT["mean_r"] : AT["mean_b"] + 1] = table[:, :3].mean(0)
    return Layer(row, table)


STRONG = np.array([[.75, .08, .1], [.08, .2, .65], [.9, .75, .1], [.1, .5, .2], [.9, .9, .9], [.95, .45, .05],
                   [.45, .1, .5], [.9, .35, .55], [.1, .55, .6]], np.float32)  # fmt: skip


def _paint(rng: np.random.Generator) -> np.ndarray:
    """Give a paint colour: black rubber half of the time, else a strong colour or any."""
    kind = rng.random()
    if kind < 0.5:
        return np.float32(rng.uniform(0.02, 0.2)) + rng.normal(0, 0.012, 3).astype(np.float32)
    if kind < 0.85:
        return (STRONG[rng.integers(len(STRONG))] * rng.uniform(0.4, 1.1) + rng.normal(0, 0.04, 3)).astype(np.float32)
    return rng.random(3).astype(np.float32)


def _metal(rng: np.random.Generator) -> np.ndarray:
    warm = rng.normal(0, 0.02)
    return np.float32(rng.uniform(0.3, 0.9)) + np.array([warm, 0, -warm], np.float32)


R = (np.arange(TABLE) + 0.5) / TABLE


def _band(table: np.ndarray, lo: float, hi: float, colour: np.ndarray) -> None:
    table[(lo <= R) & (hi > R), :3] = colour


def _edge(table: np.ndarray, at: float, relief: float, width: float = 0.02) -> None:
    table[:, 3] += relief * np.exp(-0.5 * ((R - at) / width) ** 2)


def face_table(rng: np.random.Generator) -> tuple[np.ndarray, dict[str, float]]:
    """Draw the look of one plate's face: table over the radius and the numbers that go with it."""
    t = np.zeros((TABLE, 4), np.float32)
    extra: dict[str, float] = {}
    kind = rng.choice(["bumper", "steel", "iron", "metal", "rings", "plain"], p=[0.28, 0.17, 0.27, 0.08, 0.12, 0.08])
    base = _paint(rng)
    bore = rng.uniform(0.09, 0.14)
    text = dict.fromkeys(("text_red", "text_green", "text_blue"), 0.0)
    lettered = rng.random() < 0.7
    if kind == "bumper":
        hub = rng.uniform(0.2, 0.5)
        t[:, :3] = base
        if rng.random() < 0.4:
            _band(t, rng.uniform(0.88, 0.97), 1.01, base * rng.uniform(0.4, 1.8))
        if rng.random() < 0.35:
            lo = rng.uniform(0.45, 0.9)
            _band(t, lo, lo + rng.uniform(0.03, 0.25), _paint(rng))
        _band(t, 0, hub, _metal(rng) if rng.random() < 0.65 else _paint(rng))
        _edge(t, hub, rng.normal(0, 0.25))
        _edge(t, rng.uniform(0.86, 0.97), rng.normal(0, 0.12))
        extra |= {"text_r0": rng.uniform(0.5, 0.65), "text_r1": rng.uniform(0.7, 0.92)}
    elif kind == "steel":
        t[:, :3] = base
        lip = rng.uniform(0.93, 0.985)
        _band(t, lip, 1.01, base * rng.uniform(0.7, 1.6) if rng.random() < 0.6 else _metal(rng))
        _edge(t, lip, rng.normal(0, 0.3), 0.012)
        hub = rng.uniform(0.16, 0.3)
        _band(t, 0, hub, _metal(rng) if rng.random() < 0.6 else base * rng.uniform(0.5, 1.5))
        _edge(t, hub, rng.normal(0, 0.25))
        extra |= {"text_r0": rng.uniform(0.35, 0.6), "text_r1": rng.uniform(0.65, 0.9)}
    elif kind == "iron":
        base = (rng.uniform(0.03, 0.35) + rng.normal(0, 0.015, 3)).astype(np.float32) if rng.random() < 0.75 else base
        t[:, :3] = base
        lip = rng.uniform(0.82, 0.95)
        _band(t, lip, 1.01, base * rng.uniform(0.8, 2.2) + 0.02)
        _edge(t, lip, rng.normal(0, 0.3), 0.025)
        hub = rng.uniform(0.2, 0.4)
        _band(t, 0, hub, base * rng.uniform(0.7, 2.0) + 0.01)
        _edge(t, hub, rng.normal(0, 0.3), 0.025)
        if rng.random() < 0.45:
            n = float(rng.integers(2, 8))
            extra |= {"holes": n, "hole_r": rng.uniform(0.55, 0.72), "hole_w": rng.uniform(0.07, 0.2),
                      "hole_arc": rng.uniform(0.25, 0.85)}  # fmt: skip
            extra["hole_through"] = float(rng.random() < 0.6)
            extra["hole_dark"] = rng.uniform(0.3, 0.95)
        extra |= {"text_r0": rng.uniform(0.42, 0.6), "text_r1": rng.uniform(0.65, 0.85)}
    elif kind == "metal":
        t[:, :3] = _metal(rng)
        _edge(t, rng.uniform(0.85, 0.97), rng.normal(0, 0.3))
        _edge(t, rng.uniform(0.2, 0.4), rng.normal(0, 0.3))
        extra |= {"aniso": rng.uniform(0.1, 0.6), "text_r0": 0.5, "text_r1": rng.uniform(0.65, 0.85)}
    else:
        t[:, :3] = base
        edges = np.sort(rng.uniform(0.15, 0.98, rng.integers(1, 6))) if kind == "rings" else []
        for lo in edges:
            _band(t, lo, 1.01, _paint(rng) if rng.random() < 0.6 else _metal(rng))
            _edge(t, lo, rng.normal(0, 0.2))
        extra |= {"text_r0": rng.uniform(0.3, 0.6), "text_r1": rng.uniform(0.65, 0.9)}
        lettered = lettered and kind == "rings"
    if rng.random() < 0.35:  # worn or bright rim
        _band(t, rng.uniform(0.96, 0.985), 1.01, _metal(rng))
    if rng.random() < 0.85:
        _band(t, 0, bore, _metal(rng) * rng.uniform(0.2, 1.2))
    if lettered:
        ink = np.clip(_paint(rng) if rng.random() < 0.4 else np.full(3, rng.uniform(0.5, 1)), 0, 1)
        text = dict(zip(text, map(float, ink), strict=True))
        extra |= {"text": float(rng.integers(LETTERINGS)), "text_gain": rng.uniform(0.25, 1.0)} | text
    if rng.random() < 0.25:
        extra["aniso"] = rng.uniform(0.0, 0.35)
    extra |= {"light": rng.uniform(0, 6.28), "grad": abs(rng.normal(0, 0.18)), "rot": rng.uniform(0, 6.28),
              "aniso_at": rng.uniform(0, 3.14), "grain": abs(rng.normal(0, 0.12))}  # fmt: skip
    t[:, :3] = np.clip(t[:, :3], 0.0, 1.1)
    return t, extra


def _wall(rng: np.random.Generator, table: np.ndarray) -> dict[str, float]:
    rim = table[-2, :3] if rng.random() < 0.7 else table[TABLE // 2, :3]
    wall = rim * rng.uniform(0.4, 1.2)
    turn = rng.uniform(0, 6.28)
    amp = rng.uniform(0.1, 0.5)
    return {"wall_r": wall[0], "wall_g": wall[1], "wall_b": wall[2],
            "wall_x": amp * np.cos(turn), "wall_y": amp * np.sin(turn)}  # fmt: skip


def _plain_wall(rng: np.random.Generator, colour: np.ndarray) -> dict[str, float]:
    turn, amp = rng.uniform(0, 6.28), rng.uniform(0.1, 0.6)
    return {"wall_r": colour[0], "wall_g": colour[1], "wall_b": colour[2],
            "wall_x": amp * np.cos(turn), "wall_y": amp * np.sin(turn)}  # fmt: skip


def _tilt(rng: np.random.Generator) -> float:
    """Angle between the disc's axis and the line of sight, rad: side-on, oblique, nearly edge-on."""
    kind = rng.random()
    if kind < 0.32:
        return np.radians(abs(rng.normal(0, 14)))
    if kind < 0.68:
        return np.radians(rng.uniform(20, 70))
    if kind < 0.87:
        return np.radians(rng.uniform(66, 83.5))
    return np.radians(rng.uniform(80, 89))


def _stack(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Radii (largest 1) and thicknesses (of the largest radius) of the plates on one end, inner first."""
    n = int(rng.choice([1, 2, 3, 4, 5], p=[0.38, 0.27, 0.18, 0.11, 0.06]))
    order = rng.random()
    if order < 0.3:
        radii = np.ones(n)
    else:
        radii = np.sort(rng.uniform(0.3, 1.0, n))[::-1].copy()
        radii[: 1 + rng.integers(n)] = 1.0
        if order > 0.82:
            radii = radii[::-1].copy()
    thick = rng.uniform(0.05, 0.16, n) if rng.random() < 0.5 else rng.uniform(0.1, 0.38, n)
    return radii, thick


def _plate(rng: np.random.Generator, x: float, y: float, a: float, aspect: float, axis: float, wall_px: float,
           group: int, look: tuple[np.ndarray, dict[str, float]], camo: float) -> Layer:  # fmt: skip
    table, extra = look
    return _layer(table, cx=x, cy=y, a=a, b=a * aspect, axis=axis, om=-wall_px, face=1.0, group=group, camo=camo,
                  soft=rng.uniform(1.0, 2.0), **extra, **_wall(rng, table))  # fmt: skip


def add_bar(rng: np.random.Generator, scene: Scene, a: float) -> None:
    """Add a loaded bar: far plates, shaft, near stack, collar, sleeve; its two largest discs are targets."""
    moving, size = scene.moving, SIZE
    tilt = _tilt(rng)
    aspect, side = max(np.cos(tilt), 0.05), np.sin(tilt)
    lean = np.clip(rng.normal(0, 11), -26, 26) if rng.random() < 0.75 else np.clip(rng.normal(0, 30), -60, 60)
    axis = np.radians(lean) + (np.pi if rng.random() < 0.5 else 0.0)
    m = np.array([np.cos(axis), np.sin(axis)])
    margin = 0.35 * a if rng.random() < 0.36 else -0.6 * a
    lo, hi = min(-margin, size * 0.4), max(size + margin, size * 0.6)
    base = rng.uniform(lo, hi, 2)
    if rng.random() < 0.15 and a > 30:  # standing at the picture's lower edge
        base[1] = size - rng.uniform(0.1, 0.9) * a
    camo = rng.uniform(0.4, 0.95) if rng.random() < 0.28 else 0.0
    looks = [face_table(rng) for _ in range(3)]
    steel = _metal(rng) * rng.uniform(0.3, 1.0)
    radii, thick = _stack(rng)

    def look(i: int) -> tuple[np.ndarray, dict[str, float]]:
        table, extra = looks[0] if rng.random() < 0.45 else looks[i % 3]
        return table, extra | {"rot": rng.uniform(0, 6.28)}

    shrink = rng.uniform(0.55, 1.0)
    away = (5.9 + rng.uniform(-0.6, 0.8)) * a * side * (0.5 + 0.5 * shrink)
    far = base - away * m + rng.normal(0, 0.18 * a + 2, 2)
    if rng.random() < 0.75:
        group, af = scene.new_group(), a * shrink
        fa = float(np.clip(aspect + rng.normal(0, 0.05), 0.05, 1.0))
        z = 0.0
        best: tuple[float, tuple[float, ...]] | None = None
        rows = []
        for i in range(min(len(radii), 3)):
            x, y = far - z * af * side * m
            wall = thick[i] * af * side
            rows.append(_plate(rng, x, y, af * radii[i], fa, axis, wall, group, look(i), camo))
            if best is None or radii[i] > best[0] + 1e-6:
                best = (radii[i], (x, y, af * radii[i], fa, axis, -wall, group, FAR))
            z += thick[i] + rng.uniform(0, 0.02)
        moving.extend(reversed(rows))
        assert best is not None
        scene.targets.append(best[1])
    for _ in range(int(rng.integers(0, 2))):  # a limb between the ends
        moving.append(_limb(rng, base + rng.normal(0, a + 5, 2), a))
    reach = far - base
    c, s = np.cos(axis), np.sin(axis)
    moving.append(_layer(cx=base[0], cy=base[1], a=0.064 * a, b=max(0.064 * a * aspect, 0.3), axis=axis,
                         om=reach @ [c, s], on=reach @ [-s, c], **_plain_wall(rng, steel)))  # fmt: skip
    group, z, best = scene.new_group(), 0.0, None
    if rng.random() < 0.5:
        moving.append(_layer(cx=base[0], cy=base[1], a=0.2 * a, b=0.2 * a * aspect, axis=axis,
                             om=-0.1 * a * side, **_plain_wall(rng, steel)))  # fmt: skip
    for i in range(len(radii)):
        z += thick[i]
        x, y = base + z * a * side * m
        wall = thick[i] * a * side
        moving.append(_plate(rng, x, y, a * radii[i], aspect, axis, wall, group, look(i), camo))
        if best is None or radii[i] >= best[0] - 1e-6:
            best = (radii[i], (x, y, a * radii[i], aspect, axis, -wall, group, NEAR))
        z += rng.uniform(0, 0.03)
    assert best is not None
    scene.targets.append(best[1])
    if rng.random() < 0.5:  # collar
        z += rng.uniform(0.08, 0.25)
        x, y = base + z * a * side * m
        r = a * rng.uniform(0.15, 0.28)
        table, extra = face_table(rng)
        moving.append(_layer(table, cx=x, cy=y, a=r, b=r * aspect, axis=axis, om=-0.2 * a * side, face=1.0,
                             group=group, **extra, **_wall(rng, table)))  # fmt: skip
        for _ in range(int(rng.integers(0, 3))):  # its lever or screw
            turn, reach = rng.uniform(0, 6.28), rng.uniform(0.15, 0.4) * a
            moving.append(_layer(cx=x, cy=y, a=0.025 * a + 0.3, b=0.025 * a + 0.3, om=reach * np.cos(turn),
                                 on=reach * np.sin(turn), group=group, **_plain_wall(rng, _metal(rng))))  # fmt: skip
    length = rng.uniform(0.05, max(0.1, 1.8 - z))
    x, y = base + (z + length) * a * side * m
    table = np.tile(np.r_[steel, 0], (TABLE, 1)).astype(np.float32)
    r = a * rng.uniform(0.1, 0.125)
    moving.append(_layer(table, cx=x, cy=y, a=r, b=r * aspect, axis=axis, om=-length * a * side, face=1.0,
                         group=group, grad=0.3, light=rng.uniform(0, 6.28), **_plain_wall(rng, steel)))  # fmt: skip


def add_stored(rng: np.random.Generator, scene: Scene) -> None:
    """Add discs that hang or lean in the room: plates like any other, only at rest."""
    a0 = np.exp(rng.uniform(np.log(14), np.log(80)))
    tilt, axis = _tilt(rng), np.radians(rng.normal(0, 10)) + np.pi * rng.integers(2)
    at, step = rng.uniform(0, SIZE, 2), rng.normal(0, 1.2, 2) * a0
    look = face_table(rng)
    for _ in range(int(rng.integers(1, 4))):
        a = a0 * rng.uniform(0.6, 1.1)
        aspect = max(np.cos(tilt + rng.normal(0, 0.05)), 0.1)
        wall = rng.uniform(0.05, 0.4) * a * np.sin(tilt)
        group = scene.new_group()
        if rng.random() < 0.5:
            look = face_table(rng)
        scene.static.append(_plate(rng, at[0], at[1], a, aspect, axis, wall, group, look, 0.0))
        scene.targets.append((at[0], at[1], a, aspect, axis, -wall, group, UNKNOWN))
        at = at + step


SKIN = np.array([[0.85, 0.65, 0.52], [0.7, 0.48, 0.35], [0.45, 0.3, 0.2], [0.25, 0.16, 0.11]], np.float32)


def _limb(rng: np.random.Generator, at: np.ndarray, a: float) -> Layer:
    """Give an arm, leg, post or strap: straight, round or flat, in skin, cloth, steel or a photograph's texture."""
    width = rng.uniform(0.06, 0.35) * max(a, 35) * rng.uniform(0.5, 1.2)
    turn = rng.normal(np.pi / 2, 0.5) if rng.random() < 0.7 else rng.uniform(0, np.pi)
    half = rng.uniform(0.5, 3.0) * max(a, 35)
    start = at - half * np.array([np.cos(turn), np.sin(turn)])
    colour = SKIN[rng.integers(4)] * rng.uniform(0.5, 1.1) if rng.random() < 0.4 else rng.random(3) ** 2
    return _layer(cx=start[0], cy=start[1], a=width, b=width, axis=0.0, om=2 * half * np.cos(turn),
                  on=2 * half * np.sin(turn), photo=rng.uniform(0.5, 1) if rng.random() < 0.6 else 0.0,
                  grain=0.2, soft=rng.uniform(1, 3), **_plain_wall(rng, colour))  # fmt: skip


def add_upright(rng: np.random.Generator, scene: Scene) -> None:
    """Put a rack's post in front, mostly over a disc: straight, upright, with a row of holes."""
    x, y, a = scene.targets[-1][:3] if scene.targets else (*rng.uniform(0, SIZE, 2), rng.uniform(20, 100))
    width = rng.uniform(0.08, 0.3) * max(a, 30)
    x = x + rng.normal(0, 0.8 * a)
    turn = np.pi / 2 + rng.normal(0, 0.06)
    way = np.array([np.cos(turn), np.sin(turn)])
    start = np.array([x, -20.0])
    steel = _metal(rng) * rng.uniform(0.15, 1.1) if rng.random() < 0.7 else STRONG[rng.integers(len(STRONG))]
    length = rng.uniform(1.1, 1.3) * SIZE
    scene.front.append(_layer(cx=start[0], cy=start[1], a=width, b=width, om=length * way[0], on=length * way[1],
                              grain=0.1, soft=rng.uniform(1, 2.5), **_plain_wall(rng, steel)))  # fmt: skip
    r, step = width * rng.uniform(0.2, 0.45), width * rng.uniform(1.2, 4.0)
    first = start + (y + 20 - 1.5 * step + rng.uniform(0, step)) * way
    dark = np.full(3, rng.uniform(0, 0.25)) if rng.random() < 0.8 else np.full(3, rng.uniform(0.5, 1))
    for k in range(int(rng.integers(0, 4))):
        at = first + k * step * way
        scene.front.append(_layer(cx=at[0], cy=at[1], a=r, b=r, **_plain_wall(rng, dark)))


def add_blob(rng: np.random.Generator, into: list[Layer]) -> None:
    """Add a round thing that is no plate: head, knee, ball, lamp."""
    a = np.exp(rng.uniform(np.log(10), np.log(75)))
    aspect = rng.uniform(0.6, 1.0)
    x, y = rng.uniform(0, SIZE, 2)
    kind = rng.random()
    if kind < 0.45:
        colour = SKIN[rng.integers(4)] * rng.uniform(0.4, 1.1)
    else:
        colour = _paint(rng)
    table = np.zeros((TABLE, 4), np.float32)
    fall = rng.uniform(0.0, 0.6)
    table[:, :3] = colour * (1 - fall * R[:, None] ** 2)
    long = rng.uniform(0, 1.5) * a if rng.random() < 0.5 else 0.0
    turn = rng.uniform(0, 6.28)
    into.append(_layer(table, cx=x, cy=y, a=a, b=a * aspect, axis=rng.uniform(0, 6.28), om=long * np.cos(turn),
                       on=long * np.sin(turn), face=float(rng.random() < 0.7), grad=rng.uniform(0, 0.6),
                       light=rng.uniform(0, 6.28), grain=rng.uniform(0, 0.5),
                       photo=rng.uniform(0.5, 1.0) if rng.random() < 0.5 else 0.0,
                       soft=rng.uniform(1, 4), **_plain_wall(rng, colour)))  # fmt: skip


def draw_scene(rng: np.random.Generator) -> Scene:
    """Draw the numbers of one scene."""
    scene = Scene()
    if rng.random() < 0.3:
        add_stored(rng, scene)
    for _ in range(rng.choice([0, 1, 2, 3], p=[0.45, 0.3, 0.15, 0.1])):
        add_blob(rng, scene.static)
    bars = int(rng.choice([0, 1, 2], p=[0.13, 0.67, 0.2]))
    for _ in range(bars):
        kind = rng.random()
        lo, hi = (12, 40) if kind < 0.12 else (110, 240) if kind < 0.25 else (16, 172)
        a = np.exp(rng.uniform(np.log(lo), np.log(hi)))
        add_bar(rng, scene, a)
    if rng.random() < 0.22:
        add_upright(rng, scene)
    for _ in range(rng.choice([0, 1, 2, 3], p=[0.35, 0.3, 0.22, 0.13])):
        if scene.targets and rng.random() < 0.8:
            x, y, a = scene.targets[-1][:3]
            scene.front.append(_limb(rng, np.array([x, y]) + rng.normal(0, 0.6 * a, 2), a))
        else:
            scene.front.append(_limb(rng, rng.uniform(0, SIZE, 2), rng.uniform(20, 100)))
    if rng.random() < 0.2:
        add_blob(rng, scene.front)
    return scene


def sprites(rng: np.random.Generator) -> np.ndarray:
    """Place pasted pictures (SPRITE_SLOTS, 6): which, x, y, half width px, turn rad, weight; last slot is in front."""
    rows = np.zeros((SPRITE_SLOTS, 6), np.float32)
    rows[:, 3] = 1.0
    for i in range(SPRITE_SLOTS):
        if rng.random() < (0.3 if i < SPRITE_SLOTS - 1 else 0.35):
            half = np.exp(rng.uniform(np.log(10), np.log(90)))
            rows[i] = (rng.integers(SPRITES), *rng.uniform(0, SIZE, 2), half, rng.normal(0, 0.15),
                       1.0 if rng.random() < 0.6 else rng.uniform(0.5, 1))  # fmt: skip
    return rows


def batch(seed: int, n: int) -> dict[str, np.ndarray]:
    """Compose `n` scenes as arrays: layers (n, L, fields), tables (n, L, TABLE, 4), targets, sprites."""
    rng = np.random.default_rng(seed)
    total = STATIC + MOVING + FRONT
    layers = np.zeros((n, total, len(FIELDS)), np.float32)
    layers[:, :, AT["cx"]] = -1e4
    layers[:, :, AT["a"]] = layers[:, :, AT["b"]] = layers[:, :, AT["soft"]] = 1.0
    tables = np.zeros((n, total, TABLE, 4), np.float16)
    targets = np.zeros((n, TARGETS, 9), np.float32)
    pasted = np.zeros((n, SPRITE_SLOTS, 6), np.float32)
    for i in range(n):
        scene = draw_scene(rng)
        for start, room, rows in (
            (0, STATIC, scene.static),
            (STATIC, MOVING, scene.moving),
            (STATIC + MOVING, FRONT, scene.front),
        ):
            for j, row in enumerate(rows[:room]):
                layers[i, start + j] = row.numbers
                tables[i, start + j] = row.table
        for j, target in enumerate(scene.targets[:TARGETS]):
            targets[i, j] = (*target, 1.0)
        pasted[i] = sprites(rng)
    return {"layers": layers, "tables": tables, "targets": targets, "sprites": pasted}

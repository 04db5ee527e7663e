"""Dress a body: clothes drawn onto its mesh, shoes, hair, a face; and turn a pose into triangles."""

from __future__ import annotations

import numpy as np
from attrs import evolve, field, frozen
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial import ConvexHull

from lab.render.body import Body, Posed
from lab.render.limbs import SIDES
from lab.render.mesh import PLAIN, Colour

Array = NDArray[np.float64]


@frozen
class Outfit:
    """Colours of what a lifter wears and of the lifter; `long_legs` for tights to the ankle."""

    skin: Colour
    hair: Colour
    shirt: Colour
    legs: Colour
    shoes: Colour
    socks: Colour = (0.85, 0.85, 0.85)
    belt: Colour | None = None
    long_legs: bool = False
    bun: bool = False


@frozen
class Extra:
    """A solid that rides on one bone: triangles over points given at rest."""

    bone: str
    points_m: Array = field(eq=False)
    faces: NDArray[np.int32] = field(eq=False)
    colour: Colour


@frozen
class Figure:
    """A dressed body: `body` is what is drawn (clothes stand off the skin), `bare` what is measured."""

    bare: Body
    body: Body
    paint: Array = field(eq=False)
    finish: Array = field(eq=False)
    extras: tuple[Extra, ...] = ()
    _to_normals: sparse.csr_matrix = field(default=None, eq=False)

    def corners(self, posed: Posed) -> NDArray[np.float32]:
        """Corners of the dressed body in a pose of the bare one, rows as `Mesh.rows` has them."""
        dressed = Posed(self.body, posed.turns, posed.starts_m)
        parts = [_corners(dressed.vertices(), self.body.faces, self.paint, self.finish, self._to_normals)]
        for extra in self.extras:
            i = self.body.index(extra.bone)
            at = (extra.points_m - self.body.heads_m[i]) @ posed.turns[i].T + posed.starts_m[i]
            count = len(at)
            parts.append(
                _corners(at, extra.faces, np.tile(extra.colour, (count, 1)), np.tile([PLAIN, 0.08], (count, 1)),
                         _face_to_vertex(extra.faces, count))
            )  # fmt: skip
        return np.concatenate(parts)

    def triangles(self) -> NDArray[np.int32]:
        """Which of the corners make each triangle, (n, 3)."""
        parts, first = [self.body.faces], len(self.body.vertices_m)
        for extra in self.extras:
            parts.append(extra.faces + first)
            first += len(extra.points_m)
        return np.concatenate(parts).astype(np.int32)


def _face_to_vertex(faces: NDArray[np.int32], count: int) -> sparse.csr_matrix:
    rows = faces.ravel()
    columns = np.repeat(np.arange(len(faces)), 3)
    return sparse.csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(count, len(faces)))


def _corners(
    at: Array, faces: NDArray[np.int32], paint: Array, finish: Array, to_normals: sparse.csr_matrix
) -> NDArray[np.float32]:
    first = at[faces[:, 0]]
    (ax, ay, az), (bx, by, bz) = (at[faces[:, 1]] - first).T, (at[faces[:, 2]] - first).T
    edges = np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=1)
    normals = to_normals @ edges
    normals /= np.sqrt((normals**2).sum(axis=1, keepdims=True)) + 1e-12
    return np.concatenate([at, normals, paint, finish], axis=1, dtype=np.float32, casting="same_kind")


def _smoothed(at: Array, faces: NDArray[np.int32], chosen: NDArray[np.bool_], rounds: int) -> Array:
    """Laplacian smoothing of some vertices."""
    count = len(at)
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    links = sparse.csr_matrix((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(count, count))
    links = ((links + links.T) > 0).astype(float)
    links = sparse.diags(1.0 / np.asarray(links.sum(axis=1)).ravel().clip(1)) @ links
    out = at.copy()
    for _ in range(rounds):
        out[chosen] = 0.5 * out[chosen] + 0.5 * (links @ out)[chosen]
    return out


def _shoe(body: Body, side: str, colour: Colour) -> Extra:
    foot = body.follows(f"foot.{side}") + sum(body.follows(f"toe{k}-") for k in range(1, 6))
    same = body.vertices_m[:, 0] * (1 if side == "L" else -1) > 0
    low = body.vertices_m[:, 2] < float(body.head(f"foot.{side}")[2]) + 0.012
    points = body.vertices_m[(foot > 0.5) & same & low]
    middle = points.mean(axis=0)
    points = middle + (points - middle) * np.array([1.10, 1.05, 1.06])
    points[:, 2] = np.maximum(points[:, 2], 0.0)
    hull = ConvexHull(points)
    used, faces = np.unique(hull.simplices, return_inverse=True)
    corners = points[used]
    tri = faces.reshape(-1, 3).astype(np.int32)
    out = np.cross(corners[tri[:, 1]] - corners[tri[:, 0]], corners[tri[:, 2]] - corners[tri[:, 0]])
    inward = np.einsum("fi,fi->f", out, corners[tri].mean(axis=1) - corners.mean(axis=0)) < 0
    tri[inward] = tri[inward][:, ::-1]
    return Extra(f"foot.{side}", corners, tri, colour)


def _ball(centre: Array, radius_m: float, bone: str, colour: Colour) -> Extra:
    up, round_ = np.meshgrid(np.linspace(0, np.pi, 9), np.linspace(0, 2 * np.pi, 14), indexing="ij")
    points = np.stack([np.sin(up) * np.cos(round_), np.sin(up) * np.sin(round_), np.cos(up)], -1).reshape(-1, 3)
    faces = []
    for i in range(8):
        for j in range(13):
            a = i * 14 + j
            faces += [[a, a + 14, a + 15], [a, a + 15, a + 1]]
    return Extra(bone, centre + points * radius_m, np.array(faces, dtype=np.int32), colour)


def dress(body: Body, outfit: Outfit) -> Figure:
    """Put `outfit` on `body`. Places are shares of the body's own lengths, so any stature can be dressed."""
    v = body.vertices_m
    z, y, x = v[:, 2], v[:, 1], v[:, 0]
    hip, knee = float(body.head("upperleg01.L")[2]), float(body.head("lowerleg01.L")[2])
    ankle, neck = float(body.head("foot.L")[2]), float(body.head("neck01")[2])
    waist = float(body.head("spine04")[2])
    trunk = body.follows("root", "pelvis", "spine", "clavicle", "shoulder01", "breast")
    upper_arm = body.follows("upperarm")
    legs = body.follows("root", "pelvis", "upperleg", "lowerleg", "spine05", "spine04")
    arm_share = np.zeros(len(v))
    for side in SIDES:
        start, end = body.head(f"upperarm01.{side}"), body.head(f"lowerarm01.{side}")
        line = end - start
        share = (v - start) @ line / float(line @ line)
        near = body.follows(f"upperarm01.{side}", f"upperarm02.{side}") > 0.3
        arm_share = np.where(near, share, arm_share)
    shirt = ((trunk > 0.5) | ((upper_arm > 0.3) & (arm_share < 0.55))) & (z > waist - 0.01) & (z < neck + 0.02)
    shirt &= body.follows("neck", "head") < 0.5
    hem = ankle + 0.03 if outfit.long_legs else knee + 0.30 * (hip - knee)
    below = (legs > 0.6) & (z > hem) & (z <= waist + 0.005) & ~shirt & (body.follows("upperarm", "lowerarm") < 0.2)
    head = body.follows("head", "neck03", "eye", "jaw") > 0.5
    eye = body.heads_m[body.index("eye.L")]
    front = float(y[head].min())
    back = float(y[head].max())
    hairline = eye[2] + 0.068 - np.clip((y - front) / (back - front), 0, 1) ** 0.8 * 0.135
    hair = head & (z > hairline) & (np.abs(x) < 1.0)

    paint = np.tile(np.asarray(outfit.skin), (len(v), 1))
    paint[shirt], paint[below] = outfit.shirt, outfit.legs
    if not outfit.long_legs:
        sock = (body.follows("lowerleg", "foot") > 0.5) & (z < ankle + 0.06)
        paint[sock] = outfit.socks
    if outfit.belt is not None:
        paint[(trunk > 0.5) & (np.abs(z - waist - 0.035) < 0.05) & (upper_arm < 0.2)] = outfit.belt
    paint[hair] = outfit.hair
    finish = np.tile([PLAIN, 0.06], (len(v), 1))
    finish[shirt | below] = [PLAIN, 0.02]
    finish[hair] = [PLAIN, 0.10]
    _face(body, paint, head & ~hair, eye, outfit)

    drawn = v.copy()
    cloth = shirt | below
    drawn = _smoothed(drawn, body.faces, cloth, 6)
    drawn = _smoothed(drawn, body.faces, shirt & (y < -0.02), 70)
    drawn = _smoothed(drawn, body.faces, hair, 4)
    to_normals = _face_to_vertex(body.faces, len(v))
    tri = body.faces
    normals = to_normals @ np.cross(drawn[tri[:, 1]] - drawn[tri[:, 0]], drawn[tri[:, 2]] - drawn[tri[:, 0]])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True) + 1e-12
    stand_off = np.zeros(len(v))
    stand_off[cloth] = 0.006 if outfit.long_legs else 0.009
    stand_off[shirt] = 0.010
    stand_off[hair] = 0.012 * np.clip((z - hairline)[hair] / 0.03, 0.15, 1.0)
    drawn = drawn + normals * stand_off[:, None]
    extras = [_shoe(body, side, outfit.shoes) for side in SIDES]
    if outfit.bun:
        spot = v[hair & (y > back - 0.02)].mean(axis=0) + np.array([0.0, 0.035, 0.02])
        extras.append(_ball(spot, 0.042, "head", outfit.hair))
    return Figure(
        bare=body, body=evolve(body, vertices_m=drawn), paint=paint, finish=finish, extras=tuple(extras),
        to_normals=to_normals,
    )  # fmt: skip


def _face(body: Body, paint: Array, face: NDArray[np.bool_], eye: Array, outfit: Outfit) -> None:
    """Eyes, brows and lips: what a person detector looks for."""
    v = body.vertices_m
    dark = tuple(0.45 * c for c in outfit.hair)
    for side in SIDES:
        ball = body.follows(f"eye.{side}") > 0.5
        paint[ball] = (0.88, 0.87, 0.85)
        at = v[ball]
        if len(at):
            middle = at[np.argmin(at[:, 1])]
            paint[ball & (np.hypot(v[:, 0] - middle[0], v[:, 2] - middle[2]) < 0.0065)] = (0.10, 0.07, 0.05)
    for s in (1.0, -1.0):
        off = np.abs(v[:, 0] - s * abs(eye[0]))
        brow = face & (off < 0.018) & (np.abs(v[:, 2] - eye[2] - 0.021) < 0.003) & (v[:, 1] < eye[1])
        paint[brow] = dark
    tip = v[face][np.argmin(v[face][:, 1])]
    mouth = (
        face & (np.abs(v[:, 0]) < 0.024) & (np.abs(v[:, 2] - tip[2] + 0.036) < 0.009) & (v[:, 1] < eye[1] + 0.01)
    )
    paint[mouth] = np.asarray(outfit.skin) * np.array([0.85, 0.55, 0.55])

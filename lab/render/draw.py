"""Draw a scene with OpenGL through EGL (software Mesa is enough): one light with shadows, surfaces with grain."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Any

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from lab.render.camera import View
from lab.render.mesh import Mesh

Array = NDArray[np.float64]

_VERTEX = """
#version 330
uniform mat4 clip; uniform mat4 place; uniform mat4 shade;
in vec3 at; in vec3 facing; in vec3 paint; in vec2 finish;
out vec3 world; out vec3 normal; out vec3 colour; out float gloss; out vec4 lit_at;
void main() {
    vec4 w = place * vec4(at, 1.0);
    world = w.xyz; normal = mat3(place) * facing; colour = paint; gloss = finish.y;
    lit_at = shade * w; gl_Position = clip * w;
}
"""

_FRAGMENT = """
#version 330
#define SURFACE %d
uniform vec3 eye; uniform vec3 lamp; uniform float lamp_power; uniform float ambient; uniform vec3 tint;
uniform sampler2DShadow shadow; uniform sampler2D grain;
in vec3 world; in vec3 normal; in vec3 colour; in float gloss; in vec4 lit_at;
out vec4 picture;
float light_share() {
    vec3 p = lit_at.xyz / lit_at.w * 0.5 + vec3(0.5, 0.5, 0.4988);
    vec2 off = abs(p.xy - 0.5);
    float outside = max(step(0.498, max(off.x, off.y)), step(lit_at.w, 0.1));
    float e = 0.0009;
    return max(outside, 0.25 * (texture(shadow, p + vec3(e, e, 0.0)) + texture(shadow, p + vec3(-e, e, 0.0))
                 + texture(shadow, p + vec3(e, -e, 0.0)) + texture(shadow, p + vec3(-e, -e, 0.0))));
}
float chance(float n) { return fract(n * 0.61803 + fract(n * 0.137) * 7.31); }
void main() {
    vec3 n = normalize(normal);
    vec3 base = colour;
#if SURFACE > 0
    vec3 a = abs(n);
    vec2 uv = a.z > a.x && a.z > a.y ? world.xy : (a.x > a.y ? world.yz : world.xz);
#endif
#if SURFACE == 1
    base *= 0.86 + 0.28 * texture(grain, uv * 0.35).r;
#elif SURFACE == 2
    float plank = floor(uv.x / 0.14);
    float seam = abs(fract(uv.x / 0.14) - 0.5) < 0.485 ? 1.0 : 0.72;
    base *= (0.80 + 0.25 * chance(plank)) * seam;
    base *= 0.78 + 0.44 * texture(grain, vec2(uv.x * 1.9 + plank * 0.37, uv.y * 0.12)).r;
#elif SURFACE == 3
    float row = floor(uv.y / 0.085);
    vec2 brick = vec2(uv.x / 0.25 + 0.5 * mod(row, 2.0), uv.y / 0.085);
    vec2 f = abs(fract(brick) - 0.5);
    float joint = max(smoothstep(0.465, 0.48, f.x), smoothstep(0.42, 0.46, f.y));
    base *= (0.88 + 0.2 * chance(floor(brick.x) + 37.0 * row)) * (1.0 - 0.22 * joint);
    base *= 0.85 + 0.3 * texture(grain, uv * 0.6).r;
#elif SURFACE == 4
    float fleck = smoothstep(0.70, 0.74, texture(grain, uv * 1.7).r);
    base = mix(base * (0.88 + 0.24 * texture(grain, uv * 0.2).r), vec3(0.35, 0.36, 0.38), fleck * 0.35);
#endif
    vec3 to = lamp - world;
    float far2 = dot(to, to);
    vec3 to_lamp = to * inversesqrt(far2);
    float share = light_share();
    float facing = max(dot(n, to_lamp), 0.0);
    float side = 0.22 * max(dot(n, vec3(-0.784, -0.560, 0.280)), 0.0)
               + 0.22 * max(dot(n, vec3(0.912, 0.342, 0.228)), 0.0);
    float fall = 9.0 / (6.0 + far2 * 0.35);
    vec3 light = vec3(ambient * (0.62 + 0.38 * n.z) + side) + tint * (lamp_power * facing * share * fall);
    float glint = max(dot(n, normalize(to_lamp + normalize(eye - world))), 0.0);
    glint *= glint; glint *= glint; glint *= glint;
    float tight = glint * glint; tight *= tight;
    vec3 c = base * light + vec3(gloss * (0.15 + 0.85 * share) * 0.55 * mix(glint, tight, gloss));
    picture = vec4(sqrt(c / (1.0 + 0.18 * c)), 1.0);
}
"""
SURFACES = 5
SAMPLES = 4

_SHADE_VERTEX = """
#version 330
uniform mat4 clip; uniform mat4 place;
in vec3 at;
void main() { gl_Position = clip * place * vec4(at, 1.0); }
"""
_SHADE_FRAGMENT = "#version 330\nvoid main() {}\n"


@frozen
class Light:
    """One lamp under the ceiling and the light from all around."""

    lamp_m: tuple[float, float, float] = (1.6, -1.8, 3.4)
    power: float = 0.95
    ambient: float = 0.42
    tint: tuple[float, float, float] = (1.0, 0.97, 0.92)
    aim_m: tuple[float, float, float] = (0.0, 0.0, 0.5)


def grain(rng: np.random.Generator, size: int = 512) -> NDArray[np.uint8]:
    """Draw noise that tiles, with coarse and fine parts, (size, size) uint8."""
    hz = np.hypot(*np.meshgrid(np.fft.fftfreq(size), np.fft.fftfreq(size)))
    hz[0, 0] = 1.0
    wave = np.fft.fft2(rng.normal(size=(size, size))) * hz**-0.75
    wave[0, 0] = 0.0
    field = np.real(np.fft.ifft2(wave))
    return np.asarray(np.clip(127.5 + 50.0 * field / field.std(), 0, 255), dtype=np.uint8)


@frozen
class _Thing:
    """One surface's triangles of a thing on the stage."""

    kind: int
    rows: int
    closed: bool
    buffer: Any
    chosen: NDArray[np.bool_] | None
    shown: Any
    depth: Any


class Stage:
    """An OpenGL context with things on it, each drawn where it is told to stand.

    Software OpenGL runs every line of a fragment program for every pixel, so each surface has a program of its
    own, and depth is drawn first so that no hidden pixel is coloured.
    """

    def __init__(self, width_px: int, height_px: int, *, seed: int = 1, finer: float = 1.0) -> None:
        import moderngl

        # Where a machine has several graphics cards, a run may be told which to draw on.
        card = os.environ.get("LAB_EGL_DEVICE")
        chosen = {} if card is None else {"device_index": int(card)}
        self._gl = moderngl.create_context(standalone=True, backend="egl", **chosen)
        gl = self._gl
        self._out = (width_px, height_px)
        self._size = (round(width_px * finer), round(height_px * finer))
        self._programs = [
            gl.program(vertex_shader=_VERTEX, fragment_shader=_FRAGMENT % kind) for kind in range(SURFACES)
        ]
        self._shade = gl.program(vertex_shader=_SHADE_VERTEX, fragment_shader=_SHADE_FRAGMENT)
        # A graphics card smooths edges at little cost; software pays for every sample.
        several = 0 if "llvmpipe" in gl.info["GL_RENDERER"] else SAMPLES
        self._frame = gl.framebuffer(
            [gl.renderbuffer(self._size, 4, samples=several)], gl.depth_renderbuffer(self._size, samples=several)
        )
        self._whole = gl.framebuffer([gl.renderbuffer(self._size, 4)]) if several else self._frame
        self._raw = np.empty((self._size[1], self._size[0], 4), np.uint8)
        self._dark = gl.depth_texture((1536, 1536))
        self._dark.compare_func = "<="
        self._dark.repeat_x = self._dark.repeat_y = False
        self._dark_frame = gl.framebuffer(depth_attachment=self._dark)
        noise = grain(np.random.default_rng(seed))
        self._grain = gl.texture(noise.shape, 1, noise.tobytes())
        self._grain.build_mipmaps()
        self._things: dict[str, list[_Thing]] = {}

    def put(
        self, name: str, rows: NDArray[np.float32] | Mesh, *, closed: bool = False,
        triangles: NDArray[np.int32] | None = None,
    ) -> None:  # fmt: skip
        """Put a thing on the stage, or change the shape of one that has as many corners as before.

        Three rows are a triangle, or `triangles` says which rows make one (then all is of the plain surface).
        `closed` things have no face to be seen from behind (triangles run anticlockwise from outside).
        """
        data = rows.rows() if isinstance(rows, Mesh) else rows
        now = self._things.get(name)
        if now is not None and sum(t.rows for t in now) == len(data):
            for thing in now:
                thing.buffer.write(data if thing.chosen is None else data[thing.chosen])
            return
        self._things[name] = []
        surface = np.zeros(len(data), int)
        if triangles is None:
            surface = np.repeat(np.round(data[::3, 9]).astype(int), 3)
        for kind in range(SURFACES):
            chosen = surface == kind
            if not chosen.any():
                continue
            buffer = self._gl.buffer(data[chosen].tobytes())
            index = None if triangles is None else self._gl.buffer(triangles.tobytes())
            shown = self._gl.vertex_array(
                self._programs[kind], [(buffer, "3f 3f 3f 2f", "at", "facing", "paint", "finish")], index
            )
            depth = self._gl.vertex_array(self._shade, [(buffer, "3f 8x4", "at")], index)
            whole = None if chosen.all() else chosen
            self._things[name].append(_Thing(kind, int(chosen.sum()), closed, buffer, whole, shown, depth))

    def has(self, name: str) -> bool:
        """Whether a thing of that name stands there already."""
        return name in self._things

    def _depth(self, clip: Array, places: Mapping[str, Array]) -> None:
        self._shade["clip"].write(clip.T.astype("f4").tobytes())
        for name, things in self._things.items():
            self._shade["place"].write(places.get(name, np.eye(4)).T.astype("f4").tobytes())
            for thing in things:
                self._cull(thing)
                thing.depth.render()

    def _cull(self, thing: _Thing) -> None:
        (self._gl.enable if thing.closed else self._gl.disable)(self._gl.CULL_FACE)

    def picture(self, view: View, light: Light, places: Mapping[str, Array] | None = None) -> NDArray[np.uint8]:
        """Draw everything; `places` holds a (4, 4) matrix for things that move. RGB uint8, upright."""
        gl = self._gl
        at = places or {}
        shade, clip = _lamp_matrix(light), view.clip_matrix()
        gl.enable(gl.DEPTH_TEST)
        # The picture is drawn with its first row on top, which turns the sense of triangles round.
        gl.front_face = "ccw"
        gl.depth_func = "<"
        self._dark_frame.use()
        self._dark_frame.clear(depth=1.0)
        self._depth(shade, at)
        gl.front_face = "ccw"
        self._frame.use()
        self._frame.clear(0.75, 0.76, 0.78, depth=1.0)
        self._frame.color_mask = (False, False, False, False)
        self._depth(clip, at)
        self._frame.color_mask = (True, True, True, True)
        gl.depth_func = "<="
        self._dark.use(0)
        self._grain.use(1)
        for p in self._programs:
            values = {
                "eye": tuple(float(v) for v in view.place_m), "lamp": light.lamp_m, "lamp_power": light.power,
                "ambient": light.ambient, "tint": light.tint, "shadow": 0, "grain": 1,
            }  # fmt: skip
            for key, value in values.items():
                if key in p:
                    p[key].value = value
            p["clip"].write(clip.T.astype("f4").tobytes())
            p["shade"].write(shade.T.astype("f4").tobytes())
        for name, things in self._things.items():
            for thing in things:
                self._cull(thing)
                place = at.get(name, np.eye(4)).T.astype("f4").tobytes()
                self._programs[thing.kind]["place"].write(place)
                thing.shown.render()
        # Four components come back as they lie in the card's memory; three are put together by the processor.
        if self._whole is not self._frame:
            gl.copy_framebuffer(self._whole, self._frame)
        self._whole.read_into(self._raw, components=4, alignment=1)
        drawn = cv2.flip(cv2.cvtColor(self._raw, cv2.COLOR_RGBA2RGB), 0)
        if self._size == self._out:
            return np.asarray(drawn, dtype=np.uint8)
        return np.asarray(cv2.resize(drawn, self._out, interpolation=cv2.INTER_AREA), dtype=np.uint8)

    def close(self) -> None:
        self._gl.release()


def _lamp_matrix(light: Light) -> Array:
    """World to the lamp's clip space: a square cone around the place it aims at."""
    at, to = np.array(light.lamp_m), np.array(light.aim_m)
    ahead = (to - at) / np.linalg.norm(to - at)
    right = np.cross(ahead, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    up = np.cross(right, ahead)
    turn = np.eye(4)
    turn[:3, :3] = np.stack([right, up, ahead])
    turn[:3, 3] = -turn[:3, :3] @ at
    lens = np.zeros((4, 4))
    near, far, wide = 0.8, 16.0, 1.15
    lens[0, 0] = lens[1, 1] = wide
    lens[2, 2], lens[2, 3] = (far + near) / (far - near), -2.0 * far * near / (far - near)
    lens[3, 2] = 1.0
    return lens @ turn

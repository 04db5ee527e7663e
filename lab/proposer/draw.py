# ruff: noqa: E501, RUF059 - the text is part of the recipe's fingerprint: no change without training again
"""Paint composed scenes over photographs on the GPU, and make the training targets that go with the picture."""

from __future__ import annotations

import math
from typing import NamedTuple

import torch
import torch.nn.functional as F

from . import scene
from .scene import AT, FRONT, MOVING, SPRITE_SLOTS, STATIC, TABLE

STRIDE = 4
GREY = 0.5
PHOTO, PASTED, VOID = -3.0, -2.0, -1.0
"""What is on top where no drawn group is; drawn things that are no disc are group 0."""


class Canvas(NamedTuple):
    """Colour premultiplied by cover (B, S, S, 3), cover (B, S, S), and which group is on top (B, S, S)."""

    rgb: torch.Tensor
    cover: torch.Tensor
    top: torch.Tensor


def _swept(p: torch.Tensor, size: int) -> tuple[torch.Tensor, ...]:
    """Normalised coordinates of every pixel: on the face (u, v) and from the nearest point of the sweep (du, dv)."""
    at = torch.arange(size, device=p.device, dtype=torch.float32)
    y, x = at[None, :, None], at[None, None, :]

    def get(name: str) -> torch.Tensor:
        return p[:, AT[name], None, None]

    dx, dy = x - get("cx"), y - get("cy")
    c, s = torch.cos(get("axis")), torch.sin(get("axis"))
    v, u = (dx * c + dy * s) / get("b"), (dy * c - dx * s) / get("a")
    ov, ou = get("om") / get("b"), get("on") / get("a")
    along = ((u * ou + v * ov) / (ou * ou + ov * ov + 1e-9)).clamp(0, 1)
    return u, v, u - along * ou, v - along * ov


def _cover(u: torch.Tensor, v: torch.Tensor, p: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    q = torch.sqrt(u * u + v * v + 1e-8)
    slope = torch.sqrt((u / p[:, AT["a"], None, None]) ** 2 + (v / p[:, AT["b"], None, None]) ** 2 + 1e-12) / q
    return (0.5 + (1 - q) / slope / p[:, AT["soft"], None, None]).clamp(0, 1), q


def paint(
    rgb: torch.Tensor, cover: torch.Tensor, top: torch.Tensor, p: torch.Tensor, table: torch.Tensor,
    photo: torch.Tensor, letters: torch.Tensor, around: torch.Tensor,
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:  # fmt: skip
    """Paint one layer of every sample over the canvas.

    `p` (B, fields), `table` (B, TABLE, 4), `photo` (B, S, S, 3) another photograph as texture, `letters`
    (n, 24, 384), `around` (B, 3) the background's colour near the layer.
    """
    n, size = rgb.shape[0], rgb.shape[1]

    def get(name: str) -> torch.Tensor:
        return p[:, AT[name], None, None]

    def three(name: str) -> torch.Tensor:
        i = AT[name]
        return p[:, None, None, i : i + 3]

    u, v, du, dv = _swept(p, size)
    alpha, _ = _cover(du, dv, p)
    front, q = _cover(u, v, p)
    front = front * get("face")
    angle = torch.atan2(v, u)
    turned = torch.remainder((angle + get("rot")) / (2 * math.pi), 1.0)

    at = q.clamp(0, 0.999) * (TABLE - 1)
    i0 = at.long().clamp(0, TABLE - 2)
    flat = table.reshape(n * TABLE, 4)
    base = torch.arange(n, device=p.device)[:, None, None] * TABLE + i0
    w = (at - i0)[..., None]
    ring = flat[base] * (1 - w) + flat[base + 1] * w
    face = ring[..., :3] + (ring[..., 3] * torch.cos(angle - get("light")))[..., None]

    r0, r1 = get("text_r0"), get("text_r1")
    row = ((r1 - q) / (r1 - r0 + 1e-4) * 23).long().clamp(0, 23)
    col = (turned * 384).long().clamp(0, 383)
    which = p[:, AT["text"]].long()[:, None, None]
    ink = letters.reshape(-1)[(which * 24 + row) * 384 + col] * ((q > r0) & (q < r1)) * get("text_gain")
    face = face * (1 - ink[..., None]) + three("text_red") * ink[..., None]

    around_disc = torch.remainder(turned * get("holes"), 1.0) - 0.5
    hole = ((q - get("hole_r")) / (get("hole_w") + 1e-4)) ** 2 + (around_disc / (0.5 * get("hole_arc") + 1e-4)) ** 2
    hole = ((1 - hole) * 4).clamp(0, 1) * (get("holes") > 0)
    face = face * (1 - hole * get("hole_dark"))[..., None]
    alpha = alpha * (1 - hole * get("hole_through") * front * (alpha > 0))

    camo = p[:, None, None, AT["camo"], None]
    face = (1 - camo) * face + camo * (around[:, None, None] + 0.4 * (face - three("mean_r")))
    shade = 1 + get("grad") * (torch.cos(get("light")) * u + torch.sin(get("light")) * v)
    shade = shade + get("aniso") * torch.cos(2 * (angle - get("aniso_at"))) ** 3
    face = face * shade[..., None]

    wall = three("wall_r") * (1 + get("wall_x") * du + get("wall_y") * dv)[..., None]
    wall = (1 - camo) * wall + camo * (around[:, None, None] + 0.4 * (wall - three("mean_r")))
    colour = wall * (1 - front[..., None]) + face * front[..., None]
    grain = p[:, None, None, AT["grain"], None]
    colour = colour * (1 + grain * (photo - 0.5) * 2)
    textured = p[:, None, None, AT["photo"], None]
    colour = (colour * (1 - textured) + photo * textured).clamp(0, 1.2)

    rgb = rgb * (1 - alpha[..., None]) + colour * alpha[..., None]
    cover = cover * (1 - alpha) + alpha
    top = torch.where(alpha > 0.5, p[:, AT["group"], None, None], top)
    return rgb, cover, top


class Ground(NamedTuple):
    """Photographs to draw on, with what is known to be on them (pixels of the photograph).

    `pictures` (n, 4, h, w) bytes: red, green, blue, not judged; `plates` (n, k, 5) x, y, major half-axis, aspect, 1
    where the row is filled; `looks` (n, m, 2) places worth looking at (plates and false finds); `counts` (n,) how
    many; `weights` (n,) how often each is taken.
    """

    pictures: torch.Tensor
    plates: torch.Tensor
    looks: torch.Tensor
    counts: torch.Tensor
    weights: torch.Tensor

    def to(self, device: torch.device) -> Ground:
        return Ground(*(x.to(device) for x in self))


class Painter:
    """Holds photographs, lettering and pasted pictures on the device, and paints batches."""

    def __init__(self, ground: Ground, letters: torch.Tensor, sprites: torch.Tensor, *, fuse: bool) -> None:
        self.ground = ground
        self.letters = letters
        self.sprites = sprites
        self.paint = torch.compile(paint) if fuse else paint

    def crops(
        self, n: int, generator: torch.Generator, *, textures: bool = False
    ) -> tuple[torch.Tensor, torch.Tensor]:
        """Cut `n` random, flipped, scaled pieces (n, 4, S, S) in 0..1 out of the photographs.

        Second are the real plates on them as target rows (n, k, 9).
        """
        size, device = scene.SIZE, self.ground.pictures.device
        h, w = self.ground.pictures.shape[2:]
        which = torch.multinomial(self.ground.weights, n, replacement=True, generator=generator)
        u = torch.rand(n, 10, generator=generator, device=device)
        span_y = h * torch.exp(math.log(0.42) + u[:, 0] * math.log((1.0 if textures else 1.45) / 0.42))
        span_x = span_y * torch.exp((u[:, 1] - 0.5) * 0.3)
        flip = torch.where(u[:, 4] < 0.5, -1.0, 1.0)
        turn = (u[:, 5] - 0.5) * 0.25
        c, s = torch.cos(turn), torch.sin(turn)
        # pixels of the photograph for one pixel of the sample, (n, 2, 2)
        step = torch.stack([torch.stack([flip * c * span_x, -s * span_x], 1),
                            torch.stack([flip * s * span_y, c * span_y], 1)], 1) / size  # fmt: skip
        cx = span_x / 2 + u[:, 2] * (w - span_x).clamp(min=0)
        cy = span_y / 2 + u[:, 3] * (h - span_y).clamp(min=0)
        middle = torch.stack([cx, cy], 1)
        count = self.ground.counts[which]
        look = self.ground.looks[which, (u[:, 6] * count).long().clamp(max=self.ground.looks.shape[1] - 1)] + 0.5
        off = (u[:, 7:9] - 0.5) * 0.75 * size
        aimed = look - (step @ off[:, :, None])[:, :, 0]
        aimed = aimed.clamp(min=0).minimum(torch.tensor([w, h], device=device, dtype=aimed.dtype))
        middle = torch.where(((count > 0) & (u[:, 9] < 0.75))[:, None], aimed, middle)
        half = torch.tensor([2 / w, 2 / h], device=device)
        theta = torch.cat([step * size / 2 * half[:, None], (middle * half - 1)[:, :, None]], 2)
        grid = F.affine_grid(theta, [n, 3, size, size], align_corners=False)
        pictures = self.ground.pictures[which].float() / 255
        cut = F.grid_sample(pictures, grid, padding_mode="reflection", align_corners=False)
        known = self.ground.plates[which]
        (p, q), (r, s) = step.permute(1, 2, 0)
        back = torch.stack([torch.stack([s, -q], 1), torch.stack([-r, p], 1)], 1) / (p * s - q * r)[:, None, None]
        at = torch.einsum("nij,nkj->nki", back, known[:, :, :2] + 0.5 - middle[:, None]) + size / 2 - 0.5
        a, b = known[:, :, 2], known[:, :, 2] * known[:, :, 3]
        # the ellipse (minor axis level) through the same map: half-axes and direction of `spread`'s eigenvectors
        m = back[:, None] * torch.stack([b, a], 2)[:, :, None]
        spread = m @ m.transpose(2, 3)
        p, q, r = spread[..., 0, 0], spread[..., 0, 1], spread[..., 1, 1]
        mean, gap = (p + r) / 2, torch.sqrt(((p - r) / 2) ** 2 + q * q + 1e-9)
        major, minor = torch.sqrt(mean + gap), torch.sqrt((mean - gap).clamp(min=1e-4))
        axis = 0.5 * torch.atan2(2 * q, p - r) + math.pi / 2
        none = torch.zeros_like(major)
        aspect, near = minor / major, none + scene.UNKNOWN
        rows = [at[..., 0], at[..., 1], major, aspect, axis, none, none + PHOTO, near, known[:, :, 4]]
        return cut, torch.stack(rows, 2)

    def _pasted(self, rows: torch.Tensor) -> torch.Tensor:
        """Give the pasted pictures (B, 4, S, S) premultiplied; rows (B, 6) as in scene.sprites."""
        size = scene.SIZE
        which, x, y, half, turn, weight = rows.unbind(1)
        c, s = torch.cos(turn) * size / 2 / half, torch.sin(turn) * size / 2 / half
        ox, oy = (x + 0.5) / size * 2 - 1, (y + 0.5) / size * 2 - 1
        theta = torch.stack([torch.stack([c, s, -(c * ox + s * oy)], 1),
                             torch.stack([-s, c, -(-s * ox + c * oy)], 1)], 1)  # fmt: skip
        grid = F.affine_grid(theta, [len(rows), 4, size, size], align_corners=False)
        got = F.grid_sample(self.sprites[which.long()], grid, padding_mode="zeros", align_corners=False)
        return got * weight[:, None, None, None]

    def __call__(
        self, scenes: dict[str, torch.Tensor], generator: torch.Generator
    ) -> tuple[torch.Tensor, dict[str, torch.Tensor]]:
        """Paint a batch: pictures (B, 3, S, S) in 0..1 and the targets of the network."""
        layers, pasted = scenes["layers"], scenes["sprites"]
        n, size, device = len(layers), scene.SIZE, layers.device
        ground, real = self.crops(n, generator)
        unjudged, ground = ground[:, 3], ground[:, :3]
        texture = self.crops(n, generator, textures=True)[0][:, :3].permute(0, 2, 3, 1).contiguous()
        coarse = F.avg_pool2d(ground, 32)
        cell = (layers[:, :, :2] / 32).long().clamp(0, coarse.shape[-1] - 1)
        near = coarse.permute(0, 2, 3, 1)[torch.arange(n, device=device)[:, None], cell[..., 1], cell[..., 0]]

        near = near.transpose(0, 1).contiguous()
        rows = layers.transpose(0, 1).contiguous()
        tables = scenes["tables"].float().transpose(0, 1).contiguous()
        rgb = ground.permute(0, 2, 3, 1).contiguous()
        ones = torch.ones(n, size, size, device=device)
        canvas = Canvas(rgb, ones, torch.full_like(ones, PHOTO))

        def run(canvas: Canvas, first: int, count: int) -> Canvas:
            for i in range(first, first + count):
                args = rows[i], tables[i], texture, self.letters, near[i]
                canvas = Canvas(*self.paint(*canvas, *args))
            return canvas

        def paste(canvas: Canvas, rows: torch.Tensor) -> Canvas:
            got = self._pasted(rows)
            clear = 1 - got[:, 3]
            rgb = canvas.rgb * clear[..., None] + got[:, :3].permute(0, 2, 3, 1)
            return Canvas(rgb, canvas.cover, torch.where(got[:, 3] > 0.5, PASTED, canvas.top))

        for k in range(SPRITE_SLOTS - 1):
            canvas = paste(canvas, pasted[:, k])
        canvas = run(canvas, 0, STATIC)
        bar = run(Canvas(torch.zeros_like(rgb), torch.zeros_like(ones), canvas.top), STATIC, MOVING)
        moved = streak(torch.cat([bar.rgb.permute(0, 3, 1, 2), bar.cover[:, None]], 1), generator)
        still = canvas.rgb.permute(0, 3, 1, 2) * (1 - moved[:, 3:]) + moved[:, :3]
        canvas = Canvas(still.permute(0, 2, 3, 1).contiguous(), ones, bar.top)
        canvas = run(canvas, STATIC + MOVING, FRONT)
        canvas = paste(canvas, pasted[:, -1])
        picture = finish(canvas.rgb.permute(0, 3, 1, 2), generator)
        line = torch.arange(size, device=device)
        cut = size - _uniform(n, generator, -120, 40).clamp(min=0)[:, 0].long()  # padding, as at run time
        void = (line[None, :, None] >= cut) | (line[None, None, :] >= cut.roll(1, 0))
        goal = targets(torch.cat([scenes["targets"], real], 1), torch.where(void, VOID, canvas.top))
        unjudged = torch.where(canvas.top == PHOTO, unjudged, torch.zeros_like(unjudged))  # what is drawn is known
        quiet = (F.avg_pool2d(unjudged[:, None], STRIDE)[:, 0] > 0.4) & (goal["heat"] < 0.02)
        goal["judge"] = torch.where(quiet, 0.0, goal["judge"])
        return torch.where(void[:, None], torch.full_like(picture, GREY), picture), goal


def _uniform(n: int, generator: torch.Generator, lo: float, hi: float) -> torch.Tensor:
    return lo + (hi - lo) * torch.rand(n, 1, 1, 1, generator=generator, device=generator.device)


def streak(rgba: torch.Tensor, generator: torch.Generator) -> torch.Tensor:
    """Blur what moves along its motion: mostly vertical, up to 24 px, in 40 % of the samples."""
    n, c, size, _ = rgba.shape
    length = _uniform(n, generator, 0.0, 24.0) * (_uniform(n, generator, 0, 1) < 0.4)
    reach = 13
    at = torch.arange(-reach, reach + 1, device=rgba.device)[None, None, :, None].float()
    kernel = (length / 2 + 0.5 - at.abs()).clamp(0, 1)
    kernel = (kernel / kernel.sum(2, keepdim=True)).expand(n, c, -1, 1).reshape(n * c, 1, -1, 1)
    return F.conv2d(rgba.reshape(1, n * c, size, size), kernel, padding=(reach, 0), groups=n * c).reshape(rgba.shape)


_LUMA = ((16, 11, 10, 16, 24, 40, 51, 61), (12, 12, 14, 19, 26, 58, 60, 55), (14, 13, 16, 24, 40, 57, 69, 56),
         (14, 17, 22, 29, 51, 87, 80, 62), (18, 22, 37, 56, 68, 109, 103, 77), (24, 35, 55, 64, 81, 104, 113, 92),
         (49, 64, 78, 87, 103, 121, 120, 101), (72, 92, 95, 98, 112, 100, 103, 99))  # fmt: skip


def blocks(picture: torch.Tensor, strength: torch.Tensor) -> torch.Tensor:
    """Quantise 8x8 cosine blocks (ITU-T T.81 annex K luminance table times `strength`), colour at half size."""
    n, _, size, _ = picture.shape
    r, g, b = picture.unbind(1)
    y = 0.299 * r + 0.587 * g + 0.114 * b
    chroma = F.avg_pool2d(torch.stack([b - y, r - y], 1), 2)
    k = torch.arange(8, device=picture.device).float()
    dct = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * 0.5
    dct[0] *= math.sqrt(0.5)
    table = torch.tensor(_LUMA, device=picture.device).float() / 255

    def quantised(planes: torch.Tensor, more: float) -> torch.Tensor:
        h, w = planes.shape[-2:]
        cut = planes.reshape(*planes.shape[:-2], h // 8, 8, w // 8, 8).transpose(-3, -2)
        step = (table * more) * strength.reshape(n, *([1] * (cut.dim() - 1))) + 1e-3
        back = dct.T @ (torch.round(dct @ cut @ dct.T / step) * step) @ dct
        return back.transpose(-3, -2).reshape(planes.shape)

    y2 = quantised(y, 1.0)
    c2 = F.interpolate(quantised(chroma, 1.6), scale_factor=2, mode="bilinear", align_corners=False)
    b2, r2 = y2 + c2[:, 0], y2 + c2[:, 1]
    return torch.stack([r2, (y2 - 0.299 * r2 - 0.114 * b2) / 0.587, b2], 1)


def finish(picture: torch.Tensor, generator: torch.Generator) -> torch.Tensor:
    """Do what cameras and codecs do: softness, light, colour, noise, compression."""
    n, _, size, _ = picture.shape
    device = picture.device

    def u(lo: float, hi: float) -> torch.Tensor:
        return _uniform(n, generator, lo, hi)

    picture = picture.clamp(0, 1)
    half = F.interpolate(F.avg_pool2d(picture, 2), scale_factor=2, mode="bilinear", align_corners=False)
    third = F.interpolate(F.avg_pool2d(picture, 3), scale_factor=3, mode="bilinear", align_corners=False)
    soft = u(0, 1)
    mixed = torch.where(soft < 0.3, half, torch.where(soft < 0.4, third, picture))
    picture = torch.lerp(picture, mixed, u(0.4, 1))
    picture = picture ** torch.exp(u(-0.7, 0.4))
    gain = torch.where(u(0, 1) < 0.25, u(0.15, 0.7), u(0.8, 1.25))
    tint = 1 + 0.08 * torch.randn(n, 3, 1, 1, generator=generator, device=device)
    grey = picture.mean(1, keepdim=True)
    picture = torch.lerp(grey, picture, torch.where(u(0, 1) < 0.1, torch.zeros_like(soft), u(0.3, 1.4)))
    picture = ((picture - 0.5) * u(0.6, 1.3) + 0.5 + u(-0.1, 0.1)) * gain * tint
    at = torch.linspace(-1, 1, size, device=device)
    corner = at[None, None, :, None] ** 2 + at[None, None, None, :] ** 2
    picture = picture * (1 - u(0, 0.3) * (u(0, 1) < 0.4) * corner)
    noise = torch.randn(picture.shape, generator=generator, device=device)
    blotch = torch.randn(n, 3, size // 4, size // 4, generator=generator, device=device)
    blotch = F.interpolate(blotch, scale_factor=4, mode="bilinear", align_corners=False)
    amount = u(0, 1) ** 3 * 0.09
    picture = (picture + noise * amount + blotch * amount * u(0, 0.5)).clamp(0, 1)
    coded = blocks(picture, torch.exp(u(-1.2, 1.5)))
    small = blocks(F.avg_pool2d(picture, 2), torch.exp(u(-1.2, 0.8)))
    small = F.interpolate(small, scale_factor=2, mode="bilinear", align_corners=False)
    choice = u(0, 1)
    return torch.where(choice < 0.45, coded, torch.where(choice < 0.6, small, picture)).clamp(0, 1)


def targets(rows: torch.Tensor, top: torch.Tensor) -> dict[str, torch.Tensor]:
    """Make heat map, weight map and regression maps at STRIDE from target rows (B, T, 9) and the painted groups.

    A disc counts when more than 40 % of its outline's area is seen; between 12 and 40 % the map is not judged
    there. Maps are (B, S/4, S/4): heat, judge (0 = not judged), dx, dy (cells), log of the major half-axis / 32 px,
    aspect, sure (weight of the regression) and near (1 near end of its bar, 0 far, -1 not known).
    """
    size = top.shape[1]
    cells = size // STRIDE
    at = torch.arange(cells, device=rows.device).float() * STRIDE + (STRIDE - 1) / 2
    x, y, a, aspect, axis, off, group, near, live = (r[..., None, None] for r in rows.unbind(2))
    safe = a.clamp(min=1.0)
    b = safe * aspect.clamp(min=0.08)
    dx, dy = at - x, at[:, None] - y  # (B, T, 1, cells) and (B, T, cells, 1)
    c, s = torch.cos(axis), torch.sin(axis)
    m, t = dx * c + dy * s, dy * c - dx * s
    along = (m * off / (off * off + 1e-6)).clamp(0, 1)
    inside = (((m - along * off) / b) ** 2 + (t / safe) ** 2 <= 1) & (live > 0)
    area = math.pi * safe * b + 2 * safe * off.abs()
    mine = inside & (top[:, None, 1::STRIDE, 1::STRIDE] == group)
    seen = mine.sum((2, 3), keepdim=True) * float(STRIDE**2) / area
    edge = (x > -2) & (y > -2) & (x < size + 1) & (y < size + 1)
    clear = (safe * aspect + off.abs() / 2 >= 3.0) & (safe >= 12.0)  # smaller ones are not asked for
    good = (seen > 0.4) & edge & clear & (live > 0)
    maybe = (~good) & (seen > 0.12) & (live > 0)
    sigma = (0.09 * torch.sqrt(safe * b)).clamp(min=3.2)
    bump = torch.exp(-0.5 * (dx * dx + dy * dy) / sigma**2)
    nearest = ((dx.abs() <= STRIDE / 2) & (dy.abs() <= STRIDE / 2)).float()
    bump = torch.maximum(bump * 0.98, nearest) * good
    heat, which = bump.max(1)
    doubt = maybe & (((m / (0.7 * b + 3)) ** 2 + (t / (0.7 * safe)) ** 2) <= 1)
    judge = torch.where(doubt.any(1) & (heat < 1), 0.0, 1.0)
    values = torch.stack(
        [v.expand_as(bump) for v in (-dx / STRIDE, -dy / STRIDE, torch.log(safe / 32), aspect, near)], 1
    )  # (B, 5, T, cells, cells)
    maps = torch.gather(values, 2, which[:, None, None].expand(-1, 5, 1, -1, -1))[:, :, 0]
    maps = maps * (heat > 0)[:, None]
    return {"heat": heat, "judge": judge, "sure": (heat - 0.5).clamp(min=0) * 2, "maps": maps[:, :4],
            "near": maps[:, 4]}

"""The look: colours, type, and the few kinds of line that a picture may carry."""

from __future__ import annotations

from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
"""RGB, uint8 (height, width, 3)."""
Colour = tuple[int, int, int]

PAPER: Colour = (250, 248, 242)
INK: Colour = (36, 44, 54)
SOFT: Colour = (112, 118, 124)
SOFT_TEXT: Colour = (92, 100, 108)
"""Soft, but dark enough for small type on paper."""
CARD: Colour = (255, 254, 250)
GRID: Colour = (226, 221, 208)
GRID_STRONG: Colour = (201, 194, 176)
BAR: Colour = (23, 94, 141)
"""Deep blue: the bar and its path."""
EVIDENCE: Colour = (232, 159, 36)
"""Ochre: what is being pointed at. Against the blue it differs in lightness, so it survives colour blindness."""
PATH: Colour = (140, 196, 234)
"""The bar's path over a picture: the same blue, light enough for a dark room."""
BODY: Colour = (245, 240, 226)
HALO: Colour = (24, 28, 34)


def css(colour: Colour) -> str:
    """Give a colour for CSS and SVG."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def jpeg(picture: Picture, *, quality: int) -> bytes:
    """Encode a picture as JPEG; raises ValueError when it cannot be, which only lack of memory brings about."""
    good, data = cv2.imencode(
        ".jpg", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, quality]
    )
    if not good:
        raise ValueError("A picture could not be encoded; check the memory and try again.")
    return data.tobytes()


@cache
def _font() -> Any:
    return cv2.FontFace("sans")


def text(
    picture: Picture, words: str, at: tuple[float, float], size: float, colour: Colour = INK, weight: int = 400
) -> None:
    """Write `words` with their baseline starting at `at` (px)."""
    cv2.putText(picture, words, _point(at), colour, _font(), round(size), weight)


def text_width(words: str, size: float, weight: int = 400) -> int:
    """Give the width of `words` in px."""
    box = cv2.getTextSize((4000, 400), words, (0, 100), _font(), round(size), weight)
    return int(box[2])


def line(
    picture: Picture,
    a: tuple[float, float],
    b: tuple[float, float],
    colour: Colour,
    *,
    width: int = 1,
    halo: bool = False,
) -> None:
    """Draw a thin line; `halo` lays a dark one under it, so that it shows on any background."""
    if halo:
        cv2.line(picture, _fine(a), _fine(b), HALO, width + 2, cv2.LINE_AA, 4)
    cv2.line(picture, _fine(a), _fine(b), colour, width, cv2.LINE_AA, 4)


def dashes(
    picture: Picture, a: tuple[float, float], b: tuple[float, float], colour: Colour, *, dash_px: float = 7.0
) -> None:
    """Draw a dashed thin line with a halo."""
    start, end = np.array(a, float), np.array(b, float)
    length = float(np.hypot(*(end - start)))
    for k in range(int(length // (2 * dash_px)) + 1):
        p = start + (end - start) * min(1.0, 2 * k * dash_px / max(length, 1e-9))
        q = start + (end - start) * min(1.0, (2 * k + 1) * dash_px / max(length, 1e-9))
        line(picture, (p[0], p[1]), (q[0], q[1]), colour, halo=True)


def ring(
    picture: Picture,
    centre: tuple[float, float],
    axes: tuple[float, float],
    turn_deg: float,
    colour: Colour,
    *,
    broken: bool = False,
) -> None:
    """Draw a thin ellipse; `broken` for what was bridged and not seen."""
    box = (round(centre[0] * 16), round(centre[1] * 16)), (round(axes[0] * 16), round(axes[1] * 16))
    spans = [(a, a + 12) for a in range(0, 360, 30)] if broken else [(0, 360)]
    for start, end in spans:
        cv2.ellipse(picture, box[0], box[1], turn_deg, start, end, HALO, 3, cv2.LINE_AA, 4)
    for start, end in spans:
        cv2.ellipse(picture, box[0], box[1], turn_deg, start, end, colour, 1, cv2.LINE_AA, 4)


def cross(picture: Picture, at: tuple[float, float], arm_px: float, colour: Colour) -> None:
    """Draw a small upright cross."""
    x, y = at
    line(picture, (x - arm_px, y), (x + arm_px, y), colour, halo=True)
    line(picture, (x, y - arm_px), (x, y + arm_px), colour, halo=True)


def distance(picture: Picture, a: tuple[float, float], b: tuple[float, float], words: str, size: float) -> None:
    """Mark how far: a level line between two uprights, with its length in words above."""
    tick = 6.0
    line(picture, a, b, EVIDENCE, halo=True)
    for x, y in (a, b):
        line(picture, (x, y - tick), (x, y + tick), EVIDENCE, halo=True)
    label(picture, words, ((a[0] + b[0]) / 2, min(a[1], b[1]) - tick - 4), size)


def angle(picture: Picture, corner: tuple[float, float], end: tuple[float, float]) -> None:
    """Mark what angle: an arc from the vertical through `corner` to the line toward `end`."""
    dx, dy = end[0] - corner[0], end[1] - corner[1]
    reach = float(np.hypot(dx, dy))
    radius = max(14.0, 0.35 * reach)
    dashes(picture, corner, (corner[0], corner[1] - 0.6 * reach), BODY)
    lean = float(np.degrees(np.arctan2(dx, -dy)))
    first, last = sorted((-90.0, -90.0 + lean))
    centre = (round(corner[0] * 16), round(corner[1] * 16))
    axes = (round(radius * 16), round(radius * 16))
    cv2.ellipse(picture, centre, axes, 0, first, last, HALO, 3, cv2.LINE_AA, 4)
    cv2.ellipse(picture, centre, axes, 0, first, last, EVIDENCE, 1, cv2.LINE_AA, 4)


def label(picture: Picture, words: str, centre: tuple[float, float], size: float) -> None:
    """Write words on a slip of paper centred over a point, kept inside the picture."""
    width, pad = text_width(words, size, 500), 4
    height = int(size)
    x = int(np.clip(centre[0] - width / 2, pad, max(pad, picture.shape[1] - width - pad)))
    y = int(np.clip(centre[1], height + pad, picture.shape[0] - pad))
    slip = picture[max(0, y - height - pad) : y + pad, max(0, x - pad) : x + width + pad]
    slip[:] = (0.25 * slip + 0.75 * np.array(PAPER)).astype(np.uint8)
    text(picture, words, (x, y - 1), size, INK, 500)


def _point(at: tuple[float, float]) -> tuple[int, int]:
    return round(at[0]), round(at[1])


def _fine(at: tuple[float, float]) -> tuple[int, int]:
    """Give a point in sixteenths of a pixel, which is what cv2's `shift=4` takes."""
    return round(at[0] * 16), round(at[1] * 16)

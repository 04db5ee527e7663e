"""Pictures out of decoded frames: luma for tracking, R G B for the pose network, HDR brought down to both."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from midfoot.footage.container import Geometry

PQ, HLG = 16, 18
"""Transfer characteristics of ITU-T H.273: SMPTE ST 2084 (PQ) and ARIB STD-B67 (HLG)."""

EIGHT_BIT_LUMA = {"yuv420p", "yuvj420p", "yuv422p", "yuvj422p", "yuv444p", "yuvj444p", "nv12", "gray"}


def transfer_of(frame: Any) -> int:
    """Give the frame's transfer characteristic, 2 (unspecified) where it is not stated."""
    return int(getattr(frame, "color_trc", 2) or 2)


def is_hdr(frame: Any) -> bool:
    """Tell whether the frame's light is coded for a high dynamic range."""
    return transfer_of(frame) in (PQ, HLG)


def reduced(frame: Any, geometry: Geometry) -> Any:
    """Make a very large frame smaller, once and before anything else: it is held while consumers wait for it."""
    if geometry.reduced == 1.0:
        return frame
    width, height = geometry.reduced_size_px
    return frame.reformat(width=width, height=height, interpolation="AREA")


def luma_of(frame: Any, geometry: Geometry) -> NDArray[np.uint8]:
    """Give the upright luma picture of a `reduced` frame, uint8 (height, width)."""
    if frame.format.name in EIGHT_BIT_LUMA:
        plane = frame.planes[0]
        rows = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
        picture = rows[: frame.height, : frame.width]
    else:
        picture = frame.to_ndarray(format="gray")
    return upright(picture, geometry)


def rgb_of(frame: Any, geometry: Geometry) -> NDArray[np.uint8]:
    """Give the upright colour picture of a `reduced` frame, uint8 (height, width, 3), HDR to ordinary light."""
    if is_hdr(frame):
        picture = _curve(transfer_of(frame))[frame.to_ndarray(format="rgb48le") >> 4]
    else:
        # looked at where it lies: a copy, and helping threads for every frame, cost as much as the conversion
        plane = frame.reformat(format="rgb24", threads=1).planes[0]
        rows = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
        picture = rows[:, : 3 * frame.width].reshape(frame.height, frame.width, 3)
    return upright(picture, geometry)


def upright(picture: NDArray[np.uint8], geometry: Geometry) -> NDArray[np.uint8]:
    """Turn and flip a picture, or one plane of it, as `geometry` says; uint8 (height, width[, 3])."""
    if geometry.transposed:
        picture = np.asarray(cv2.transpose(picture), np.uint8)
    if geometry.flip_x or geometry.flip_y:
        code = -1 if geometry.flip_x and geometry.flip_y else int(geometry.flip_x)
        picture = np.asarray(cv2.flip(picture, code), np.uint8)
    return np.ascontiguousarray(picture)


_CURVES: dict[int, NDArray[np.uint8]] = {}


def _curve(transfer: int) -> NDArray[np.uint8]:
    """Give a 4096-entry table from coded HDR light to 8-bit display light.

    The inverse curves are those of ITU-R BT.2100 (PQ: SMPTE ST 2084, HLG: ARIB STD-B67), written from the
    formulas; reference white (203 cd/m2, ITU-R BT.2408) goes to 0.8 and highlights are rolled off.
    """
    if transfer not in _CURVES:
        code = np.linspace(0.0, 1.0, 4096)
        if transfer == PQ:
            m1, m2, c1, c2, c3 = 0.1593017578125, 78.84375, 0.8359375, 18.8515625, 18.6875
            power = code ** (1 / m2)
            nits = 10000.0 * (np.maximum(power - c1, 0) / (c2 - c3 * power)) ** (1 / m1)
        else:
            a, b, c = 0.17883277, 0.28466892, 0.55991073
            scene = np.where(code <= 0.5, code**2 / 3, (np.exp((code - c) / a) + b) / 12)
            nits = 1000.0 * scene**1.2
        light = nits / 203.0
        mapped = np.where(light < 0.7, light, 0.7 + 0.3 * (1 - np.exp(-(light - 0.7) / 0.9)))
        _CURVES[transfer] = np.clip(255 * np.clip(mapped, 0, 1) ** (1 / 2.2), 0, 255).astype(np.uint8)
    return _CURVES[transfer]

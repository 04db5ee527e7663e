"""Pictures into a file: the encoder, captions and mirroring, ten bits with hybrid log-gamma, the rotation flag."""

from __future__ import annotations

import struct
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from lab.render.phone import CLOCK, Phone, Picture

HLG = ":colorprim=bt2020:transfer=arib-std-b67:colormatrix=bt2020nc:range=limited"
WIDER = np.array([[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]], np.float32)
"""Linear colours of BT.709 in those of BT.2020 (ITU-R BT.2087)."""
WHITE = 0.265
"""Scene light of a white that HLG signals with 75 % (ITU-R BT.2408: reference white)."""


class Writer:
    """A file whose frames carry the timestamps they are given: H.264, HEVC, or HEVC of ten bits (HDR)."""

    def __init__(self, path: Path, width_px: int, height_px: int, phone: Phone, bits_per_s: int) -> None:
        import av

        self._phone, self._path = phone, path
        self._file = av.open(str(path), "w", options={"movflags": "+faststart"})
        library = {"h264": "libx264", "hevc": "libx265", "hevc_hdr": "libx265"}[phone.codec]
        self._stream = self._file.add_stream(library, rate=Fraction(phone.fps).limit_denominator(1001))
        turned = phone.stored_turned
        self._stream.width, self._stream.height = (height_px, width_px) if turned else (width_px, height_px)
        self._stream.pix_fmt = "yuv420p10le" if phone.codec == "hevc_hdr" else "yuv420p"
        self._stream.time_base = Fraction(1, CLOCK)
        self._stream.codec_context.time_base = Fraction(1, CLOCK)
        self._stream.bit_rate = bits_per_s
        if phone.codec == "h264":
            self._stream.options = {"preset": phone.preset, "x264-params": "keyint=150:threads=1"}
        else:
            self._stream.codec_context.codec_tag = "hvc1"
            told = "keyint=150:pools=1:log-level=none" + (HLG if phone.codec == "hevc_hdr" else "")
            self._stream.options = {"preset": phone.preset, "x265-params": told}
        self._height_px = height_px

    def add(self, picture: Picture, t_s: float) -> None:
        import av

        picture = picture[:, ::-1].copy() if self._phone.mirrored else picture
        if self._phone.caption:
            _write_over(picture, self._phone.caption)
        stored = cv2.rotate(picture, cv2.ROTATE_90_COUNTERCLOCKWISE) if self._phone.stored_turned else picture
        if self._phone.codec == "hevc_hdr":
            frame = av.VideoFrame.from_ndarray(hlg(np.ascontiguousarray(stored)), format="yuv420p10le")
        else:
            planes = cv2.cvtColor(np.ascontiguousarray(stored), cv2.COLOR_RGB2YUV_I420)
            frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
        frame.pts = round(t_s * self._phone.real_speed * CLOCK)
        frame.time_base = Fraction(1, CLOCK)
        for packet in self._stream.encode(frame):
            self._file.mux(packet)

    def close(self) -> None:
        for packet in self._stream.encode():
            self._file.mux(packet)
        self._file.close()
        if self._phone.stored_turned:
            flag_turn(self._path, self._height_px)


def hlg(picture: Picture) -> NDArray[np.uint16]:
    """Turn a picture (h, w, 3) of 8 bits into planes (3 h / 2, w) of 10 bits: BT.2020, hybrid log-gamma.

    Curve and luma after ITU-R BT.2100 (HLG) and BT.2020 (non-constant luminance, limited range).
    """
    light = (picture.astype(np.float32) / 255.0) ** 2.2 @ WIDER.T * WHITE
    low = np.sqrt(3.0 * np.minimum(light, 1 / 12))
    high = 0.17883277 * np.log(np.maximum(12.0 * light, 1.0) - 0.28466892) + 0.55991073
    signal = np.where(light <= 1 / 12, low, high)
    luma = signal @ np.array([0.2627, 0.6780, 0.0593], np.float32)
    blue, red = (signal[..., 2] - luma) / 1.8814, (signal[..., 0] - luma) / 1.4746
    height, width = luma.shape
    small = [cv2.resize(c, (width // 2, height // 2), interpolation=cv2.INTER_AREA).ravel() for c in (blue, red)]
    rows = [luma.ravel() * 876 + 64, *(c * 896 + 512 for c in small)]
    return np.round(np.concatenate(rows)).clip(0, 1023).astype(np.uint16).reshape(height * 3 // 2, width)


def _write_over(picture: Picture, words: str) -> None:
    """A caption burnt into the lower third, light on a dark edge."""
    high, wide = picture.shape[:2]
    size = wide / 640.0
    at = (round(0.06 * wide), round(0.78 * high))
    for colour, thick in (((20, 20, 20), 6), ((245, 240, 235), 2)):
        cv2.putText(picture, words, at, cv2.FONT_HERSHEY_DUPLEX, size, colour, round(thick * size), cv2.LINE_AA)


def flag_turn(path: Path, shown_width_px: int) -> None:
    """Set the track's display matrix to a quarter turn clockwise (ISO/IEC 14496-12, track header box).

    `shown_width_px` is the stored picture's height, by which the turned picture is moved back into view.
    """
    data = bytearray(path.read_bytes())
    at = data.find(b"tkhd")
    if at < 0:
        raise ValueError(f"{path.name}: expected a track header, found none")
    version = data[at + 4]
    matrix = at + 4 + (4 + 36 + 12 if version == 1 else 4 + 20 + 16)
    one = 0x00010000
    values = (0, one, 0, -one, 0, 0, shown_width_px << 16, 0, 0x40000000)
    data[matrix : matrix + 36] = struct.pack(">9i", *values)
    path.write_bytes(bytes(data))

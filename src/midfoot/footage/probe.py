"""What a clip is, before it is measured: size, clock, codec, what speaks against its clock."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np

from midfoot.footage.colour import is_hdr
from midfoot.footage.container import geometry_of, opened, seconds
from midfoot.footage.errors import FootageError
from midfoot.footage.frames import first_picture
from midfoot.records.base import FloatArray
from midfoot.records.clip import ClipInfo, Reading

MIN_DURATION_S = 1.0
MAX_DURATION_S = 20 * 60.0
MIN_WIDTH_PX = 64
VARIABLE_SPREAD = 0.15
"""Relative spread of the middle nine tenths of the frame intervals above which the rate is called variable."""

LOCATION_KEYS = ("location", "location-eng", "com.apple.quicktime.location.iso6709")
CAPTURE_RATE_KEY = "com.android.capture.fps"


def probe(path: Path | str, reading: Reading | None = None) -> ClipInfo:
    """Read a clip's facts without decoding more than its first picture.

    Parameters
    ----------
    path : path of the file.
    reading : Reading, optional
        Part, mirroring and speed asked for; durations are of the part, in real time.

    Raises
    ------
    FootageError
        Not a video, only sound, empty, no readable index, under 1 s, under 64 px wide, longer than 20 minutes
        without a part being named, or a part that the clip does not have.
    """
    reading = reading or Reading()
    path = Path(path)
    _check_reading(reading)
    with opened(path) as (container, stream):
        times = _timestamps(container, stream)
        stated_s = seconds(stream.duration, stream.time_base) if stream.duration else 0.0
        metadata = {**container.metadata, **stream.metadata}
        codec = stream.codec_context.name
        container.seek(0)
        raw = first_picture(container, stream, path)
        geometry = geometry_of(raw, mirrored=reading.mirrored)
        depth = max((c.bits for c in raw.format.components), default=8)
        hdr = is_hdr(raw)
    times = times / reading.real_speed
    part = _part(times, reading, path)
    _check_size(geometry.stored_width_px, geometry.stored_height_px, path)
    gaps = np.diff(part)
    width, height = geometry.upright_size_px
    return ClipInfo(
        name=path.name,
        sha256=_sha256(path),
        duration_s=float(part[-1] - part[0] + np.median(gaps)),
        frames=len(part),
        width_px=width,
        height_px=height,
        rotation_deg=geometry.rotation_deg,
        mirrored=reading.mirrored,
        variable_rate=_variable(gaps),
        frame_interval_median_s=float(np.median(gaps)),
        frame_interval_max_s=float(gaps.max()),
        codec=codec,
        bit_depth=int(depth),
        hdr=hdr,
        reduced=geometry.reduced,
        location_data=any(key.lower() in LOCATION_KEYS for key in metadata),
        truncated=bool(stated_s > 0 and times[-1] * reading.real_speed < 0.9 * stated_s),
        time_base_doubtful=_clock_doubt(metadata, gaps, reading),
    )


def _timestamps(container: Any, stream: Any) -> FloatArray:
    """Presentation times in seconds from the first shown frame, from the packets alone."""
    import av

    ticks: list[int] = []
    try:
        for packet in container.demux(stream):
            if packet.pts is not None and packet.size and not packet.is_discard:
                ticks.append(packet.pts)
    except av.error.FFmpegError:
        pass  # a clip that breaks off is measured as far as it goes
    if not ticks:
        raise FootageError("The clip holds no frames; send the phone's own file.")
    ordered = np.unique(np.array(ticks, np.int64))
    first = stream.start_time if stream.start_time is not None else int(ordered[0])
    kept = ordered[ordered >= first] - first
    return np.array([seconds(int(t), stream.time_base) for t in kept])


def _check_reading(reading: Reading) -> None:
    if not 0.05 <= reading.real_speed <= 64:
        raise FootageError(
            "--real-speed must lie between 0.05 and 64: how many times slower than life the clip plays."
        )
    if reading.from_s is not None and reading.from_s < 0:
        raise FootageError("--from must not be negative; times count from the clip's first frame.")
    if reading.from_s is not None and reading.to_s is not None and reading.to_s <= reading.from_s:
        raise FootageError("--to must come after --from.")


def _part(times: FloatArray, reading: Reading, path: Path) -> FloatArray:
    whole_s = float(times[-1])
    start, end = reading.from_s or 0.0, whole_s if reading.to_s is None else reading.to_s
    if start > whole_s:
        raise FootageError(f"--from {start:g} lies past the end of {path.name}, which lasts {whole_s:.1f} s.")
    part = times[(times >= start - 1e-6) & (times <= end + 1e-6)]
    if len(part) < 3 or part[-1] - part[0] < MIN_DURATION_S * 0.97:
        raise FootageError(
            f"The part to measure is shorter than {MIN_DURATION_S:g} s; send or choose the whole set."
        )
    if whole_s > MAX_DURATION_S and reading.from_s is None and reading.to_s is None:
        raise FootageError(f"{path.name} lasts {whole_s / 60:.0f} minutes; name the set with --from and --to.")
    if part[-1] - part[0] > MAX_DURATION_S:
        raise FootageError("The part to measure is longer than 20 minutes; name one set with --from and --to.")
    return part


def _check_size(width: int, height: int, path: Path) -> None:
    if min(width, height) < MIN_WIDTH_PX:
        raise FootageError(
            f"{path.name} is only {width} x {height} px; send the original, at least {MIN_WIDTH_PX} px wide."
        )


def _variable(gaps: FloatArray) -> bool:
    low, high = np.quantile(gaps, [0.05, 0.95])
    return bool(high - low > VARIABLE_SPREAD * np.median(gaps))


def _clock_doubt(metadata: dict[str, str], gaps: FloatArray, reading: Reading) -> str:
    """Say what in the file speaks against its clock being real time, "" when nothing does."""
    if reading.real_speed != 1.0:
        return ""
    captured = metadata.get(CAPTURE_RATE_KEY, "")
    try:
        rate = float(captured)
    except ValueError:
        rate = 0.0
    shown = 1.0 / float(np.median(gaps))
    if rate > 1.5 * shown:
        return (
            f"The phone recorded {rate:.0f} frames a second and the file plays {shown:.0f}: it is slow motion "
            f"(about {rate / shown:.0f} times slower than life)."
        )
    return ""


def _sha256(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(1 << 20):
            digest.update(block)
    return digest.hexdigest()

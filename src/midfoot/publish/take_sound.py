"""The sound of a voice-over: sections of recordings one after the other, silence where something is missing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from midfoot.records.takes import Stretch

SOUND_HZ, SOUND_BITS = 48_000, 96_000
HOLE_S = 0.005
"""Timestamps are rounded to a millisecond in some files: what lacks less is no hole."""


def sound_of(stretches: Sequence[Stretch], sounds: Mapping[str, Path]) -> Iterator[Any]:
    """Give the whole sound in chunks of one rate, one after the other; silence where a recording is missing."""
    import av

    written = 0
    begun = 0.0
    for stretch in stretches:
        file = sounds.get(stretch.take.id)
        if file is not None:
            for samples in _samples(file, stretch.from_s, stretch.to_s):
                yield _chunk(av, samples, written)
                written += samples.shape[1]
        begun += stretch.length_s
        missing = round(begun * SOUND_HZ) - written
        while missing > 0:
            silent = np.zeros((1, min(missing, SOUND_HZ // 10)), np.float32)
            yield _chunk(av, silent, written)
            written += silent.shape[1]
            missing -= silent.shape[1]


def _samples(file: Path, from_s: float, to_s: float) -> Iterator[Any]:
    """Decode a section of a recording as mono float32 (1, n); never more than was asked for.

    A microphone that stumbles leaves a hole in the recording's timestamps, not in its samples: it is filled with
    silence, or all that follows would come early.
    """
    import av

    most = round((to_s - from_s) * SOUND_HZ)
    skip, given = round(from_s * SOUND_HZ), 0
    with av.open(str(file)) as container:
        if not container.streams.audio:
            return
        resample = av.AudioResampler(format="fltp", layout="mono", rate=SOUND_HZ)
        begins: float | None = None
        come = 0
        for frame in container.decode(container.streams.audio[0]):
            parts = [part.to_ndarray() for part in resample.resample(frame)]
            if frame.time is not None:
                begins = frame.time if begins is None else begins
                hole = round((frame.time - begins) * SOUND_HZ) - come
                if hole > HOLE_S * SOUND_HZ:
                    parts.insert(0, np.zeros((1, min(hole, skip + most - given)), np.float32))
            for samples in parts:
                come += samples.shape[1]
                if skip >= samples.shape[1]:
                    skip -= samples.shape[1]
                    continue
                samples, skip = samples[:, skip:], 0
                samples = samples[:, : most - given]
                if samples.shape[1]:
                    given += samples.shape[1]
                    yield samples
                if given >= most:
                    return


def _chunk(av: Any, samples: Any, written: int) -> Any:
    chunk = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples, np.float32), format="fltp", layout="mono")
    chunk.sample_rate = SOUND_HZ
    chunk.pts, chunk.time_base = written, Fraction(1, SOUND_HZ)
    return chunk

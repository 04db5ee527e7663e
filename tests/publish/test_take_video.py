"""The voice-over as a video: pictures where the player stood, the sound of each section, wide and upright."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from sets import made_measurement

from midfoot.publish.take_video import SOUND_HZ, STRIP_PX, UPRIGHT_PX, Telling, write_take_video
from midfoot.records.review import Mark
from midfoot.records.takes import Happened, Take
from midfoot.review.takes import shown, whole


def tone(path: Path, seconds: float, hz: float, rate: int = 44_100) -> Path:
    """A tone in an Ogg file, as a browser's recorder gives it."""
    with av.open(str(path), "w", format="ogg") as container:
        stream = container.add_stream("libopus", rate=48_000, layout="mono")
        samples = np.sin(2 * np.pi * hz * np.arange(int(seconds * 48_000)) / 48_000)
        for k in range(0, len(samples), 960):
            part = samples[k : k + 960]
            frame = av.AudioFrame.from_ndarray((12_000 * part).astype(np.int16)[None], format="s16", layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = 48_000, k, Fraction(1, 48_000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def heard(path: Path) -> np.ndarray:
    with av.open(str(path)) as container:
        resample = av.AudioResampler(format="fltp", layout="mono", rate=SOUND_HZ)
        parts = [p.to_ndarray()[0] for f in container.decode(audio=0) for p in resample.resample(f)]
    return np.concatenate(parts)


def pitch(samples: np.ndarray) -> float:
    """The strongest tone, Hz, by numpy's Fourier transform."""
    power = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(power) * SOUND_HZ / len(samples))


def grey(t_s: float, size: tuple[int, int] = (640, 480)) -> np.ndarray:
    """A frame as grey as its second is late: 20 a second."""
    return np.full((size[1], size[0], 3), min(250, round(20 * t_s)), np.uint8)


def between(a: float, b: float) -> list[tuple[float, np.ndarray]]:
    return [(k / 30, grey(k / 30)) for k in range(int(np.ceil(a * 30)), int(b * 30) + 1)]


def made(tmp_path: Path, shape: str) -> tuple[Path, float]:
    ground = Take(id="a", n=1, duration_s=6.0, events=(
        Happened(kind="seek", at_s=0.0, t_s=2.0),
        Happened(kind="line", at_s=0.0, t_s=2.0, line=0),
        Happened(kind="play", at_s=1.0, t_s=2.0, rate=0.5),
        Happened(kind="pause", at_s=3.0, t_s=3.0, rate=0.5),
        Happened(kind="layers", at_s=3.0, t_s=3.0, layers=()),
        Happened(kind="seek", at_s=4.0, t_s=8.0),
    ))  # fmt: skip
    again = Take(id="b", n=2, duration_s=1.5, replaces="a", from_s=4.0, to_s=5.0,
                 events=(Happened(kind="seek", at_s=0.0, t_s=10.0),))  # fmt: skip
    stretches = whole([ground, again])
    telling = Telling(measurement=made_measurement(), rows=shown(stretches), lines=("Look at the third rep.",))
    sounds = {"a": tone(tmp_path / "a.ogg", 6.0, 440.0), "b": tone(tmp_path / "b.ogg", 1.5, 880.0)}
    path = tmp_path / f"{shape}.mp4"
    length = write_take_video(telling, between, grey, path, shape=shape, stretches=stretches, sounds=sounds)
    return path, length


@pytest.mark.parametrize("shape", ["wide", "upright"])
def test_pictures_and_sound_go_together(tmp_path: Path, shape: str) -> None:
    path, length = made(tmp_path, shape)
    assert length == pytest.approx(6.5)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        size = (stream.width, stream.height)
        times, greys = [], []
        for frame in container.decode(video=0):
            times.append(frame.time)
            picture = frame.to_ndarray(format="rgb24")
            middle = picture[: size[1] - STRIP_PX]
            high, wide = middle.shape[0] // 2, middle.shape[1] // 2
            greys.append(float(np.median(middle[high - 100 : high + 100, wide - 200 : wide + 200])))
    assert size == (UPRIGHT_PX if shape == "upright" else (640, 480 + STRIP_PX))

    def at(v_s: float) -> float:
        return greys[int(np.searchsorted(times, v_s, side="right")) - 1] / 20.0

    # by hand: stands at 2 s, plays at half speed from 1 s on to 3 s, then the section taken again, then 8 s
    for v_s, t_s in ((0.5, 2.0), (2.0, 2.5), (2.9, 2.95), (3.5, 3.0), (4.5, 10.0), (6.0, 8.0)):
        assert at(v_s) == pytest.approx(t_s, abs=0.15), v_s
    sound = heard(path)
    assert len(sound) / SOUND_HZ == pytest.approx(6.5, abs=0.06)
    for a, b, hz in ((0.5, 3.5, 440.0), (4.2, 5.3, 880.0), (5.8, 6.4, 440.0)):
        assert pitch(sound[int(a * SOUND_HZ) : int(b * SOUND_HZ)]) == pytest.approx(hz, abs=4.0)


def test_marks_stand_where_they_were_made_in_a_cut_picture(tmp_path: Path) -> None:
    """A mark at a place of the clip is drawn at that place of the part that is shown (the zoom by hand)."""
    from midfoot.publish.layers import draw_layers

    measurement = made_measurement()
    picture = np.zeros((400, 300, 3), np.uint8)
    mark = Mark(id="m", meaning="hold_here", at_s=1.0, points_px=((500.0, 300.0),))
    draw_layers(picture, measurement.data, 0.0, (), (mark,), (), zoom=0.5, origin_px=(300.0, 100.0), size=14)
    rows = np.flatnonzero((picture[:, :, 0] > 150).sum(axis=1) > 20)
    assert any(abs(row - 0.5 * (300 - 100)) <= 1 for row in rows), "the level line of the mark"
    assert all(row < 80 or abs(row - 100) <= 1 for row in rows), "and nothing else below its words"

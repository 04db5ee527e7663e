"""The voice-over as a video: pictures where the player stood, the sound of each section, wide and upright."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from sets import made_measurement

from midfoot.covered import strip
from midfoot.publish.take_sound import SOUND_HZ
from midfoot.publish.take_video import STRIP_PX, UPRIGHT_PX, Telling, write_take_video
from midfoot.records.review import Mark
from midfoot.records.takes import Happened, Stretch, Take
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


SIGNS_S = (0.5, 4.3, 9.97, 15.2, 19.4)
"""When a tone begins and the picture changes: at the start, in the middle and at the end of 20 s."""
LATE_S = 0.04


def signs(path: Path, holes: tuple[tuple[float, float], ...] = ()) -> Path:
    """Twenty seconds of silence with a short tone at every sign, as a browser's recorder gives it.

    `holes` are from when to when nothing came from the microphone: packets that are not there.
    """
    samples = np.zeros(20 * 48_000)
    for at_s in SIGNS_S:
        samples[round(at_s * 48_000) :][:4_800] = np.sin(2 * np.pi * 1000 * np.arange(4_800) / 48_000)
    with av.open(str(path), "w", format="webm") as container:
        stream = container.add_stream("libopus", rate=48_000, layout="mono")
        for k in range(0, len(samples), 960):
            part = (20_000 * samples[k : k + 960]).astype(np.int16)
            frame = av.AudioFrame.from_ndarray(part[None], format="s16", layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = 48_000, k, Fraction(1, 48_000)
            for packet in stream.encode(frame):
                if not any(a <= float(packet.pts * packet.time_base) < b for a, b in holes):
                    container.mux(packet)
        container.mux(stream.encode(None))
    return path


def begins(path: Path) -> list[float]:
    """When tones begin: by the timestamps of the decoded samples, s."""
    times, loud = [], []
    with av.open(str(path)) as container:
        for frame in container.decode(audio=0):
            samples = np.abs(frame.to_ndarray()[0])
            times.append(float(frame.pts * frame.time_base) + np.arange(len(samples)) / frame.sample_rate)
            loud.append(samples)
    at_s, level = np.concatenate(times), np.concatenate(loud)
    heard_s = at_s[level > 0.2 * level.max()]
    return [float(t) for t in heard_s[np.diff(heard_s, prepend=-1.0) > 0.2]]


def turns(path: Path) -> list[float]:
    """When the middle of the picture turns from dark to light or back: by the frames' timestamps, s."""
    out, before = [], None
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            picture = frame.to_ndarray(format="gray")
            light = (
                float(np.median(picture[: picture.shape[0] - STRIP_PX, frame.width // 2 - 100 :][:, :200])) > 120
            )
            if before is not None and light != before:
                out.append(float(frame.pts * frame.time_base))
            before = light
    return out


def flashing(a: float, b: float) -> list[tuple[float, np.ndarray]]:
    """A film of 60 frames a second that turns from dark to light and back at every second."""
    times = np.arange(np.ceil(60 * a), np.floor(60 * b) + 1) / 60
    return [(float(t), np.full((480, 640, 3), 200 if int(t + 1e-6) % 2 else 40, np.uint8)) for t in times]


@pytest.mark.parametrize("shape", ["wide", "upright"])
@pytest.mark.parametrize("plays", [False, True])
def test_sound_and_picture_stay_within_40_ms_over_20_s(tmp_path: Path, shape: str, plays: bool) -> None:
    """Tone and change of the picture at the same moments; decoded by PyAV, by the file's own timestamps.

    The picture changes by a jump of the player, or because the film that runs does so. 40 ms are the issue's own.
    """
    events = [Happened(kind="seek", at_s=0.0, t_s=2.0)]
    for k, at_s in enumerate(SIGNS_S):
        if plays:  # it runs over the turn of a second, and stops before the next
            second = 3.0 + k
            events += [
                Happened(kind="seek", at_s=at_s - 0.4, t_s=second - 0.3),
                Happened(kind="play", at_s=at_s - 0.3, t_s=second - 0.3),
                Happened(kind="pause", at_s=at_s + 0.4, t_s=second + 0.4),
            ]
        else:
            events.append(Happened(kind="seek", at_s=at_s, t_s=3.0 - k % 2))
    stretches = whole([Take(id="a", n=1, duration_s=20.0, events=tuple(events))])
    telling, raw = Telling(measurement=made_measurement(), rows=shown(stretches)), tmp_path / "raw.mp4"
    sounds = {"a": signs(tmp_path / "a.webm")}
    write_take_video(telling, flashing, lambda t: flashing(t, t + 0.02)[0][1], raw, shape=shape,
                     stretches=stretches, sounds=sounds)  # fmt: skip
    strip(raw, tmp_path / "out.mp4", sound=True)

    tones, changes = begins(tmp_path / "out.mp4"), turns(tmp_path / "out.mp4")
    assert len(tones) == len(SIGNS_S)
    apart = [min((abs(tone - change) for change in changes), default=99.0) for tone in tones]
    assert max(apart) <= LATE_S, apart
    assert tones == pytest.approx(SIGNS_S, abs=LATE_S)


@pytest.mark.parametrize("from_s", [0.0, 4.0, 7.9])
def test_a_microphone_that_stumbled_shifts_nothing_behind_it(tmp_path: Path, from_s: float) -> None:
    """Seen in Chromium's recorder on a busy machine: 20 ms lacked, and all sound behind came that much early.

    Here 0.02, 0.3 and 1 s lack between the signs; a section may begin before, in or behind a hole.
    """
    holes = ((3.0, 3.02), (7.6, 7.9), (13.0, 14.0))
    take = Take(id="a", n=1, duration_s=20.0, events=(Happened(kind="seek", at_s=0.0, t_s=2.0),))
    stretches = (Stretch(take, from_s, 20.0),)
    telling = Telling(measurement=made_measurement(), rows=shown(stretches))
    write_take_video(telling, flashing, lambda t: flashing(t, t + 0.02)[0][1], tmp_path / "out.mp4",
                     stretches=stretches, sounds={"a": signs(tmp_path / "a.webm", holes)})  # fmt: skip
    wanted = [at_s - from_s for at_s in SIGNS_S if at_s > from_s and not any(a <= at_s < b for a, b in holes)]
    assert begins(tmp_path / "out.mp4") == pytest.approx(wanted, abs=0.01)


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

"""The browser's proxy shows the same frames at the same times as the clip, upright, in a form that seeks fast."""

from __future__ import annotations

import threading
from pathlib import Path

import av
import numpy as np
import pytest
from clips import set_display_matrix, sound_file, square_frame, square_place, write_clip

from midfoot.footage import FootageError, Stopped, frames, write_proxy
from midfoot.footage.proxy import KEY_FRAME_EVERY, PROXY_LONG_SIDE_PX, shown_times_s

GAPS = np.full(50, 1 / 30)
GAPS[0], GAPS[20], GAPS[21] = 0.005, 0.067, 0.011
VARIABLE = np.concatenate([[0.0], np.cumsum(GAPS)])
PQ_LIGHT = {"color_trc": 16, "color_primaries": 9, "colorspace": 9}

MADE = {
    "variable rate": {"times_s": VARIABLE},
    "starts late": {"times_s": VARIABLE + 0.4},
    "b-frames": {"options": {"bf": "3", "g": "60"}},
    "odd sides": {"size": (161, 97), "pix_fmt": "yuv444p"},
    "hevc": {"codec": "libx265", "times_s": VARIABLE},
    "10 bit": {"codec": "libx265", "pix_fmt": "yuv420p10le", "suffix": ".mov"},
    "high dynamic range": {"codec": "libx265", "pix_fmt": "yuv420p10le", "colour": PQ_LIGHT},
    "full range": {"pix_fmt": "yuvj420p", "colour": {"color_range": 2}},
    "vp9 in matroska": {"codec": "libvpx-vp9", "suffix": ".mkv", "times_s": VARIABLE},
}
TURNS = {
    "clockwise": (0, 1, -1, 0), "half": (-1, 0, 0, -1), "counter": (0, -1, 1, 0), "mirror": (-1, 0, 0, 1),
    "transposed": (0, 1, 1, 0),
}  # fmt: skip


def same(clip: Path, proxy: Path) -> None:
    """Hold every frame of the proxy against the clip's: its time exactly, its picture by the square's place."""
    originals, copies = list(frames(clip)), list(frames(proxy))
    assert len(copies) == len(originals) > 40
    assert [f.t_s for f in copies] == [f.t_s for f in originals]
    assert shown_times_s(proxy).tolist() == [f.t_s for f in originals]
    for original, copy in zip(originals, copies, strict=True):
        assert square_place(copy.luma) == pytest.approx(square_place(original.luma), abs=0.75)
    middle = len(originals) // 2
    assert copies[middle].rgb().mean() == pytest.approx(originals[middle].rgb().mean(), abs=4)


@pytest.mark.parametrize("made", list(MADE))
def test_every_frame_is_there_at_its_own_time(tmp_path: Path, made: str) -> None:
    given = dict(MADE[made])
    clip, proxy = tmp_path / f"clip{given.pop('suffix', '.mp4')}", tmp_path / "proxy.mp4"
    try:
        write_clip(clip, **given)
    except av.error.FFmpegError as error:
        pytest.skip(f"this PyAV cannot write it: {error}")

    told = write_proxy(clip, proxy)

    same(clip, proxy)
    assert list(told.times_s) == shown_times_s(proxy).tolist()


@pytest.mark.parametrize("turn", list(TURNS))
def test_the_proxy_stands_upright(tmp_path: Path, turn: str) -> None:
    """Oracle: `frames`, held against the standard's matrix in its own test. It turns, a browser does not."""
    clip, proxy = tmp_path / "clip.mp4", tmp_path / "proxy.mp4"
    write_clip(clip, times_s=VARIABLE)
    set_display_matrix(clip, *TURNS[turn])

    write_proxy(clip, proxy)

    same(clip, proxy)
    with av.open(str(proxy)) as container:
        assert next(container.decode(video=0)).rotation == 0


def test_a_proxy_seeks_fast_and_plays_everywhere(tmp_path: Path) -> None:
    """H.264, 8 bit 4:2:0, nothing predicted backward, key frames often, index in front, no sound, small enough."""
    clip, proxy = tmp_path / "clip.mp4", tmp_path / "proxy.mp4"
    size = (1920, 1080)
    write_clip(clip, size=size, pictures=[square_frame(size, 100 + i, 500) for i in range(32)],
               times_s=np.arange(32) / 60)  # fmt: skip

    write_proxy(clip, proxy)

    data = proxy.read_bytes()
    assert data.index(b"moov") < data.index(b"mdat")
    with av.open(str(proxy)) as container:
        assert [s.type for s in container.streams] == ["video"]
        stream = container.streams.video[0]
        context = stream.codec_context
        assert (context.name, context.pix_fmt, context.has_b_frames) == ("h264", "yuv420p", False)
        assert max(context.width, context.height) == PROXY_LONG_SIDE_PX
        packets = [p for p in container.demux(stream) if p.size]
    assert [p.pts for p in packets] == [p.dts for p in packets]
    keys = [i for i, p in enumerate(packets) if p.is_keyframe]
    assert np.diff([*keys, len(packets)]).max() <= KEY_FRAME_EVERY <= 15
    assert all(p.duration > 0 for p in packets)


def test_a_proxy_is_stopped_and_refuses_what_is_no_video(tmp_path: Path) -> None:
    clip, sound, stop = tmp_path / "clip.mp4", tmp_path / "sound.wav", threading.Event()
    write_clip(clip)
    sound_file(sound)
    stop.set()

    with pytest.raises(Stopped):
        write_proxy(clip, tmp_path / "proxy.mp4", stop=stop)
    with pytest.raises(FootageError, match="only sound"):
        write_proxy(sound, tmp_path / "proxy.mp4")


def test_a_part_keeps_its_frames_and_their_distances(tmp_path: Path) -> None:
    clip, part = tmp_path / "clip.mp4", tmp_path / "part.mp4"
    write_clip(clip, times_s=VARIABLE)
    whole = list(frames(clip))

    write_proxy(clip, part, from_s=0.5, to_s=1.2)

    kept = [f for f in whole if 0.5 <= f.t_s <= 1.2]
    got = list(frames(part))
    assert [f.t_s for f in got] == pytest.approx([f.t_s - kept[0].t_s for f in kept], abs=1e-9)
    assert square_place(got[5].luma) == pytest.approx(square_place(kept[5].luma), abs=0.75)

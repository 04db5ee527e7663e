"""Frames come upright, in order, with their own timestamps, whatever the codec and the container."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import av
import numpy as np
import pytest
from clips import SQUARE, set_display_matrix, square_frame, square_place, write_clip

from midfoot.footage import FootageError, frames, frames_at, probe
from midfoot.records.clip import Frame, Reading

CODECS = [
    ("libx264", "yuv420p", ".mp4"),
    ("libx264", "yuv420p", ".mov"),
    ("libx265", "yuv420p", ".mp4"),
    ("libx265", "yuv420p10le", ".mov"),
    ("libvpx-vp9", "yuv420p", ".webm"),
    ("libvpx-vp9", "yuv420p", ".mkv"),
    ("libsvtav1", "yuv420p", ".mp4"),
    ("libsvtav1", "yuv420p10le", ".mkv"),
]


@pytest.mark.parametrize(("codec", "pix_fmt", "suffix"), CODECS, ids=[f"{c}-{p}{s}" for c, p, s in CODECS])
def test_every_codec_gives_every_frame_at_its_time(tmp_path: Path, codec: str, pix_fmt: str, suffix: str) -> None:
    """The square stands where it was drawn, in luma and in colour, at the written time."""
    try:
        av.codec.Codec(codec, "w")
    except Exception:
        pytest.skip(f"this PyAV has no encoder {codec}")
    path = tmp_path / f"clip{suffix}"
    times = write_clip(path, codec=codec, pix_fmt=pix_fmt)

    seen = list(frames(path))

    assert len(seen) == len(times)
    tick = 0.0011 if suffix in (".webm", ".mkv") else 1e-4  # Matroska counts in milliseconds
    assert [f.t_s for f in seen] == pytest.approx(list(times), abs=tick)
    x, y = square_place(seen[20].luma)
    assert (x, y) == pytest.approx((8 + 20 + (SQUARE - 1) / 2, 24 + (SQUARE - 1) / 2), abs=0.6)
    assert seen[20].rgb()[30, 36].tolist() == pytest.approx([230, 230, 230], abs=14)


def test_variable_timing_and_an_odd_first_interval_are_kept(tmp_path: Path) -> None:
    """A 5 ms first interval and a 67 ms gap come out as written; index over rate would be 60 ms wrong."""
    gaps = np.full(50, 1 / 30)
    gaps[0], gaps[20] = 0.005, 0.067
    times = np.concatenate([[0.0], np.cumsum(gaps)])
    path = tmp_path / "variable.mp4"
    write_clip(path, times_s=times)

    got = np.array([f.t_s for f in frames(path)])

    assert np.abs(got - times).max() < 1e-4
    assert np.abs(np.arange(len(times)) / 30 - times).max() > 0.02


TURNS = {
    "upright": ((1, 0, 0, 1), lambda p: p),
    "clockwise": ((0, 1, -1, 0), lambda p: np.rot90(p, -1)),
    "half": ((-1, 0, 0, -1), lambda p: np.rot90(p, 2)),
    "counter": ((0, -1, 1, 0), lambda p: np.rot90(p, 1)),
    "mirror": ((-1, 0, 0, 1), lambda p: p[:, ::-1]),
    "upside-down mirror": ((1, 0, 0, -1), lambda p: p[::-1]),
    "transposed": ((0, 1, 1, 0), lambda p: np.swapaxes(p, 0, 1)),
    "anti-transposed": ((0, -1, -1, 0), lambda p: np.rot90(np.swapaxes(p, 0, 1), 2)),
}


@pytest.mark.parametrize("turn", list(TURNS))
def test_all_eight_orientations_come_upright(tmp_path: Path, turn: str) -> None:
    """Oracle: the matrix definition of ISO/IEC 14496-12, applied to the picture by numpy."""
    matrix, expected = TURNS[turn]
    path = tmp_path / "turned.mp4"
    write_clip(path)
    set_display_matrix(path, *matrix)

    first = next(frames(path))

    want = expected(square_frame((160, 96), 8, 24)[:, :, 0])
    assert first.luma.shape == want.shape
    assert square_place(first.luma) == pytest.approx(square_place(want), abs=0.6)
    assert probe(path).width_px == want.shape[1]
    assert first.rgb().shape[:2] == want.shape


def test_mirrored_flips_left_and_right_once(tmp_path: Path) -> None:
    """--mirrored on a mirrored file gives the plain picture back."""
    path = tmp_path / "plain.mp4"
    write_clip(path)
    x, y = square_place(next(frames(path)).luma)

    mx, my = square_place(next(frames(path, Reading(mirrored=True))).luma)

    assert (mx, my) == pytest.approx((159 - x, y), abs=0.3)


def test_a_part_keeps_the_clips_own_clock(tmp_path: Path) -> None:
    """Frames between --from and --to only, times counted from the clip's first frame."""
    path = tmp_path / "long.mp4"
    write_clip(path, times_s=np.arange(120) / 30, options={"g": "12"})

    got = [f.t_s for f in frames(path, Reading(from_s=1.5, to_s=3.0))]

    assert got[0] == pytest.approx(1.5, abs=0.034)
    assert got[-1] == pytest.approx(3.0, abs=0.034)
    assert np.diff(got) == pytest.approx(1 / 30, abs=1e-4)


def test_real_speed_divides_time(tmp_path: Path) -> None:
    """A scene filmed at 240 a second and stored at 30 plays eight times slower than life."""
    path = tmp_path / "slow.mp4"
    write_clip(path, times_s=np.arange(300) / 30)

    got = [f.t_s for f in frames(path, Reading(real_speed=8))]

    assert np.diff(got) == pytest.approx(1 / 240, abs=2e-5)


def test_frames_at_gives_the_frames_of_those_moments(tmp_path: Path) -> None:
    """Seeking finds the same frames as decoding everything."""
    path = tmp_path / "long.mp4"
    write_clip(path, times_s=np.arange(400) / 30, options={"g": "48", "bf": "2"})
    everything = {round(f.t_s, 3): square_place(f.luma) for f in frames(path)}

    for frame in frames_at(path, [0.0, 0.5, 4.0, 4.1, 11.0]):
        assert square_place(frame.luma) == pytest.approx(everything[round(frame.t_s, 3)], abs=0.05)


def test_an_edit_list_hides_frames(tmp_path: Path) -> None:
    """Frames cut away by the file's edit list are not shown, and time starts at the first shown one.

    Trimming on a phone writes such a list (ISO/IEC 14496-12, elst). The file is made with B-frames, whose
    encoder delay is written as an edit list too, and the list's start is then moved by ten frames.
    """
    path = tmp_path / "trimmed.mp4"
    write_clip(path, options={"bf": "0", "g": "5"})
    data = bytearray(path.read_bytes())
    at = data.find(b"elst")
    if at < 0:
        pytest.skip("this muxer wrote no edit list to change")
    version = data[at + 4]
    entry = at + 12
    if version != 0:
        pytest.skip("this muxer wrote a 64-bit edit list")
    scale_at = data.index(b"mdhd") + 4 + 12
    media_scale = int.from_bytes(data[scale_at : scale_at + 4], "big")
    start = int.from_bytes(data[entry + 4 : entry + 8], "big") + round(10 / 30 * media_scale)
    data[entry + 4 : entry + 8] = start.to_bytes(4, "big")
    path.write_bytes(bytes(data))

    seen = list(frames(path))

    assert len(seen) == 35
    assert seen[0].t_s == pytest.approx(0.0, abs=1e-3)
    assert square_place(seen[0].luma)[0] == pytest.approx(8 + 10 + 7.5, abs=0.6)


def test_a_very_large_picture_is_decoded_smaller(tmp_path: Path) -> None:
    """8K comes down to a long side of about 1920 px and says by how much."""
    path = tmp_path / "8k.mp4"
    pictures = [square_frame((7680, 4320), 100 + i, 200) for i in range(31)]
    write_clip(path, size=(7680, 4320), pictures=pictures, times_s=np.arange(31) / 30,
               options={"preset": "ultrafast"})  # fmt: skip

    info = probe(path)
    first = next(frames(path))

    assert info.reduced == pytest.approx(4.0)
    assert first.luma.shape == (1080, 1920)
    assert first.rgb().shape == (1080, 1920, 3)
    assert (info.width_px, info.height_px) == (1920, 1080)


@pytest.mark.parametrize("transfer", [16, 18], ids=["PQ", "HLG"])
def test_hdr_light_is_brought_down(tmp_path: Path, transfer: int) -> None:
    """Mid grey of an HDR clip is neither black nor white in the picture given to the pose network."""
    path = tmp_path / "hdr.mp4"
    write_clip(path, codec="libx265", pix_fmt="yuv420p10le",
               colour={"color_trc": transfer, "color_primaries": 9, "colorspace": 9})  # fmt: skip

    info = probe(path)
    rgb = next(frames(path)).rgb()

    assert info.hdr
    assert info.bit_depth == 10
    assert rgb.dtype == np.uint8
    assert 20 < rgb[5, 5].mean() < 235
    assert rgb[30, 15].mean() > rgb[5, 5].mean() + 20


def test_a_clip_cut_off_in_the_middle_gives_what_decodes(tmp_path: Path) -> None:
    """With its index in front, the first half of the file gives the first frames and is called truncated."""
    path = tmp_path / "whole.mp4"
    noise = np.random.default_rng(1)
    pictures = [noise.integers(0, 255, (96, 160, 3), dtype=np.uint8) for _ in range(90)]
    write_clip(path, pictures=pictures, times_s=np.arange(90) / 30)
    half = tmp_path / "half.mp4"
    half.write_bytes(path.read_bytes()[: path.stat().st_size // 2])

    got = list(frames(half))

    assert 20 < len(got) < 70
    assert probe(half).truncated


def test_nothing_decodable_is_one_sentence(tmp_path: Path) -> None:
    """Rubble inside a readable container is refused, not looped over."""
    path = tmp_path / "rubble.mp4"
    write_clip(path)
    data = bytearray(path.read_bytes())
    at = data.index(b"mdat") + 4
    data[at:] = bytes(len(data) - at)
    path.write_bytes(bytes(data))

    with pytest.raises(FootageError, match="send"):
        list(frames(path))


def moving_clip(path: Path, *, codec: str = "libx264", seconds: float = 8.0) -> None:
    """Write a clip of drifting noise: pictures made from each other both ways, a key every two seconds."""
    rng = np.random.default_rng(7)
    scene = np.kron(rng.integers(0, 255, (40, 120, 3)), np.ones((4, 4, 1))).astype(np.uint8)
    count = int(30 * seconds)
    pictures = [np.ascontiguousarray(scene[:96, i : i + 160]) for i in range(count)]
    options = {"bf": "3", "g": "60", "x264-params": "b-pyramid=normal:scenecut=0"} if codec == "libx264" else {}
    write_clip(path, codec=codec, times_s=np.arange(count) / 30, pictures=pictures, options=options)


@pytest.mark.parametrize("reading", [Reading(), Reading(from_s=2.3, to_s=5.0), Reading(real_speed=2.0)])
@pytest.mark.parametrize("every_s", [1 / 15 - 2e-3, 0.3])
def test_frames_asked_for_seldom_are_those_that_decoding_all_gives(
    tmp_path: Path, reading: Reading, every_s: float
) -> None:
    """What is not decoded changes no picture and no choice: held against all frames of the same decoder."""
    path = tmp_path / "clip.mp4"
    moving_clip(path)

    def chosen(source: Iterable[Frame]) -> list[tuple[float, bytes]]:
        out: list[tuple[float, bytes]] = []
        for frame in source:
            if not out or frame.t_s - out[-1][0] >= every_s:
                out.append((frame.t_s, frame.luma.tobytes()))
        return out

    seldom = list(frames(path, reading, every_s=every_s))

    assert chosen(seldom) == chosen(frames(path, reading))
    assert len(seldom) < 0.7 * len(list(frames(path, reading)))


def test_frames_at_moments_are_those_that_decoding_all_gives(tmp_path: Path) -> None:
    """Jumps and pictures passed over change nothing: the frame at or after each moment, bit by bit."""
    path = tmp_path / "clip.mp4"
    moving_clip(path, seconds=12.0)
    every = [(f.t_s, f.luma.tobytes()) for f in frames(path)]
    wanted = [0.0, 0.1, 0.15, 0.7, 1.9, 2.05, 4.6, 4.61, 9.2, 11.4]

    got = [(f.t_s, f.luma.tobytes()) for f in frames_at(path, wanted)]

    assert got == [next(row for row in every if row[0] >= t - 1e-4) for t in wanted]


def test_a_damaged_clip_is_not_passed_over(tmp_path: Path) -> None:
    """Where packets are broken every picture is taken again: none that decoding all gives is lost."""
    path = tmp_path / "clip.mp4"
    moving_clip(path)
    data = bytearray(path.read_bytes())
    third = len(data) // 3
    data[third : third + 3000] = b"\xff" * 3000
    path.write_bytes(bytes(data))
    every = [f.t_s for f in frames(path)]
    wanted = list(np.arange(0.0, 7.5, 0.25))

    got = [f.t_s for f in frames_at(path, wanted)]

    assert every[-1] == pytest.approx(8.0 - 1 / 30, abs=1e-3)
    ahead = np.array([min(t for t in every if t >= w - 1e-4) for w in wanted])
    assert len(got) == len(wanted)
    assert np.abs(np.array(got) - ahead).max() < 0.05

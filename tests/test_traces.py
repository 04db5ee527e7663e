"""The reader of traces itself: it sees what was put into files, so that its silence means something."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from clips import write_clip
from going_out import TRACES
from traces import complaints, in_folder

BASE = np.full((48, 64, 3), 90, np.uint8)


def test_a_phones_own_clip_tells_much(tmp_path: Path) -> None:
    write_clip(tmp_path / "a.mp4", metadata=TRACES)
    said = " ".join(complaints(tmp_path / "a.mp4"))
    assert "udta" in said or "meta" in said
    assert "Lavf" in said
    assert "x264" in said


def test_a_date_in_an_mp4_is_seen(tmp_path: Path) -> None:
    body = b"\0\0\0\0" + struct.pack(">II", 3_800_000_000, 0) + b"\0" * 20
    (tmp_path / "a.mp4").write_bytes(struct.pack(">I4s", 8 + len(body), b"mvhd") + body)
    assert complaints(tmp_path / "a.mp4") == ["a.mp4: a date in b'mvhd'"]


def test_segments_and_chunks_that_pictures_do_not_need_are_seen(tmp_path: Path) -> None:
    jpg, png = (cv2.imencode(f".{k}", BASE)[1].tobytes() for k in ("jpg", "png"))
    (tmp_path / "clean.jpg").write_bytes(jpg)
    (tmp_path / "clean.png").write_bytes(png)
    assert in_folder(tmp_path) == []
    (tmp_path / "b.jpg").write_bytes(jpg[:2] + b"\xff\xe1\x00\x08Exif\0\0" + jpg[2:])
    text = b"tEXtAuthor\0Runa"
    chunk = struct.pack(">I", len(text) - 4) + text + struct.pack(">I", zlib.crc32(text))
    (tmp_path / "b.png").write_bytes(png[:33] + chunk + png[33:])
    assert any("segment e1" in c for c in in_folder(tmp_path))
    assert any("tEXt" in c for c in in_folder(tmp_path))


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.json", '{"clip": [{"sha256": "x"}]}'), ("b.html", '<meta content="x" name="author">'),
        ("c.vtt", "file " + "0123456789abcdef" * 4), ("d.md", "in /home/someone/clip.mp4"),
        ("e.pdf", "1 0 obj << /Author (Runa Holt) >>"),
    ],
)  # fmt: skip
def test_keys_hashes_and_paths_in_words_are_seen(tmp_path: Path, name: str, text: str) -> None:
    (tmp_path / name).write_text(text)
    assert len(in_folder(tmp_path)) == 1

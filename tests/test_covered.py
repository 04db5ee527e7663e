"""Heads found once are read back as they were found; the file is not believed for another clip."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from clips import write_clip

from midfoot import body, covered, footage
from midfoot.records.clip import Reading
from midfoot.records.heads import Heads, HeadTrack


def found() -> Heads:
    t_s = np.arange(0, 2, 0.25)
    xy = np.column_stack([40 + 10 * t_s, 30 - t_s])
    doubted = HeadTrack("face", t_s, xy + 20, np.full(8, 7.0), score=0.7, seen_s=t_s[::2])
    followed = HeadTrack("body", t_s, xy, np.full(8, 11.0), xy + 50)
    perhaps = HeadTrack("perhaps", t_s, xy, np.full(8, 3.0))
    return Heads(0.0, 1.75, (HeadTrack("face", t_s, xy, np.full(8, 9.5)), doubted, followed, perhaps), 64, 48)


def test_heads_are_looked_for_once_and_read_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clip = tmp_path / "a.mp4"
    write_clip(clip, times_s=np.arange(0, 1.5, 0.1), size=(320, 240))
    looks: list[float] = []

    class Scout:
        def __init__(self, *_: object) -> None: ...

        def see(self, frame: object) -> None:
            looks.append(1.0)

        def result(self) -> Heads:
            return found()

    monkeypatch.setattr(body, "ensure_models", lambda **_: None)
    monkeypatch.setattr(covered, "HeadScout", Scout)
    film = covered.Film(path=clip, reading=Reading(), info=footage.probe(clip))
    kept, told = tmp_path / "heads.npz", []
    first = covered.heads_of(film, kept, tell=lambda words, share: told.append((words, share)))
    count = len(looks)
    again = covered.heads_of(film, kept, tell=lambda *_: None)
    assert count == len(looks) == 15
    assert [w for w, _ in told] == ["looking for faces"] * 15
    assert told[-1][1] > 0.8
    for heads in (first, again):
        assert (heads.from_s, heads.to_s, heads.width_px, heads.height_px) == (0.0, 1.75, 64, 48)
        for one, other in zip(heads.tracks, found().tracks, strict=True):
            assert (one.by, one.score) == (other.by, other.score)
            for name in ("t_s", "xy_px", "radius_px", "hips_px", "seen_s"):
                np.testing.assert_allclose(getattr(one, name), getattr(other, name))
    covered.heads_of(evolve(film, info=evolve(film.info, sha256="0" * 64)), kept, tell=lambda *_: None)
    assert len(looks) == 2 * count

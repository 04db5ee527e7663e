"""The follower may want to be taught more than once; the pipeline goes on until it wants nothing more."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
import pytest
from clips import write_clip

from midfoot import bar, body, pipeline
from midfoot.bar import Coarse
from midfoot.records.bar import Candidate
from midfoot.records.base import NotMeasured
from midfoot.records.clip import Asked, ClipInfo, Frame


class _Pupil:
    """Wants three lessons, each at other moments, as after a single tap."""

    look = None

    def __init__(self, *_: object) -> None:
        self.wanted: Iterator[tuple[float, ...]] = iter([(0.1, 0.2), (0.4,), (0.6, 0.8)])
        self.sample_times_s: tuple[float, ...] = next(self.wanted)
        self.taught: list[int] = []
        _PUPILS.append(self)

    def learn(self, chosen: Iterable[Frame]) -> None:
        self.taught.append(len(list(chosen)))
        self.sample_times_s = next(self.wanted, ())

    def see(self, frame: Frame) -> None:
        pass

    def result(self) -> None:
        return None


_PUPILS: list[_Pupil] = []


def test_the_follower_is_taught_until_it_wants_nothing_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fixed fault: one lesson only, so that a single tap was never followed by its averaged disc."""
    clip = tmp_path / "set.mp4"
    write_clip(clip)
    coarse = Coarse("found", np.array([0.5]), np.array([[40.0, 30.0]]), np.array([8.0]), candidates=(
        Candidate(40.0, 30.0, 8.0, 0.5, 1.0),))  # fmt: skip
    look = type("Look", (), {"hypotheses": [coarse], "people": None, "sightings": None, "tilt": None})()
    monkeypatch.setattr(bar, "Follower", _Pupil)
    monkeypatch.setattr(body, "choose_lifter", lambda *_, **__: NotMeasured("nobody"))

    class _Enough(Exception):
        pass

    def enough(*_: object, **__: object) -> None:
        raise _Enough

    monkeypatch.setattr(pipeline.footage, "sweep", enough)
    with pytest.raises(_Enough):
        pipeline._second_look(
            pipeline.Request(clip, Asked("squat")), _info(clip), None, look, lambda *_: None, None
        )

    assert _PUPILS[-1].taught == [2, 1, 2]


def _info(clip: Path) -> ClipInfo:
    from midfoot.footage import probe

    return probe(clip)

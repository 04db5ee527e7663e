"""Cuts, light and repeated frames are noticed; several consumers see one decode."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import numpy as np
import pytest

from midfoot.footage import Stopped, Watch, sweep
from midfoot.records.clip import Frame


def _frame(i: int, luma: np.ndarray) -> Frame:
    return Frame(i, i / 30, luma.astype(np.uint8), lambda: np.dstack([luma] * 3).astype(np.uint8))


def _walk(count: int, *, cut_at: int | None = None, hold: int = 1, level: float = 1.0) -> Iterator[Frame]:
    """A textured scene with a disc that moves; from `cut_at` on another scene; each picture shown `hold` times."""
    rng = np.random.default_rng(5)
    scenes = [np.kron(rng.integers(40, 200, (12, 16)), np.ones((20, 20))) for _ in range(2)]
    for i in range(count):
        k = i // hold
        picture = scenes[int(cut_at is not None and i >= cut_at)].copy()
        y = int(120 + 80 * np.sin(k / 6))
        picture[y - 25 : y + 25, 140:190] = 250
        yield _frame(i, picture * level)


def _watched(source: Iterator[Frame]):
    watch = Watch()
    sweep(source, [watch])
    return watch.result()


def test_movement_alone_is_no_cut() -> None:
    """A disc moving over a still scene changes no scene."""
    assert _watched(_walk(90)).cuts_s == ()


def test_a_cut_is_found_at_its_frame() -> None:
    """The moment is the first frame of the new scene."""
    assert _watched(_walk(90, cut_at=50)).cuts_s == pytest.approx((50 / 30,))


def test_frames_shown_twice_make_the_clock_doubtful() -> None:
    """A clip stretched by showing every frame twice says so; an ordinary one does not."""
    assert "twice" in _watched(_walk(120, hold=2)).repeat_doubt
    assert _watched(_walk(120)).repeat_doubt == ""


def test_light_is_measured() -> None:
    """A scene at a tenth of its light is dark in most of the picture."""
    assert _watched(_walk(40, level=0.1)).dark_share > 0.9
    assert _watched(_walk(40)).dark_share < 0.1


class _Counts:
    def __init__(self) -> None:
        self.seen: list[int] = []

    def see(self, frame: Frame) -> None:
        self.seen.append(frame.index)


class _Breaks:
    def see(self, frame: Frame) -> None:
        if frame.index == 7:
            raise ZeroDivisionError("broken consumer")


def test_every_consumer_sees_every_frame_in_order() -> None:
    """Two consumers, one decode."""
    one, two = _Counts(), _Counts()

    assert sweep(_walk(50), [one, two]) == 50

    assert one.seen == two.seen == list(range(50))


def test_an_error_in_a_consumer_is_raised_and_nothing_hangs() -> None:
    """The sweep ends, the other consumer's thread too."""
    with pytest.raises(ZeroDivisionError):
        sweep(_walk(200), [_Breaks(), _Counts()])


def test_stop_ends_the_sweep() -> None:
    """A set stop flag ends with Stopped."""
    stop = threading.Event()
    stop.set()

    with pytest.raises(Stopped):
        sweep(_walk(50), [_Counts()], stop=stop)

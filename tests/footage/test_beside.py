"""A sweep beside other work: it is waited for, its errors arrive, and it ends when the other work fails."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import numpy as np
import pytest

from midfoot.footage import Stopped, Watch, beside
from midfoot.records.clip import Frame


def _frames(count: int = 20, gate: threading.Event | None = None) -> Iterator[Frame]:
    luma = np.full((48, 64), 90, np.uint8)
    for i in range(count):
        if gate is not None:
            assert gate.wait(10)
        yield Frame(i, i / 30, luma, lambda: np.dstack([luma] * 3))


def test_leaving_the_block_waits_for_every_frame() -> None:
    watch, gate, told = Watch(), threading.Event(), []
    with beside(_frames(gate=gate), [watch], progress=told.append):
        assert watch.result().frames == 0
        gate.set()
    assert watch.result().frames == 20
    assert told
    assert told == sorted(told)
    assert told[-1] <= 19 / 30


class _Fails:
    def see(self, frame: Frame) -> None:
        raise ArithmeticError(frame.index)


def test_an_error_of_the_sweep_is_raised_after_the_block() -> None:
    reached = []
    with pytest.raises(ArithmeticError), beside(_frames(), [_Fails()]):
        reached.append(True)
    assert reached


def test_an_error_in_the_block_ends_the_sweep() -> None:
    watch, threads = Watch(), threading.active_count()
    with pytest.raises(KeyError), beside(_frames(10**7), [watch]):
        raise KeyError
    assert threading.active_count() == threads
    assert watch.result().frames < 10**6


def test_stopping_from_outside_ends_both() -> None:
    stop = threading.Event()
    with pytest.raises(Stopped), beside(_frames(10**7), [Watch()], stop=stop):
        stop.set()

"""A network without the parts that nobody asks for answers as the whole one does."""

from __future__ import annotations

import numpy as np
import pytest
from body.network import files

from midfoot.body.landmarks import OUTPUTS
from midfoot.body.trim import trimmed


def _run(model: bytes) -> list[np.ndarray]:
    from ai_edge_litert.interpreter import Interpreter

    net = Interpreter(model_content=model, num_threads=1)
    net.allocate_tensors()
    picture = np.random.default_rng(3).random(net.get_input_details()[0]["shape"]).astype(np.float32)
    net.set_tensor(net.get_input_details()[0]["index"], picture)
    net.invoke()
    return [net.get_tensor(o["index"]) for o in net.get_output_details()]


def test_the_answers_that_stay_are_the_same_to_the_last_bit() -> None:
    model = files().full.read_bytes()
    whole, part = _run(model), _run(trimmed(model, OUTPUTS))
    assert len(part) == len(OUTPUTS) < len(whole)
    for position, answer in zip(OUTPUTS, part, strict=True):
        np.testing.assert_array_equal(answer, whole[position])


def test_the_order_is_the_one_asked_for_and_less_is_kept() -> None:
    model = files().full.read_bytes()
    whole, part = _run(model), _run(trimmed(model, (4, 0)))
    np.testing.assert_array_equal(part[0], whole[4])
    np.testing.assert_array_equal(part[1], whole[0])
    assert len(trimmed(model, OUTPUTS)) < len(model)


@pytest.mark.parametrize("wanted", [(), (5,), (-1,)])
def test_an_output_that_is_not_there_is_refused(wanted: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="expected positions below 5"):
        trimmed(files().full.read_bytes(), wanted)

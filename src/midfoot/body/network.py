"""One network file on LiteRT, one thread: uint8 pictures in, arrays out."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from midfoot.body.trim import trimmed


class Network:
    """A network with one picture as input.

    Parameters
    ----------
    path : Path
        The .tflite file.
    wanted : tuple of int
        Positions of the outputs that are needed; what leads to others only is not run.

    Notes
    -----
    One thread on purpose: two threads within one network gain nothing worth having on small networks, and the
    stages already run beside each other. An instance belongs to one thread at a time.
    """

    def __init__(self, path: Path, wanted: tuple[int, ...]) -> None:
        from ai_edge_litert.interpreter import Interpreter  # late: 0.3 s that programs without pose do not owe

        self._run: Any = Interpreter(model_content=trimmed(path.read_bytes(), wanted), num_threads=1)
        with _hushed():
            self._run.allocate_tensors()
        self._input = self._run.get_input_details()[0]
        self._outputs = [o["index"] for o in self._run.get_output_details()]
        self.size: int = int(self._input["shape"][1])
        self._scaled = np.empty((1, self.size, self.size, 3), np.float32)

    def __call__(self, picture: NDArray[np.uint8], scale: float, offset: float) -> list[NDArray[np.float32]]:
        """Run on `picture * scale + offset`, give copies of the wanted outputs in their order."""
        np.multiply(picture[None], np.float32(scale), out=self._scaled, casting="unsafe")
        if offset:
            self._scaled += np.float32(offset)
        self._run.set_tensor(self._input["index"], self._scaled)
        self._run.invoke()
        return [self._run.get_tensor(index) for index in self._outputs]


@contextmanager
def _hushed() -> Iterator[None]:
    """Keep file descriptor 2 quiet: LiteRT announces its delegate there, past Python, and has no switch for it.

    What really fails is raised as an exception and is not lost.
    """
    try:
        kept = os.dup(2)
    except OSError:  # no standard error at all, as under some services
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)

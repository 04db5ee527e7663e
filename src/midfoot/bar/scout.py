"""The first look over the clip: discs every few frames, and the camera's own movement in all of them."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from midfoot.bar.scene import CameraMotion
from midfoot.bar.tracklets import LEAST_SCORE
from midfoot.records.bar import Box, Sightings
from midfoot.records.clip import ClipInfo, Frame

LOOK_EVERY_S = 0.1
"""Time between looks for discs: a bar at 3 m/s goes a radius and a third in it."""


class Proposes(Protocol):
    """Something that proposes discs in a picture."""

    def propose(self, rgb: np.ndarray) -> tuple[Box, ...]:
        """Give the discs of `rgb` (height, width, 3) uint8, in its own pixels."""


class Scout:
    """Consumer of the first look: give it every frame with `see`, then take `result`.

    Parameters
    ----------
    info : what is known of the clip.
    proposer : proposes discs; the network that comes with the program by default.
    """

    def __init__(self, info: ClipInfo, proposer: Proposes | None = None) -> None:
        if proposer is None:
            from midfoot.bar.proposer import Proposer

            proposer = Proposer(score=LEAST_SCORE)
        self._proposer = proposer
        self._camera = CameraMotion()
        self._looks_t_s: list[float] = []
        self._boxes: list[tuple[Box, ...]] = []
        # at 25 fps every second frame is 0.08 s apart, every third 0.12 s: take what is nearest
        self._slack_s = 0.45 * min(info.frame_interval_median_s, LOOK_EVERY_S)

    def see(self, frame: Frame) -> None:
        """Take the next frame: its movement always, its discs when it is time for a look."""
        self._camera.see(frame)
        if self._looks_t_s and frame.t_s - self._looks_t_s[-1] < LOOK_EVERY_S - self._slack_s:
            return
        self._looks_t_s.append(frame.t_s)
        self._boxes.append(tuple(self._proposer.propose(frame.rgb())))

    def result(self) -> Sightings:
        """Give everything seen."""
        camera = self._camera.result()
        return Sightings(
            boxes_t_s=np.array(self._looks_t_s), boxes=tuple(self._boxes), camera_t_s=camera.t_s,
            camera_to_first=camera.to_first.reshape(-1, 2, 3), camera_ok=camera.ok,
        )  # fmt: skip

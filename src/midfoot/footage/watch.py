"""Watching a clip go by: cuts, light, repeated frames. Cheap; runs beside the other consumers."""

from __future__ import annotations

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.records.base import FloatArray
from midfoot.records.clip import Frame

THUMB_PX = 48
CUT_STEP = 2.0
"""A cut is a step in the small picture this many times the clip's usual large step."""
CUT_FLOOR_LUMA = 14.0
ALONE = 2.5
"""A cut is one step: a whipped or bumped camera and a lamp's flash make several that are alike in size."""
SAME_SCENE = 0.5
"""Likeness of the detail of two small pictures, shifted to fit, from which they show the same scene."""
SHIFT_PX = 6
DETAIL_PX = 3.0
FLAT = 0.2
"""A picture whose detail is under this share of the other's (a title, black) is another scene."""
FINE_PX = 192
"""Pictures are made small in two steps: averaging whole grey levels once would hide what changes by less."""
LIVELY_SHARE = 0.02
"""The share of the small picture that changes most: where something moves, however little of the picture it is."""
REPEATS = (2, 3, 4)
"""How often each frame is shown in clips that were slowed down by showing frames again."""
WINDOW = 24
"""Frames over which the pattern of repeated frames is looked for; the least change in them (grey levels)."""
MOVING_LUMA = 0.8
PATTERN_SHARE, PATTERN_SIZE = 0.7, 0.35
"""Share of the changes' (log) variance that the pattern explains, and its size as a log of the changes."""
MIN_WINDOWS, MIN_WINDOW_SHARE = 2, 0.2
"""No window of sixteen ordinary clips, also re-encoded small, has the pattern; with every frame of them shown two
or three times 0.4 to 1.0 of the windows do, 0.2 to 1.0 after coarse encoding."""


@frozen
class Watched:
    """What was noticed. `cuts_s` moments where the scene changes as a whole, `median_luma` 0..255,
    `dark_share` share of pixels under 40 grey levels, `repeat_doubt` says in a sentence when frames are shown
    again and again, `frames` and `last_s` what was really decoded.
    """

    cuts_s: tuple[float, ...]
    median_luma: float
    dark_share: float
    repeat_doubt: str
    frames: int
    last_s: float


class Watch:
    """Consumer that notices cuts, darkness and repeated frames."""

    def __init__(self) -> None:
        self._before: FloatArray | None = None
        self._t_s: list[float] = []
        self._step: list[float] = []
        self._match: list[float] = []
        self._lively: list[float] = []
        self._luma: list[float] = []
        self._dark: list[float] = []

    def see(self, frame: Frame) -> None:
        """Take one frame in."""
        fine = cv2.resize(_halved(frame.luma), (FINE_PX, FINE_PX), interpolation=cv2.INTER_AREA).astype(np.float32)
        small = cv2.resize(fine, (THUMB_PX, THUMB_PX), interpolation=cv2.INTER_AREA).astype(np.float64)
        if self._before is not None:
            change = np.abs(small - self._before).ravel()
            self._step.append(float(change.mean()))
            most = len(change) - round(LIVELY_SHARE * len(change))
            self._lively.append(float(np.partition(change, most)[most]))
            # looked at only where the step can be a cut: it costs more than the step
            self._match.append(_likeness(small, self._before) if self._step[-1] > CUT_FLOOR_LUMA else 1.0)
        else:
            self._step.append(0.0)
            self._match.append(1.0)
        self._before = small
        self._t_s.append(frame.t_s)
        self._luma.append(float(np.median(small)))
        self._dark.append(float((small < 40).mean()))

    def result(self) -> Watched:
        """Give what was noticed in all frames seen."""
        step, match = np.array(self._step), np.array(self._match)
        if len(step) < 3:
            return Watched((), 128.0, 0.0, "", len(step), self._t_s[-1] if self._t_s else 0.0)
        usual = float(np.quantile(step[1:], 0.95))
        bound = max(CUT_FLOOR_LUMA, CUT_STEP * usual)
        beside = np.maximum(np.append(step[1:], 0.0), np.insert(step[:-1], 0, 0.0))
        cut = (step > bound) & (step > ALONE * beside) & (match < SAME_SCENE)
        return Watched(
            cuts_s=tuple(self._t_s[i] for i in np.flatnonzero(cut)),
            median_luma=float(np.median(self._luma)),
            dark_share=float(np.median(self._dark)),
            repeat_doubt=_repeat_doubt(np.array(self._lively)),
            frames=len(step),
            last_s=self._t_s[-1],
        )


def _halved(luma: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Halve an even picture while it stays larger than the fine one: a quarter of the time of one odd step."""
    while min(luma.shape) >= 2 * FINE_PX and not any(side % 2 for side in luma.shape):
        size = (luma.shape[1] // 2, luma.shape[0] // 2)
        luma = np.asarray(cv2.resize(luma, size, interpolation=cv2.INTER_AREA), np.uint8)
    return luma


def _likeness(a: FloatArray, b: FloatArray) -> float:
    """Tell how alike the detail of two small pictures is, -1..1, wherever within 6 px it fits best.

    Light and its slow changes over the picture are left out, and so is a camera that was pushed.
    """
    a, b = _detail(a), _detail(b)
    most, least = max(a.std(), b.std()), min(a.std(), b.std())
    if most < 1.0:
        return 1.0  # two pictures without anything in them
    if least < FLAT * most:
        return 0.0
    inner = b[SHIFT_PX:-SHIFT_PX, SHIFT_PX:-SHIFT_PX].astype(np.float32)
    return float(cv2.matchTemplate(a.astype(np.float32), inner, cv2.TM_CCOEFF_NORMED).max())


def _detail(small: FloatArray) -> FloatArray:
    return np.asarray(small - cv2.GaussianBlur(small, (0, 0), DETAIL_PX), np.float64)


def _repeat_doubt(lively: FloatArray) -> str:
    """Say when frames are shown several times in a steady pattern while something moves.

    Phones that drop to fewer frames in poor light, and films brought to another rate, repeat a frame now and then
    or in a pattern of five: that leaves the clock as it was and is not said.
    """
    for times in REPEATS:
        windows = [lively[a : a + WINDOW] for a in range(0, len(lively) - WINDOW + 1, WINDOW // 2)]
        moving = [w for w in windows if np.quantile(w, 0.9) >= MOVING_LUMA]
        held = sum(_pattern(w, times) for w in moving)
        if held >= MIN_WINDOWS and held >= MIN_WINDOW_SHARE * len(moving):
            return (
                f"every picture is shown {'twice' if times == 2 else f'{times} times'}, so the clip was slowed "
                "down, or filmed at fewer frames a second than it plays."
            )
    return ""


def _pattern(lively: FloatArray, times: int) -> bool:
    """Tell whether one change in `times` is large and the others are small, the same ones throughout."""
    x = np.log(lively + 0.2)
    whole = x[: len(x) // times * times].reshape(-1, times)
    own = whole - whole.mean(axis=1, keepdims=True)  # how fast things move may change over the window
    phase = own.mean(axis=0)
    order = np.sort(phase)
    variance = float((own**2).mean())
    explained = float((phase**2).mean()) / variance if variance > 0 else 0.0
    return explained > PATTERN_SHARE and order[-1] - order[-2] > PATTERN_SIZE

"""Watching a clip go by: cuts, light, repeated frames. Cheap; runs beside the other consumers."""

from __future__ import annotations

import cv2
import numpy as np
from attrs import frozen

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
SAME_LUMA = 0.15
"""Mean difference in grey levels under which two small pictures are the same frame shown twice."""
MIN_REPEAT_SHARE = 0.2


@frozen
class Watched:
    """What was noticed. `cuts_s` moments where the scene changes as a whole, `median_luma` 0..255,
    `dark_share` share of pixels under 40 grey levels, `repeat_share` share of frames that repeat the one before,
    `frames` and `last_s` what was really decoded.
    """

    cuts_s: tuple[float, ...]
    median_luma: float
    dark_share: float
    repeat_share: float
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
        self._luma: list[float] = []
        self._dark: list[float] = []

    def see(self, frame: Frame) -> None:
        """Take one frame in."""
        small = cv2.resize(frame.luma, (THUMB_PX, THUMB_PX), interpolation=cv2.INTER_AREA).astype(np.float64)
        if self._before is not None:
            self._step.append(float(np.abs(small - self._before).mean()))
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
            return Watched((), 128.0, 0.0, 0.0, "", len(step), self._t_s[-1] if self._t_s else 0.0)
        usual = float(np.quantile(step[1:], 0.95))
        bound = max(CUT_FLOOR_LUMA, CUT_STEP * usual)
        beside = np.maximum(np.append(step[1:], 0.0), np.insert(step[:-1], 0, 0.0))
        cut = (step > bound) & (step > ALONE * beside) & (match < SAME_SCENE)
        repeats = step[1:] < SAME_LUMA
        share = float(repeats.mean())
        moving = float(np.quantile(step[1:], 0.9)) > 4 * SAME_LUMA
        return Watched(
            cuts_s=tuple(self._t_s[i] for i in np.flatnonzero(cut)),
            median_luma=float(np.median(self._luma)),
            dark_share=float(np.median(self._dark)),
            repeat_share=share,
            repeat_doubt=_repeat_doubt(step[1:], share) if moving else "",
            frames=len(step),
            last_s=self._t_s[-1],
        )


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


def _repeat_doubt(step: FloatArray, share: float) -> str:
    """Say when frames are shown twice while there is movement on both sides: the clip was retimed."""
    same = step < SAME_LUMA
    between = same[1:-1] & (step[:-2] > 4 * SAME_LUMA) & (step[2:] > 4 * SAME_LUMA)
    if len(between) and between.mean() > MIN_REPEAT_SHARE:
        return f"{share:.0%} of the frames are shown twice, so the clip has been retimed since it was filmed."
    return ""

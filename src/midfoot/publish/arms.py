"""Moment arms drawn on their frame: the vertical through the bar, and level from it to each joint, in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import cv2
import numpy as np

from midfoot.publish import look
from midfoot.publish.stills import STILL_HEIGHT_PX, with_strip
from midfoot.records.mechanics import ArmLine, ArmsInPicture, JointLoad, MomentOfRep

TYPE_PX, LINE_PX = 15.0, 21.0
AROUND = 0.3
"""Of the size of what is drawn: how much of the picture is kept around it, so that the lifter is seen whole."""


def arm_words(load: JointLoad) -> tuple[str, ...]:
    """Write one joint's arm and moment in a line each: mm, then N·m, with the whole standard deviation.

    Where the arm is smaller than its error there is no moment to speak of, and that is said instead.
    """
    if load.arm_mm is None:
        return ()
    arm = f"{load.joint} {abs(load.arm_mm.value):.0f} ± {load.arm_mm.total_sd:.0f} mm"
    if load.arm_mm.total_sd >= abs(load.arm_mm.value):
        return arm, "within its error"
    moment = load.moment_nm or load.bar_nm
    if moment is None:
        return (arm,)
    name = "" if load.moment_nm is not None else "bar alone "
    return arm, f"{name}{moment.value:.0f} ± {moment.total_sd:.0f} N·m".replace("-", "−")


def scene_of(drawn: Sequence[ArmsInPicture], size_px: tuple[int, int]) -> tuple[int, int, int, int]:
    """Give the part of the picture that holds every arm of a set: left, top, right, bottom.

    The same for all stills of a set, so that they can be compared; `size_px` is the picture's width and height.
    """
    fixed = [p for d in drawn for p in (d.bar_px, *d.vertical_px, *d.lifter_px)]
    spots = np.array(fixed + [p for d in drawn for arm in d.arms for p in (arm.joint_px, arm.end_px)])
    width, height = size_px
    if not len(spots):
        return 0, 0, width, height
    low, high = spots.min(axis=0), spots.max(axis=0)
    reach = float(max(high - low))
    box_h = (float(high[1] - low[1]) + 2 * AROUND * reach) or float(height)
    box_w = max(float(high[0] - low[0]) + 2 * AROUND * reach, box_h)
    middle = (low + high) / 2
    left, right = _within(float(middle[0]), box_w, width)
    top, bottom = _within(float(middle[1]), box_h, height)
    return left, top, right, bottom


def _within(middle: float, size: float, limit: int) -> tuple[int, int]:
    size = min(size, float(limit))
    start = min(max(middle - size / 2, 0.0), limit - size)
    return int(start), int(start + size)


def arms_still(
    rgb: look.Picture,
    drawn: ArmsInPicture,
    moment: MomentOfRep,
    scene: tuple[int, int, int, int],
    *,
    head: str,
    words: str,
) -> look.Picture:
    """Draw the moment arms of one moment.

    Parameters
    ----------
    rgb : the frame, upright.
    drawn, moment : where the arms lie in it, and what they are.
    scene : the part of the frame to keep.
    head, words : for the strip under the picture.

    Returns
    -------
    Picture
        RGB, 640 px high and the strip.
    """
    left, top, right, bottom = scene
    zoom = STILL_HEIGHT_PX / (bottom - top)
    part = np.ascontiguousarray(rgb[top:bottom, left:right])
    size = (round(part.shape[1] * zoom), STILL_HEIGHT_PX)
    picture = cv2.resize(part, size, interpolation=cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC)
    picture = np.asarray(picture, np.uint8)

    def here(spot: tuple[float, float]) -> tuple[float, float]:
        return (spot[0] - left) * zoom, (spot[1] - top) * zoom

    look.dashes(picture, here(drawn.vertical_px[0]), here(drawn.vertical_px[1]), look.BODY)
    look.cross(picture, here(drawn.bar_px), 7.0, look.BODY)
    loads = {load.joint: load for load in moment.loads}
    for arm in drawn.arms:
        _arm(picture, here(arm.joint_px), here(arm.end_px))
    labels = {arm.joint: arm_words(loads[arm.joint]) for arm in drawn.arms}
    for joint, (x, y) in _label_places(picture, drawn.arms, labels, here).items():
        for k, line in enumerate(labels[joint]):
            look.label(picture, line, (x, y + k * LINE_PX), TYPE_PX)
    return with_strip(picture, head, drawn.at_s, words)


def _arm(picture: look.Picture, joint: tuple[float, float], end: tuple[float, float]) -> None:
    look.line(picture, joint, end, look.EVIDENCE, halo=True)
    look.line(picture, (end[0], end[1] - 6), (end[0], end[1] + 6), look.EVIDENCE, halo=True)
    look.ring(picture, joint, (5.0, 5.0), 0.0, look.EVIDENCE)


def _label_places(
    picture: look.Picture,
    arms: Iterable[ArmLine],
    labels: Mapping[str, tuple[str, ...]],
    here: Callable[[tuple[float, float]], tuple[float, float]],
) -> dict[str, tuple[float, float]]:
    """Give a place for the first line of each label: beyond its joint, away from the bar, none over another."""
    placed: dict[str, tuple[float, float]] = {}
    taken: list[tuple[float, float, float, float]] = []
    for arm in sorted(arms, key=lambda a: a.joint_px[1]):
        x, y = here(arm.joint_px)
        half = max(look.text_width(line, TYPE_PX, 500) for line in labels[arm.joint]) / 2 + 6
        high = LINE_PX * len(labels[arm.joint])
        outward = -1.0 if arm.joint_px[0] < arm.end_px[0] else 1.0
        centre = float(np.clip(x + outward * (half + 10), half, max(half, picture.shape[1] - half)))
        top = y - high - 10 if abs(centre - x) < half else y - high / 2
        for other, above, wide, below in taken:
            if abs(centre - other) < half + wide and top < below + 6 and above < top + high + 6:
                top = below + 6
        taken.append((centre, top, half, top + high))
        placed[arm.joint] = (centre, top + TYPE_PX)
    return placed

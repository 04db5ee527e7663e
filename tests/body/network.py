"""Shared by the tests that run the pose network: its files, and frames of a clip."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from midfoot.body import LifterPose, ModelFiles, ModelsError, PeopleScout, choose_lifter, ensure_models, verify
from midfoot.body.lifter import LifterChoice
from midfoot.footage import frames
from midfoot.records.body import BodyTrack
from midfoot.records.clip import Frame, Reading, Tap


def files() -> ModelFiles:
    """Give the network's files as the program uses them by default, or skip: tests do not download."""
    try:
        verify()
        return ensure_models()
    except ModelsError as error:
        pytest.skip(f"the pose network is not at hand: {error}")


def every(path: Path, until_s: float | None = None) -> Iterator[Frame]:
    """Give the frames of a clip, up to a moment."""
    return frames(path, Reading(to_s=until_s))


def followed(
    path: Path, lift: str, bar: object = None, *, until_s: float | None = None, tap: Tap | None = None
) -> tuple[LifterChoice, BodyTrack]:
    """Run both looks of the body stage over a clip; with a tap the first look ends 2 s after it."""
    models = files()
    scout = PeopleScout(models, lift=lift)
    for frame in every(path, until_s if tap is None else tap.at_s + 2):
        scout.see(frame)
    choice = choose_lifter(scout.result(), bar, lift=lift, tap=tap)  # type: ignore[arg-type]
    assert isinstance(choice, LifterChoice), choice
    pose = LifterPose(models, choice)
    for frame in every(path, until_s):
        pose.see(frame)
    return choice, pose.result(bar)  # type: ignore[arg-type]

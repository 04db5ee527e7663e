from __future__ import annotations

import numpy as np
import pytest
from discs import LOOKS, Scene, squats

from midfoot.bar.joins import Path
from midfoot.bar.link_evidence import ONE_BAR_CORRELATION
from midfoot.bar.link_motion import Thing, thing, together
from midfoot.bar.tracklets import gather

WAY_PX = 176.0


def followed(down: np.ndarray, x: float, radius: float) -> Thing:
    """A disc boxed at every look, as one path."""
    scene = Scene()
    scene.disc(np.stack([np.full(len(LOOKS), x), 260 + down], axis=1), radius, seen=1.0)
    seen = gather(scene.sightings())
    return thing(Path(np.arange(len(seen.t_s)), 0.0), seen, "squat")


def test_looks_at_which_an_end_was_astray_do_not_take_it_from_its_bar() -> None:
    near = followed(squats(LOOKS, WAY_PX), 520, 80)
    down = 0.7 * squats(LOOKS, WAY_PX)
    for at in (30, 58, 90):  # onto a plate stored there, for two looks
        down[at : at + 2] -= 80.0
    held = together(near, followed(down, 760, 56))
    assert held.correlation > ONE_BAR_CORRELATION
    assert held.ratio == pytest.approx(0.7, abs=0.1)


@pytest.mark.parametrize(
    "other",
    [
        np.where(LOOKS < 8.0, squats(LOOKS, WAY_PX), 0.0),
        squats(LOOKS - 0.3, WAY_PX),
        squats(LOOKS, WAY_PX, every_s=3.6),
    ],
    ids=["rests through one rep", "is a third of a second late", "is slower"],
)
def test_another_bar_goes_its_own_way(other: np.ndarray) -> None:
    mine = followed(squats(LOOKS, WAY_PX), 520, 80)
    assert together(mine, followed(other, 900, 78)).correlation < ONE_BAR_CORRELATION

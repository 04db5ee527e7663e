"""Velocity drawn rep by rep."""

from __future__ import annotations

import re

import numpy as np

from midfoot.publish.charts import shades, velocity_over_time
from midfoot.records.measures import Curve


def test_the_key_shows_each_rep_in_the_shade_of_its_line() -> None:
    """Seen on a printed page: the key took the band's opacity, and all of its dots looked the same."""
    t = np.linspace(0, 1, 20)
    curves = tuple(
        Curve(n=n, t_s=t, up_mm=500 * t, velocity_m_s=np.sin(np.pi * t) / n, sd_m_s=np.full(20, 0.01))
        for n in (1, 2, 3)
    )
    key = re.findall(r'role-legend-symbol"[^>]*><path[^>]*>', velocity_over_time(curves))

    for drawn, shade in zip(key, shades(3), strict=True):
        assert f'fill="{shade}"' in drawn
        assert ' opacity="1"' in drawn

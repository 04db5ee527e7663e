"""What templates say of numbers and records."""

from __future__ import annotations

import pytest

from midfoot.web.words import not_judged

FRONT, HIPS = "film from the front", "hidden here: the plate hides the hip"


@pytest.mark.parametrize(
    ("ways", "said"),
    [
        ([], ""),
        ([{"how": FRONT, "what": ["Grip", "Knees"]}, {"how": HIPS, "what": ["Depth"]}], f"; for 2 more {FRONT}"),
        ([{"how": HIPS, "what": ["Depth"]}], "; not “Depth”: the plate hides the hip"),
        ([{"how": HIPS, "what": ["Depth", "Hips", "Lean"]}], "; not “Depth” and 2 more: the plate hides the hip"),
    ],
)
def test_what_a_clip_cannot_show_is_said_with_the_way_to_film_it(ways: list[dict[str, object]], said: str) -> None:
    assert not_judged(ways) == said

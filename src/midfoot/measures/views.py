"""Which view gives which measure: the reading side of views.toml."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from importlib import resources
from typing import Any

from attrs import frozen

from midfoot.records.bar import VIEW_CLASSES, View

GRADES = ("good", "weak", "none")
VIEW_WORDS = {
    "side": "from the side", "front_oblique": "from the front at an angle",
    "rear_oblique": "from the rear at an angle",
    "front": "from the front", "rear": "from the rear", "unknown": "from a view that could not be told",
}  # fmt: skip


@frozen
class ViewRule:
    """What every view gives of one measure; angles are sizes of the camera's yaw in degrees, None for no limit.

    `needs_facing`: without knowing which way the lifter faces the measure has no sign or no value.
    """

    grades: dict[str, str]
    film: str
    weak_from_deg: float | None = None
    none_from_deg: float | None = None
    needs_facing: bool = False

    def grade(self, view: View) -> str:
        """Give `good`, `weak` or `none` for a view."""
        grade = self.grades[view.view_class]
        yaw = abs(view.yaw_deg.value)
        if view.view_class not in ("front_oblique", "rear_oblique") or not math.isfinite(yaw):
            return grade
        if self.none_from_deg is not None and yaw >= self.none_from_deg:
            return "none"
        if self.weak_from_deg is not None and yaw >= self.weak_from_deg and grade == "good":
            return "weak"
        return grade


@cache
def _document() -> dict[str, Any]:
    text = resources.files("midfoot.measures").joinpath("views.toml").read_text("utf-8")
    return tomllib.loads(text)


def weak_factor() -> float:
    """Give by how much a weak view widens the sds."""
    return float(_document()["weak_factor"])


@cache
def rules() -> dict[str, ViewRule]:
    """Give the rule of every measure by id; a measure listed twice or with an unknown grade is an error."""
    found: dict[str, ViewRule] = {}
    signed = set(_document()["needs_facing"])
    for name, group in _document()["groups"].items():
        grades = {view: str(group[view]) for view in VIEW_CLASSES}
        wrong = sorted(set(grades.values()) - set(GRADES))
        if wrong:
            raise ValueError(f"views.toml: groups.{name}: expected {', '.join(GRADES)}, got {', '.join(wrong)}")
        limits = group.get("weak_from_deg"), group.get("none_from_deg")
        for measure in group["measures"]:
            if measure in found:
                raise ValueError(f"views.toml: {measure}: expected once, got twice")
            found[measure] = ViewRule(grades, group["film"], *limits, measure in signed)
    if left := sorted(signed - set(found)):
        raise ValueError(f"views.toml: needs_facing: {', '.join(left)}: expected in a group too")
    return found

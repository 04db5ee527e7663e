"""Bench press: the hands move on the bar."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import NOT_SIDE

FINDING = FindingDefinition(
    id="bench_grip_moves",
    lift="bench",
    title="The grip is not the same from rep to rep",
    what="The distance between the hands on the bar differs from the reference rep.",
    why="Geometry ties grip width to range, touch point and forearms: another grip is another lift.",
    how=(("front or rear", "both wrists on the bar's own line"), ("oblique", "the same, with wide errors"),
    NOT_SIDE),
    lies="Wrist centres stand some 70 mm outside the forefingers; that drops out of differences. A wrist behind "
    "a plate is inferred.",
    sources=("rulebooks allow at most 810 mm between the forefingers",),
    signs=(
        Sign(measure="grip_width_mm", words="distance between the forefingers", worse="away",
             said="the hands stood {size} {way} on the bar than in {ref}", ways=("farther apart", "closer"),
             limit="grip", most="likely"),
    ),
    beside=(("range_of_motion_mm", "range of motion"), ("touch_point_mm", "touch from the shoulder")),
    part="start",
    needs_bar=False,
    changes=(
        PossibleChange(id="bench_grip_marks", kind="setup", measure="grip_width_mm", direction="same", share=0.0,
                       text="Find the same place of the bar's marks with the same finger before every set.",
                       max_load_pct=None, max_rpe=None),
    ),
)  # fmt: skip

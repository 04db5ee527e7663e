"""Deadlift: one end of the bar runs ahead."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import ENDS, NOT_SIDE

FINDING = FindingDefinition(
    id="deadlift_uneven",
    lift="deadlift",
    title="The bar rises unevenly",
    what="While the bar rises one end of it runs ahead of the other.",
    why="It tells of hands off centre, feet that push unlike, or a mixed grip that turns the bar.",
    how=(("oblique", "height of both ends of the bar, where both are seen"), NOT_SIDE),
    lies="A bar that also turns, one end forward, looks tilted. Only the change within the rep counts.",
    signs=(
        Sign(measure="bar_tilt_change_deg", words="change of the bar's tilt in the pull", worse="away",
             against="nothing", said="the {way} end of the bar ran ahead by {size}", ways=ENDS,
             limit="tilt"),
    ),
    beside=(("bar_tilt_deg", "mean tilt in the pull"), ("grip_width_mm", "distance between the forefingers")),
    changes=(
        PossibleChange(id="deadlift_uneven_marks", kind="setup", measure="bar_tilt_change_deg", direction="zero",
                       text="Set hands and feet by the bar's marks before every rep."),
        PossibleChange(id="deadlift_uneven_grip", kind="setup", measure="bar_tilt_change_deg", direction="zero",
                       alters="grip", text="As an experiment, film light singles with the other hand turned, or "
                       "with straps, and compare.", max_load_pct=60.0, max_rpe=6.0),
    ),
)  # fmt: skip

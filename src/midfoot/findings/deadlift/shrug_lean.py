"""Deadlift: shrug or lean back at the top."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="deadlift_shrug_lean",
    lift="deadlift",
    title="The top is finished with a shrug or a lean back",
    what="The bar still rises after knees and hips have stopped, more than in the reference rep, or the body "
    "leans back behind the ankles at the top.",
    why="The rulebooks ask for shoulders back, not for more. A shrug tires and a lean back can unlock the knees.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="The last degrees of hip and knee lift the bar by 10-20 mm themselves. Long feet or a camera off level "
    "look like a lean.",
    signs=(
        Sign(measure="shrug_rise_mm", words="bar rising after knees and hips stopped",
             said="the bar still rose {size} more after knees and hips had stopped than in {ref}",
             limit="shrug_rise", most="likely"),
        Sign(measure="body_lean_top_deg", words="lean of the body at the top", worse="less", against="nothing",
             said="the body leaned {size} back at the top", limit="lean_back", most="likely"),
    ),
    beside=(
        ("shoulder_behind_bar_mm", "shoulder behind the bar at the top"),
        ("knee_lockout_gap_deg", "bend left in the near knee"),
    ),
    part="finish",
    needs_bar=False,
    changes=(
        PossibleChange(id="deadlift_shrug_stand", kind="cue", measure="shrug_rise_mm",
                       text="Finish with the hips and stand still; tall is enough."),
        PossibleChange(id="deadlift_shrug_hold", kind="drill", measure="shrug_rise_mm",
                       text="Hold the top for two seconds with long arms.", max_load_pct=80.0),
    ),
)  # fmt: skip

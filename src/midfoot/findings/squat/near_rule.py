"""Squat: depth near the line that the rulebooks draw, or above it."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="squat_depth_near_rule",
    lift="squat",
    title="Depth does not clear the rule",
    what="At the low the hip is not clearly below the top of the knee, as far as joint centres or the lifter's "
    "own marks can tell.",
    why="The rulebooks ask for the top of the legs at the hip to be lower than the top of the knees. Depth that "
    "is in doubt on video is in doubt on the platform.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="The rule speaks of surfaces, the camera follows joint centres: they stand 20-30 mm otherwise in every "
    "person. One pair of marks of crease and knee top for this lifter settles most of it. A high camera makes "
    "squats look shallower. The referee decides.",
    sources=("IPF technical rules: top surface of the legs at the hip joint lower than the top of the knees",),
    signs=(
        Sign(measure="squat_depth_mm", words="hip below the knee", worse="less", against="nothing",
             said="the hip stood {size} above the knee at the low", limit="depth_line", close=15.0),
    ),
    beside=(("low_height_change_mm", "low above the set's lowest low"),),
    part="low",
    needs_bar=False,
    changes=(
        PossibleChange(id="squat_near_rule_film", kind="setup", measure="squat_depth_mm", direction="more",
                       text="Film one set from the side at knee height and mark hip crease and knee top once, so "
                       "that your own depth is known.", share=0.0, max_load_pct=None, max_rpe=None),
        PossibleChange(id="squat_near_rule_pause", kind="drill", measure="squat_depth_mm", direction="more",
                       share=0.6,
                       text="Pause squats with a light bar: two seconds a hand's width below the depth shown "
                       "here.",
                       max_load_pct=70.0),
    ),
)  # fmt: skip

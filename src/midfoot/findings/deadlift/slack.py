"""Deadlift: the slack is not taken before the pull."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="deadlift_slack",
    lift="deadlift",
    title="The slack is not taken before the pull",
    what="The time from the shoulders' rise to the plates leaving is shorter than in the reference rep, or the "
    "hips rise far before the plates leave.",
    why="A bar that is jerked off the floor pulls the lifter out of position before it moves.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "the time alone, with wide errors")),
    lies="A lifter who drops into the pull and goes has no slack to see; one who rises slowly into position "
    "looks as if he took it.",
    signs=(
        Sign(measure="slack_time_s", words="time from the shoulders' rise to lift-off", worse="less",
             said="the slack took {size} less time than in {ref}", limit="slack", most="likely"),
        Sign(measure="slack_hip_rise_mm", words="hips rising before lift-off",
             said="the hips rose {size} more before the plates left than in {ref}", limit="slack_hips",
             most="likely"),
    ),
    beside=(
        ("slack_wrist_rise_mm", "hands rising before lift-off"),
        ("hip_lead_ratio", "hip rise against bar rise"),
    ),
    part="start",
    causes=(
        PossibleCause(
            id="hips_drop", text="The hips are dropped and shot up again",
            clues=(
                Clue(measure="slack_hip_rise_mm", clear=20.0, says_for="the hips rise before the plates leave",
                     says_against="the hips keep their height"),
                Clue(measure="hip_lead_ratio", clear=0.10, says_for="the hips lead off the floor",
                     says_against="hips and bar leave together"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="deadlift_slack_long_arms", kind="cue", measure="slack_time_s", direction="more",
                       text="With long arms, pull the bar up against the plates until it clicks, then push the "
                       "floor away."),
        PossibleChange(id="deadlift_slack_count", kind="drill", measure="slack_time_s", direction="more",
                       text="Light singles with a count of two between tension and lift-off.", max_load_pct=70.0),
    ),
)  # fmt: skip

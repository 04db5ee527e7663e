"""Bench press: forearms off the vertical at the touch."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import ALONG_BENCH, JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="bench_forearms",
    lift="bench",
    title="The forearms leave the vertical at the touch",
    what="At the touch the near forearm leans from the vertical, seen from the side, or both lean in or out, "
    "seen from the head or foot end.",
    why="A bar that rests over leaning forearms is pressed along and not up. Geometry ties it to grip width, "
    "touch point and range.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "both forearms in the picture")),
    lies="In a true side view the plate often covers the elbow at the touch. A wrist that is bent back puts the "
    "bar beside the forearm's line, by some 5 degrees. Forearms that point at the camera have no direction in "
    "the picture.",
    signs=(
        Sign(measure="forearm_angle_deg", words="near forearm from the vertical at the touch", worse="away",
             against="nothing", said="the near forearm leaned {size} {way} at the touch", ways=ALONG_BENCH,
             limit="forearm_touch", most="likely"),
        Sign(measure="forearm_sideways_deg", words="forearms from the vertical, from the front", worse="away",
             against="nothing", said="the forearms leaned {size} at the touch, elbows {way} the wrists",
             ways=("outside", "inside"),
             limit="forearms_out",
             most="likely"),
    ),
    beside=(
        ("touch_point_mm", "touch from the shoulder"),
        ("grip_width_mm", "distance between the forefingers"),
    ),
    part="low",
    needs_bar=False,
    causes=(
        PossibleCause(
            id="touch_low", text="The bar touches low against the shoulders",
            clues=(
                Clue(measure="path_at_low_mm", clear=15.0, says_for="the touch lies lower than in the reference "
                     "rep",
                     says_against="the touch lies where it did"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="bench_forearms_under", kind="cue", measure="forearm_angle_deg", direction="zero",
                       text="Bring the elbows under the bar at the touch, wrists over elbows."),
        PossibleChange(id="bench_forearms_grip", kind="setup", measure="forearm_angle_deg", direction="zero",
                       alters="grip", by_mm=-76.0,
                       suits=(("forearm_angle_deg", 1), ("forearm_sideways_deg", -1)),
                       text="An experiment worth trying, film both: one light set "
                       "as now, and one with each hand two fingers "
                       "narrower, and see where the forearms stand upright.", max_load_pct=60.0,
                       max_rpe=6.0),
        PossibleChange(id="bench_forearms_wider", kind="setup", measure="forearm_angle_deg", direction="zero",
                       alters="grip", by_mm=76.0,
                       suits=(("forearm_angle_deg", -1), ("forearm_sideways_deg", 1)),
                       text="An experiment worth trying, film both: one light set "
                       "as now, and one with each hand two fingers "
                       "wider, within what the rules allow, and see where the forearms stand upright.",
                       max_load_pct=60.0, max_rpe=6.0),
    ),
)  # fmt: skip

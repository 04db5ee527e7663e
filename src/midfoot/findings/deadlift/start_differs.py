"""Deadlift: the start differs from rep to rep."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE, PATH_OBLIQUE

FINDING = FindingDefinition(
    id="deadlift_start_differs",
    lift="deadlift",
    title="The start is not the same from rep to rep",
    what="At lift-off the hips stand at another height above the bar, or the trunk at another angle, than in the "
    "reference rep.",
    why="Reps that start alike can be compared and practised. A start that wanders is another lift each time.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, PATH_OBLIQUE),
    lies="Hips that rise before the plates leave have risen already. A bar that rolled is no fault where the "
    "lifter walked after it.",
    signs=(
        Sign(measure="hip_height_liftoff_mm", words="hip above the bar at lift-off", worse="away",
             said="the hips stood {size} {way} at lift-off than in {ref}", ways=("higher", "lower"),
             limit="start_hips"),
        Sign(measure="trunk_angle_start_deg", words="trunk at lift-off", worse="away",
             said="the trunk stood {size} {way} at lift-off than in {ref}",
             ways=("farther forward", "more upright"), limit="start_trunk"),
    ),
    beside=(
        ("start_shift_mm", "shift of the bar's place on the floor"),
        ("knee_angle_start_deg", "knee flexion at lift-off"),
        ("wait_before_time_s", "time since the rep before"),
    ),
    part="start",
    changes=(
        PossibleChange(id="deadlift_start_routine", kind="setup", measure="hip_height_liftoff_mm",
                       direction="same",
                       text="Take the same three steps before every rep, feet, then hands, then chest up to the "
                       "bar's tension."),
        PossibleChange(id="deadlift_start_singles", kind="drill", measure="hip_height_liftoff_mm",
                       direction="same",
                       text="Sets of singles: let go, stand up, set up again.", max_load_pct=80.0),
    ),
)  # fmt: skip

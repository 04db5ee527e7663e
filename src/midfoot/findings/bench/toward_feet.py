"""Bench press: the bar runs toward the feet late in the descent and touches lower: one event."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import NOT_FRONT, PATH_OBLIQUE, PATH_SIDE

FINDING = FindingDefinition(
    id="bench_toward_feet",
    lift="bench",
    title="The bar runs toward the feet late and touches lower",
    what="In the last third of the descent the bar travels farther toward the feet than in the reference rep, "
    "and it touches lower on the body. Two signs of one event.",
    why="A lower touch lengthens the way back over the shoulders, and the press starts from a place that was not "
    "practised.",
    how=(PATH_SIDE, PATH_OBLIQUE, NOT_FRONT),
    lies="A descent that hangs before the chest has a longer last third. Some lifters touch low on purpose: what "
    "counts here is that it changes within the set.",
    signs=(
        Sign(measure="late_descent_travel_mm", words="toward the feet in the last third of the descent",
             said="the bar ran {size} farther toward the feet in the last third of the descent than in {ref}",
             limit="toward_feet_late"),
        Sign(measure="path_at_low_mm", words="touch, toward the feet of the start",
             said="the bar touched {size} lower on the body than in {ref}", limit="touch_lower"),
    ),
    beside=(
        ("touch_point_mm", "touch from the shoulder"),
        ("forearm_angle_deg", "forearm at the touch"),
        ("path_departure_mm", "way back on the way up"),
    ),
    part="descent",
    causes=(
        PossibleCause(
            id="elbows_tuck", text="The elbows come in or the wrists lead, and the forearms leave the vertical",
            clues=(
                Clue(measure="forearm_angle_deg", clear=8.0, says_for="the forearms lean more toward the feet at "
                     "the touch", says_against="the forearms stand as they did"),
            ),
        ),
        PossibleCause(
            id="body_slides", text="The body slides under the bar",
            clues=(
                Clue(measure="shoulder_shift_mm", worse="less", clear=15.0, against="nothing",
                     says_for="the shoulders lie farther toward the head end",
                     says_against="the shoulders lie where they did"),
            ),
        ),
        PossibleCause(
            id="dropped", text="The bar is let down faster than it is led",
            clues=(
                Clue(measure="descent_peak_velocity_m_s", clear=0.08, says_for="the descent is faster",
                     says_against="the descent is as fast as before"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="bench_feet_same_spot", kind="cue", measure="path_at_low_mm",
                       text="Lead the bar to the spot of your first rep and stop it there."),
        PossibleChange(id="bench_feet_spoto", kind="drill", measure="late_descent_travel_mm",
                       text="Bench with a two-second stop a hand's width above the chest, the bar right over "
                       "that spot.",
                       max_load_pct=75.0),
        PossibleChange(id="bench_feet_grip", kind="setup", measure="path_at_low_mm", alters="grip", by_mm=38.0,
                       text="An experiment worth trying, film both: one light set "
                       "as now, and one with each hand a finger "
                       "wider, and compare touch and forearms.", max_load_pct=60.0, max_rpe=6.0),
    ),
)  # fmt: skip

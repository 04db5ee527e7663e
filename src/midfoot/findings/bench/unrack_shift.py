"""Bench press: the set-up is lost in the unrack."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import ALONG_BENCH, JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="bench_unrack_shift",
    lift="bench",
    title="The set-up moves in the unrack",
    what="Between the bar lying in the rack and the first start the shoulders or hips shift along the bench.",
    why="The tightness of the upper back is set before the unrack. What shifts there is not won back under the "
    "bar.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="Arms and plate that pass before the body pull the network's places along, of the hips as well: it is "
    "never sure. A clip that begins with the bar out shows nothing of it.",
    signs=(
        Sign(measure="unrack_shoulder_shift_mm", words="shoulders toward the feet by the unrack", worse="away",
             against="nothing", said="the shoulders shifted {size} {way} by the unrack", ways=ALONG_BENCH,
             limit="unrack_shift", most="likely"),
        Sign(measure="unrack_hip_shift_mm", words="hips toward the feet by the unrack", worse="away",
             against="nothing",
             said="the hips shifted {size} {way} by the unrack", ways=ALONG_BENCH,
             limit="unrack_shift", most="likely"),
        Sign(measure="unrack_feet_shift_mm", words="feet moved by the unrack", worse="away", against="nothing",
             said="the near foot moved {size} {way} by the unrack", ways=ALONG_BENCH, limit="feet_shift",
             most="likely"),
    ),
    beside=(("unrack_lift_mm", "height of the unrack"), ("unrack_travel_mm", "travel of the unrack")),
    part="start",
    needs_bar=False,
    causes=(
        PossibleCause(
            id="high_rack", text="The bar has to be pushed up far out of the rack",
            clues=(
                Clue(measure="unrack_lift_mm", clear=60.0, against="nothing",
                     says_for="the bar is lifted far before it clears the rack",
                     says_against="the bar clears the rack with little lift"),
            ),
        ),
        PossibleCause(
            id="long_pull", text="The bar has far to travel from the rack to the shoulders",
            clues=(
                Clue(measure="unrack_travel_mm", clear=250.0, against="nothing",
                     says_for="the bar travels far toward the feet before the first start",
                     says_against="the way from the rack is short"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="bench_unrack_pull", kind="cue", measure="unrack_shoulder_shift_mm", direction="zero",
                       text="Keep the shoulder blades where you put them and let the bar float out over the "
                       "shoulders."),
        PossibleChange(id="bench_unrack_rack", kind="setup", measure="unrack_shoulder_shift_mm", direction="zero",
                       text="Set the rack so that the bar clears it with two fingers' lift, and lie so that it "
                       "has a short way out."),
        PossibleChange(id="bench_unrack_handoff", kind="setup", measure="unrack_shoulder_shift_mm",
                       direction="zero",
                       text="Have a practised spotter hand the bar out."),
    ),
)  # fmt: skip

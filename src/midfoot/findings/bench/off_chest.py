"""Bench press: the path off the chest."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import NOT_FRONT, PATH_OBLIQUE, PATH_SIDE

FINDING = FindingDefinition(
    id="bench_off_chest",
    lift="bench",
    title="The bar leaves the chest in another direction",
    what="In the first third of the press the bar goes farther toward the feet than in the reference rep.",
    why="Skilled benchers move the bar back over the shoulders first. A press that starts toward the feet has "
    "farther to come back.",
    how=(PATH_SIDE, PATH_OBLIQUE, NOT_FRONT),
    lies="A camera that is not level tilts it with the height, in every rep alike; only the difference counts.",
    sources=("first direction of the press 60 degrees to the horizontal in skilled, 84 in new benchers "
             "(McLaughlin, after a secondary source)",),
    signs=(
        Sign(measure="off_chest_travel_mm", words="toward the feet in the first third of the press",
             said="the press began {size} farther toward the feet than in {ref}", limit="off_chest_forward"),
    ),
    beside=(("path_departure_mm", "way back on the way up"), ("forearm_angle_deg", "forearm at the touch")),
    causes=(
        PossibleCause(
            id="touch_high", text="The bar touched nearer to the shoulders, so there is less way back",
            clues=(
                Clue(measure="path_at_low_mm", worse="less", clear=12.0, says_for="the touch lies higher",
                     says_against="the touch lies where it did"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="bench_off_chest_back", kind="cue", measure="off_chest_travel_mm",
                       text="Press up and back, toward your eyes, from the first centimetre."),
        PossibleChange(id="bench_off_chest_pin", kind="drill", measure="off_chest_travel_mm",
                       text="Light presses with a three-second pause, starting back over the shoulders.",
                       max_load_pct=70.0),
    ),
)  # fmt: skip

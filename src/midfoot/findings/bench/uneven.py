"""Bench press: one end of the bar runs ahead."""

from midfoot.findings.definition import FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import ENDS, LIES_TILTED, NOT_SIDE

FINDING = FindingDefinition(
    id="bench_uneven",
    lift="bench",
    title="The press is uneven",
    what="While the bar rises one end of it runs ahead of the other.",
    why="An uneven press is longer on one side. Older rulebooks fault a pronounced one.",
    how=(("oblique", "height of both ends of the bar, where both are seen"), NOT_SIDE),
    lies="A bar that also turns, one end forward, looks tilted. A camera that is not level tilts every rep "
    "alike, so only the change within the rep counts.",
    signs=(
        Sign(measure="bar_tilt_change_deg", words="change of the bar's tilt on the way up", worse="away",
             against="nothing", said="the {way} end of the bar ran ahead by {size}", ways=ENDS,
             limit="tilt"),
    ),
    beside=(("bar_tilt_deg", "mean tilt on the way up"),),
    causes=(
        PossibleCause(
            id="uneven_hold", text="The bar already lies uneven in the hands",
            clues=(LIES_TILTED,),
        ),
    ),
    changes=(
        PossibleChange(id="bench_uneven_marks", kind="setup", measure="bar_tilt_change_deg", direction="zero",
                       text="Check both hands against the bar's marks before every unrack, and lie in the middle "
                       "of the bench."),
        PossibleChange(id="bench_uneven_slow", kind="drill", measure="bar_tilt_change_deg", direction="zero",
                       text="Three-second presses filmed from the foot end, both elbows straightening together.",
                       max_load_pct=65.0),
    ),
)  # fmt: skip

"""Squat: hips or bar to one side."""

from midfoot.findings.definition import FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import ENDS, LIES_TILTED, NOT_SIDE

FINDING = FindingDefinition(
    id="squat_to_one_side",
    lift="squat",
    title="Hips or bar go to one side",
    what="The middle of the hips shifts over the feet on the way down, or one end of the bar runs ahead on the "
    "way up.",
    why="A shift to one side loads one leg more. A little of it is common; what counts is whether it grows.",
    how=(("front or rear", "the middle of the hips over the ankles, from the start to the low"),
         ("oblique", "the bar's tilt while it rises, where both ends are seen"), NOT_SIDE),
    lies="Hips that go back come nearer to a camera behind the lifter, and off the middle that looks like a "
    "shift. A bar that turns looks tilted.",
    signs=(
        Sign(measure="hip_sideways_mm", words="hips over the feet to the lifter's left", worse="away",
             against="nothing",
             said="the hips moved {size} to the lifter's {way}", ways=("left", "right"), limit="hips_to_side"),
        Sign(measure="bar_tilt_change_deg", words="change of the bar's tilt on the way up", worse="away",
             against="nothing", said="the {way} end of the bar ran ahead by {size}", ways=ENDS,
             limit="tilt"),
    ),
    needs_bar=False,
    causes=(
        PossibleCause(
            id="uneven_start", text="The bar already lies uneven at the start",
            clues=(LIES_TILTED,),
        ),
    ),
    changes=(
        PossibleChange(id="squat_side_centre", kind="setup", measure="hip_sideways_mm", direction="zero",
                       text="Check from behind that hands and bar are centred before every unrack, by the bar's "
                       "marks."),
        PossibleChange(id="squat_side_tempo", kind="drill", measure="hip_sideways_mm", direction="zero",
                       text="Slow squats filmed from behind, three seconds down, both feet pressing alike.",
                       max_load_pct=65.0),
    ),
)  # fmt: skip

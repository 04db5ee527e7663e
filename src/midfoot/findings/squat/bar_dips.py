"""Squat: the bar goes down again on the way up."""

from midfoot.findings.definition import FindingDefinition, PossibleChange
from midfoot.findings.shared import BESIDE_DIPS, COMES_DOWN, HEIGHT_ANY, HEIGHT_FRONT

FINDING = FindingDefinition(
    id="squat_bar_dips",
    lift="squat",
    title="The bar goes down again on the way up",
    what="The bar loses height it had already reached before the ascent ends.",
    why="Rulebooks fault any downward movement of the whole bar in the ascent.",
    how=(HEIGHT_ANY, HEIGHT_FRONT,
         ("oblique, both ends seen", "whether both ends come down together is shown beside it")),
    lies="Plates swing and bars bend: within 0.4 s of the low and the lockout a drop counts only when the wrists "
    "come down too. From the side one end is seen and the rule speaks of the whole bar. The referee decides.",
    sources=("rulebooks: no downward movement of the whole bar during the ascent",),
    signs=(COMES_DOWN,),
    beside=BESIDE_DIPS,
    changes=(
        PossibleChange(id="squat_dips_drive", kind="cue", measure="downward_movement_mm",
                       text="Keep driving through the sticking point, and think of pushing the bar up faster "
                       "where it slows."),
        PossibleChange(id="squat_dips_pin", kind="drill", measure="downward_movement_mm",
                       text="Squats with a two-second pause at the height where the bar slowed.",
                       max_load_pct=70.0),
        PossibleChange(id="squat_dips_lighter", kind="load", measure="downward_movement_mm", share=0.8,
                       text="Stop the set one rep earlier, or take 5 % off, until every rep keeps rising.",
                       max_load_pct=95.0, max_rpe=8.0),
    ),
)  # fmt: skip

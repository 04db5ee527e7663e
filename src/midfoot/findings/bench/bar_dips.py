"""Bench press: the bar goes down again on the way up."""

from midfoot.findings.definition import FindingDefinition, PossibleChange
from midfoot.findings.shared import BESIDE_DIPS, COMES_DOWN, HEIGHT_ANY, HEIGHT_FRONT

FINDING = FindingDefinition(
    id="bench_bar_dips",
    lift="bench",
    title="The bar goes down again on the way up",
    what="The bar loses height it had already reached before the press ends.",
    why="Rulebooks fault any downward movement of the whole bar while pressing.",
    how=(HEIGHT_ANY, HEIGHT_FRONT,
         ("oblique, both ends seen", "whether both ends come down together is shown beside it")),
    lies="From the side one end is seen and the rule speaks of the whole bar; an uneven press lowers one end "
    "alone. The referee decides.",
    sources=("rulebooks: no downward movement of the whole bar while pressing",),
    signs=(COMES_DOWN,),
    beside=BESIDE_DIPS,
    changes=(
        PossibleChange(id="bench_dips_drive", kind="cue", measure="downward_movement_mm",
                       text="Keep pressing through the slow place; think of speed there."),
        PossibleChange(id="bench_dips_pin", kind="drill", measure="downward_movement_mm",
                       text="Presses with a two-second stop at the height where the bar slowed.",
                       max_load_pct=70.0),
        PossibleChange(id="bench_dips_lighter", kind="load", measure="downward_movement_mm", share=0.8,
                       text="Stop the set one rep earlier, or take 5 % off, until every rep keeps rising.",
                       max_load_pct=95.0, max_rpe=8.0),
    ),
)  # fmt: skip

"""Bench press: reps get slower: information."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, Sign
from midfoot.findings.shared import BESIDE_SLOWING, HARD_SET, TIME_ANY

FINDING = FindingDefinition(
    id="bench_slowing",
    lift="bench",
    title="The reps get slower",
    what="The press takes longer than in the fastest comparable rep of the set, with or without a sticking "
    "region.",
    why="It tells how near to the limit the set was. By itself it is no fault.",
    how=(TIME_ANY,),
    lies="A last rep that the lifter took easily is slow too.",
    sources=("the time of the press more than doubled from the first to the last rep of a set to failure at 75 % "
             "(Duffey & Challis 2007, JSCR 21:556-560)",),
    signs=(
        Sign(measure="ascent_time_s", words="time of the press", said="the press took {size} longer than in {ref}",
             limit="ascent_time", as_pct=True, tires=True),
    ),
    beside=BESIDE_SLOWING,
    nature="information",
    causes=(
        PossibleCause(id="hard_set", text="The set was near the limit", clues=(HARD_SET,)),
        PossibleCause(
            id="position", text="The position changes with it",
            clues=(
                Clue(measure="path_at_low_mm", clear=15.0, says_for="the bar also touches lower",
                     says_against="the touch stays where it was"),
            ),
        ),
    ),
)  # fmt: skip

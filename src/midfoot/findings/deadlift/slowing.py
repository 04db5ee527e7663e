"""Deadlift: reps get slower: information."""

from midfoot.findings.definition import FindingDefinition, PossibleCause, Sign
from midfoot.findings.shared import BESIDE_SLOWING, FARTHER_FORWARD, HARD_SET, TIME_ANY

FINDING = FindingDefinition(
    id="deadlift_slowing",
    lift="deadlift",
    title="The reps get slower",
    what="The pull takes longer than in the fastest comparable rep of the set, with or without a sticking region.",
    why="It tells how near to the limit the set was. By itself it is no fault.",
    how=(TIME_ANY,),
    lies="A last rep that the lifter took easily is slow too.",
    signs=(
        Sign(measure="ascent_time_s", words="time of the pull", said="the pull took {size} longer than in {ref}",
             limit="ascent_time", as_pct=True, tires=True),
    ),
    beside=BESIDE_SLOWING,
    nature="information",
    causes=(
        PossibleCause(id="hard_set", text="The set was near the limit", clues=(HARD_SET,)),
        PossibleCause(
            id="position", text="The position changes with it",
            clues=(FARTHER_FORWARD,),
        ),
    ),
)  # fmt: skip

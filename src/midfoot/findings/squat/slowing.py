"""Squat: reps get slower and may stick earlier: information."""

from midfoot.findings.definition import FindingDefinition, PossibleCause, Sign
from midfoot.findings.shared import BESIDE_SLOWING, FARTHER_FORWARD, HARD_SET, TIME_ANY

FINDING = FindingDefinition(
    id="squat_slowing",
    lift="squat",
    title="The reps get slower",
    what="The ascent takes longer than in the fastest comparable rep of the set, with or without a sticking "
    "region.",
    why="It tells how near to the limit the set was. By itself it is no fault: a set that is meant to be hard "
    "slows.",
    how=(TIME_ANY,),
    lies="A last rep that the lifter took easily is slow too. The end of a rep is where the bar comes to rest, "
    "so a slow settling at the top counts.",
    sources=("a sticking region shows in 10 of 15 lifters at 6RM (van den Tillaar et al. 2014, J Hum Kinet "
             "42:63-71)",),
    signs=(
        Sign(measure="ascent_time_s", words="time of the ascent", said="the way up took {size} longer than in "
             "{ref}",
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

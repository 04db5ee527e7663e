"""Deadlift: reps get slower: information."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, Sign
from midfoot.findings.shared import HARD_SET, TIME_ANY

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
             limit="ascent_time", as_pct=True),
    ),
    beside=(
        ("sticking_velocity_m_s", "slowest velocity in the sticking region"),
        ("sticking_height_mm", "height of the slowest point"),
        ("ascent_mean_velocity_m_s", "mean velocity"),
    ),
    nature="information",
    causes=(
        PossibleCause(id="hard_set", text="The set was near the limit", clues=(HARD_SET,)),
        PossibleCause(
            id="position", text="The position changes with it",
            clues=(
                Clue(measure="path_departure_mm", clear=12.0, says_for="the bar also goes farther forward",
                     says_against="the path stays the same"),
            ),
        ),
    ),
)  # fmt: skip

"""Squat: reps get slower and may stick earlier: information."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, Sign
from midfoot.findings.shared import HARD_SET, TIME_ANY

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

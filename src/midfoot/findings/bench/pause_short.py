"""Bench press: the pause gets shorter."""

import re

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import HARD_SET, HEIGHT_ANY, HEIGHT_FRONT
from midfoot.records.context import Context

PAUSED = re.compile(r"paus|competition|\bcomp\b", re.IGNORECASE)
LEAST_PAUSE_S = 0.3
"""What was said to be paused rests for this long at the least (common practice, no source)."""


def said_paused(context: Context) -> bool:
    """Tell whether the variation that was named is one with a pause."""
    return bool(PAUSED.search(context.variation or ""))


FINDING = FindingDefinition(
    id="bench_pause_short",
    lift="bench",
    title="The pause gets shorter",
    what="The bar rests on the chest for less time than in the reference rep, or not at all; in a set that was "
    "said to be paused also where no rep rests.",
    why="On the platform the press begins with the referee's word. A pause that shrinks as the set gets hard is "
    "the first thing to go there too.",
    how=(HEIGHT_ANY, HEIGHT_FRONT,
         ("frame rate", "stops shorter than four and a half frames are not told: 0.15 s at 30 frames a second")),
    lies="Its length is not the referee's: he waits for a motionless bar and then for his own voice. A chest "
    "that gives way under the bar shortens it. Touch-and-go sets have no pause to shorten.",
    sources=("rulebooks fix no length; rest is below 30 mm/s by this project's rule",),
    signs=(
        Sign(measure="pause_time_s", words="pause on the chest", worse="less",
             said="the pause was {size} shorter than in {ref}", limit="pause",
             gone="the bar did not rest on the chest as it did in {ref}"),
        Sign(measure="pause_time_s", words="pause on the chest", worse="less", against="nothing", limit="pause",
             said=f"the bar rested {{size}} less than the {LEAST_PAUSE_S:g} s that make a pause", most="likely",
             gone="the bar did not rest on the chest, and the set was said to be paused", due=LEAST_PAUSE_S,
             when=said_paused),
    ),
    beside=(("low_time_s", "time in the low"), ("sink_mm", "sinking after the stop")),
    part="low",
    causes=(
        PossibleCause(id="hard_set", text="The set got hard and the press was hurried", clues=(HARD_SET,)),
        PossibleCause(
            id="rebound", text="The bar comes down faster and bounces off the stop",
            clues=(
                Clue(measure="descent_peak_velocity_m_s", clear=0.08, says_for="the descent is faster",
                     says_against="the descent is as fast as before"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="bench_pause_count", kind="cue", measure="pause_time_s", direction="more", share=0.7,
                       text="Count the pause in your head in every rep, the same count in the last as in "
                       "the first."),
        PossibleChange(id="bench_pause_called", kind="drill", measure="pause_time_s", direction="more", share=0.7,
                       text="Have someone call the press in training, a different length each time.",
                       max_load_pct=80.0),
    ),
)  # fmt: skip

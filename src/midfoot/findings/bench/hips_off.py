"""Bench press: the hips leave the bench."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="bench_hips_off",
    lift="bench",
    title="The hips come off the bench",
    what="During the rep the near hip rises from where it lay at the start, more than in the reference rep.",
    why="Rulebooks ask for the buttocks to stay on the bench, and a hip that lifts changes the place of the "
    "chest.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="Legs driving hard lift the hip joint by 10-20 mm while the seat still touches: look at the still. "
    "Spotters and uprights hide the hip.",
    sources=("rulebooks: head, shoulders and buttocks stay on the bench",),
    signs=(
        Sign(measure="hip_lift_mm", words="near hip above its place at the start",
             said="the hip rose {size} more than in {ref}", limit="hips_off"),
    ),
    beside=(("ascent_time_s", "time of the ascent"), ("hip_shift_mm", "hip along the bench")),
    needs_bar=False,
    causes=(
        PossibleCause(
            id="legs_up", text="The legs push up instead of along the bench",
            clues=(
                Clue(measure="feet_shift_mm", clear=30.0, worse="away", against="nothing",
                     says_for="the feet have moved as well", says_against="the feet stay where they are"),
            ),
        ),
        PossibleCause(
            id="grind", text="It comes with a slow press",
            clues=(
                Clue(measure="ascent_time_s", clear=0.25, says_for="the way up takes longer",
                     says_against="the way up takes no longer"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="bench_hips_heavy", kind="cue", measure="hip_lift_mm", share=0.7,
                       text="Push the floor away from you, toward the head end, with the seat heavy on the "
                       "bench."),
        PossibleChange(id="bench_hips_feet", kind="setup", measure="hip_lift_mm", share=0.7, alters="stance",
                       text="As an experiment, film one light set with the feet a hand's width farther forward.",
                       max_load_pct=60.0, max_rpe=6.0),
        PossibleChange(id="bench_hips_lighter", kind="load", measure="hip_lift_mm", share=0.8,
                       text="End the set at the last rep in which the seat stays down.", max_load_pct=95.0,
                       max_rpe=8.0),
    ),
)  # fmt: skip

"""Squat: the knees come in on the way up."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import FRONT_ONLY, NOT_SIDE

FINDING = FindingDefinition(
    id="squat_knees_in",
    lift="squat",
    title="The knees come in on the way up",
    what="In the first part of the ascent the knees come nearer to each other than they were at the low.",
    why="Some coming in is normal and not a fault in itself. When it is large, or grows from rep to rep, the "
    "push is no longer along the feet.",
    how=(FRONT_ONLY, NOT_SIDE, ("oblique", "not told")),
    lies="Knees nearer to the camera than the ankles look up to a tenth farther apart. A camera off the middle "
    "moves both knees. It says nothing about what the knee feels: pain belongs with a clinician.",
    sources=("sideways movement of the knees is larger in novices and falls with a wider stance (Lorenzetti et "
             "al. 2018, BMC Sports Sci Med Rehabil 10:14)",),
    signs=(
        Sign(measure="knee_caving_ratio", words="knees nearer than at the low, in ankle distances",
             against="nothing",
             said="the knees came in by {size} of the distance of the ankles", limit="knees_in"),
    ),
    beside=(
        ("knee_separation_ratio", "distance of the knees over that of the ankles"),
        ("stance_width_mm", "stance"),
    ),
    needs_bar=False,
    changes=(
        PossibleChange(id="squat_knees_over_toes", kind="cue", measure="knee_caving_ratio",
                       text="Push the floor apart and keep the knees in line with the toes for the first half of "
                       "the way up."),
        PossibleChange(id="squat_knees_tempo", kind="drill", measure="knee_caving_ratio",
                       text="Slow squats filmed from the front, three seconds up, knees over the toes.",
                       max_load_pct=65.0),
        PossibleChange(id="squat_knees_stance", kind="setup", measure="knee_caving_ratio", alters="stance",
                       by_mm=100.0,
                       text="An experiment worth trying, film both: one light set "
                       "as now, and one with the feet a shoe's width "
                       "wider apart.",
                       max_load_pct=60.0, max_rpe=6.0),
    ),
)  # fmt: skip

"""Squat: hips first, with trunk and knees: one event."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE, heels_trial

FINDING = FindingDefinition(
    id="squat_hips_first",
    lift="squat",
    title="The hips rise before the bar",
    what="Out of the low the hips rise more for each millimetre of the bar than in the reference rep; the trunk "
    "tips and the knees travel back with it. Three signs of one event.",
    why="When the hips lead, the trunk tips and the bar must be lifted by the back from farther away.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE,
         ("side, hip behind the plate", "the trunk's lean at the slowest point against the reference rep "
          "instead")),
    lies="Clean squats show about 1.2 and not 1, so only the change counts. The network places a bent hip 30-50 "
    "mm off, in every rep alike. A slower rep reaches its slowest point in another posture.",
    sources=("trunk lean and the hips' share grow into the sticking region (van den Tillaar et al. 2021, Front "
             "Sports Act Living 3:691459); no published index of hips rising first is known",),
    signs=(
        Sign(measure="hip_lead_ratio", words="hip rise against bar rise",
             said="the hips rose {size} mm more for each millimetre of the bar than in {ref}", limit="hip_lead"),
        Sign(measure="trunk_tip_deg", words="trunk tipping out of the low",
             said="the trunk tipped {size} more out of the low than in {ref}", limit="trunk_tip", most="likely"),
        Sign(measure="trunk_angle_slowest_deg", words="trunk at the slowest point",
             said="the trunk leaned {size} more at the slowest point than in {ref}", limit="trunk_tip",
             most="likely"),
        Sign(measure="knee_back_travel_mm", words="knees travelling back",
             said="the knees travelled {size} farther back than in {ref}", limit="knee_back", most="likely"),
    ),
    join="first_seen",
    one_event=True,
    beside=(("path_forward_mm", "forward of the low point on the way up"),),
    causes=(
        PossibleCause(
            id="bar_forward_with_it", text="The bar is carried forward and the hips shoot up under it",
            clues=(
                Clue(measure="path_forward_mm", clear=12.0, says_for="the bar also goes farther forward",
                     says_against="the bar keeps its path"),
            ),
        ),
        PossibleCause(
            id="knees_back", text="The knees give way backward at the turn",
            clues=(
                Clue(measure="knee_back_travel_mm", clear=25.0, says_for="the knees travel farther back",
                     says_against="the knees travel as before"),
            ),
        ),
        PossibleCause(
            id="fast_turn", text="The turn is taken too fast to stay tight",
            clues=(
                Clue(measure="descent_peak_velocity_m_s", clear=0.10, says_for="the descent is faster",
                     says_against="the descent is as fast as before"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="squat_hips_chest", kind="cue", measure="hip_lead_ratio",
                       text="Drive the chest up first; keep the knees where they are for the first hand's width."),
        PossibleChange(id="squat_hips_pause", kind="drill", measure="hip_lead_ratio",
                       text="Pause squats with the pause just above the low, chest and hips leaving together.",
                       max_load_pct=70.0),
        PossibleChange(id="squat_hips_front", kind="drill", measure="hip_lead_ratio",
                       text="A few weeks of front squats after the main sets: they do not let the hips lead.",
                       max_load_pct=60.0),
        heels_trial("squat_hips_heels", "hip_lead_ratio"),
    ),
)  # fmt: skip

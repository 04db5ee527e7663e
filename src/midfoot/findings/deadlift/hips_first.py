"""Deadlift: the hips rise before the bar."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="deadlift_hips_first",
    lift="deadlift",
    title="The hips rise before the bar",
    what="Off the floor the hips rise more for each millimetre of the bar than in the reference rep, and the "
    "trunk tips with it.",
    why="Hips that shoot up leave the pull to the back from farther away.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="Clean pulls show less than 1, and each lifter has an own value; only the change counts. The plate "
    "often covers the hip from the side.",
    sources=("no published index of hips rising first is known; conventional pulls extend knees, then hips "
             "(Hales et al. 2009, JSCR 23:2574-2580)",),
    signs=(
        Sign(measure="hip_lead_ratio", words="hip rise against bar rise",
             said="the hips rose {size} mm more for each millimetre of the bar than in {ref}", limit="hip_lead"),
        Sign(measure="trunk_tip_deg", words="trunk tipping off the floor",
             said="the trunk tipped {size} more off the floor than in {ref}", limit="trunk_tip", most="likely"),
    ),
    join="first_seen",
    one_event=True,
    beside=(("hip_height_liftoff_mm", "hip height at lift-off"), ("path_forward_mm", "forward of lift-off")),
    causes=(
        PossibleCause(
            id="started_low", text="The pull began with lower hips than before",
            clues=(
                Clue(measure="hip_height_liftoff_mm", worse="less", clear=25.0,
                     says_for="the hips were lower at lift-off", says_against="the hips were as high at lift-off"),
            ),
        ),
        PossibleCause(
            id="slack_not_taken", text="The slack was not taken before the pull",
            clues=(
                Clue(measure="slack_time_s", worse="less", clear=0.15, says_for="the slack took less time",
                     says_against="the slack took as long as before"),
                Clue(measure="slack_hip_rise_mm", clear=25.0, says_for="the hips rose before the plates left the "
                     "floor",
                     says_against="the hips kept their height before the plates left"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="deadlift_hips_push", kind="cue", measure="hip_lead_ratio",
                       text="Push the floor away and let hips and shoulders leave together."),
        PossibleChange(id="deadlift_hips_start", kind="setup", measure="hip_lead_ratio",
                       text="Set the hips where they are when the plates actually leave, and pull from there."),
        PossibleChange(id="deadlift_hips_pause", kind="drill", measure="hip_lead_ratio",
                       text="Pulls with a two-second stop just below the knee.", max_load_pct=70.0),
    ),
)  # fmt: skip

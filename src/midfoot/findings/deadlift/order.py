"""Deadlift: knees and hips finish out of order."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="deadlift_knees_hips_order",
    lift="deadlift",
    title="Knees and hips finish in another order",
    what="The time between the knees and the hips reaching their end differs from the reference rep.",
    why="Knees that lock far ahead leave the rest to the back; hips that finish first leave the knees soft.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="Angles scatter by 2-5 degrees, so under 0.2 s it says little; the plate hides knee and hip by turns.",
    sources=("skilled conventional pulls extend one after the other (Hales et al. 2009, JSCR 23:2574-2580)",),
    signs=(
        Sign(measure="knees_before_hips_s", words="knees before hips", worse="away",
             said="against the hips the knees finished {size} {way} than in {ref}", ways=("earlier", "later"),
             limit="order", most="likely"),
    ),
    beside=(("trunk_tip_deg", "trunk tipping off the floor"), ("hip_lead_ratio", "hip rise against bar rise")),
    changes=(
        PossibleChange(id="deadlift_order_together", kind="cue", measure="knees_before_hips_s", direction="same",
                       text="Let knees and hips straighten together; the chest leads from the knee upward."),
        PossibleChange(id="deadlift_order_pause", kind="drill", measure="knees_before_hips_s", direction="same",
                       text="Pulls with a stop at the knee, then the hips to the bar.", max_load_pct=70.0),
    ),
)  # fmt: skip

"""Bench press: the feet slide."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import ALONG_BENCH, JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="bench_feet_slide",
    lift="bench",
    title="The feet slide",
    what="The near foot stands elsewhere than at the first start, or moves during a rep.",
    why="Leg drive needs feet that stay. Some rulebooks allow them to move only while they stay flat.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="Feet are small and often behind plates or the bench; from the side it is never sure.",
    sources=("rulebooks: feet flat; movement allowed by some books as long as they stay flat",),
    signs=(
        Sign(measure="feet_shift_mm", words="near foot from its place at the first start", worse="away",
             against="nothing", said="the near foot stood {size} {way} from its place at the first start",
             ways=ALONG_BENCH,
             limit="feet_shift", most="likely"),
        Sign(measure="foot_move_mm", words="near foot from its place at this rep's start", worse="away",
             against="nothing", said="the near foot moved {size} {way} during the rep", ways=ALONG_BENCH,
             limit="feet_shift",
             most="likely"),
    ),
    beside=(("heel_lift_mm", "heel lift"), ("hip_lift_mm", "hip above its place at the start")),
    part="start",
    needs_bar=False,
    changes=(
        PossibleChange(id="bench_feet_press", kind="cue", measure="feet_shift_mm", direction="zero",
                       text="Screw the feet into the floor before the unrack, and keep them there."),
        PossibleChange(id="bench_feet_mat", kind="equipment", measure="feet_shift_mm", direction="zero",
                       text="Rubber under the feet, or other shoes, and compare one set."),
    ),
)  # fmt: skip

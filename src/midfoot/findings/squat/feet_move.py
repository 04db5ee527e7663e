"""Squat: the feet move between or during reps."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import FORE_AFT, JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="squat_feet_move",
    lift="squat",
    title="The feet move",
    what="The near foot stands elsewhere than at the first start, or at the end of a rep elsewhere than at its "
    "start.",
    why="A stance that wanders changes depth and balance, and stepping before the signal is a fault on the "
    "platform.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="Feet are small and often behind plates; the network's place for them wanders by centimetres. From the "
    "side it is therefore never sure.",
    sources=("rulebooks fault stepping; rocking between ball and heel is allowed",),
    signs=(
        Sign(measure="feet_shift_mm", words="near foot forward of the first start", worse="away",
             against="nothing",
             said="the near foot stood {size} {way} from its place at the first start", ways=FORE_AFT,
             limit="feet_shift",
             most="likely"),
        Sign(measure="foot_move_mm", words="near foot forward of this rep's start", worse="away",
             against="nothing",
             said="the near foot moved {size} {way} during the rep", ways=FORE_AFT,
             limit="feet_shift", most="likely"),
    ),
    part="start",
    needs_bar=False,
    changes=(
        PossibleChange(id="squat_feet_root", kind="cue", measure="feet_shift_mm", direction="zero",
                       text="Set the feet once, press big toe, little toe and heel into the floor, and leave "
                       "them there."),
        PossibleChange(id="squat_feet_tape", kind="setup", measure="feet_shift_mm", direction="zero",
                       text="A strip of tape on the floor in training shows whether the feet wander."),
    ),
)  # fmt: skip

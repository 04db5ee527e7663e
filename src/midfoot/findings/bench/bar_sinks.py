"""Bench press: the bar sinks after it had stopped."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import HEIGHT_ANY, HEIGHT_FRONT

FINDING = FindingDefinition(
    id="bench_bar_sinks",
    lift="bench",
    title="The bar sinks after it had stopped",
    what="After coming to rest on the chest the bar goes down farther before it rises.",
    why="Rulebooks fault sinking or heaving after the bar was motionless.",
    how=(HEIGHT_ANY, HEIGHT_FRONT),
    lies="A breath under the bar moves it by some millimetres.",
    sources=("rulebooks: heaving, bouncing or sinking the bar after it was motionless",),
    signs=(
        Sign(measure="sink_mm", words="sinking after the stop", against="nothing",
             said="the bar sank {size} after it had stopped", limit="sinking"),
    ),
    beside=(("pause_time_s", "pause on the chest"),),
    part="low",
    changes=(
        PossibleChange(id="bench_sinks_hold", kind="cue", measure="sink_mm",
                       text="Hold the bar on the chest and not in it, chest high and tight until the press."),
        PossibleChange(id="bench_sinks_long", kind="drill", measure="sink_mm",
                       text="Bench with a three-second pause, the bar still from touch to press.",
                       max_load_pct=75.0),
    ),
)  # fmt: skip

"""All measured findings there are, in the order in which they are shown when nothing else decides.

A new one gets a file of its own, is added here, and nowhere else."""

from __future__ import annotations

from midfoot.findings.bench import (
    bar_dips as bench_bar_dips,
)
from midfoot.findings.bench import (
    bar_sinks,
    feet_slide,
    forearms,
    grip_moves,
    hips_off,
    not_locked,
    off_chest,
    pause_short,
    shoulders_creep,
    toward_feet,
    unrack_shift,
)
from midfoot.findings.bench import (
    slowing as bench_slowing,
)
from midfoot.findings.bench import (
    uneven as bench_uneven,
)
from midfoot.findings.deadlift import (
    bar_dips as deadlift_bar_dips,
)
from midfoot.findings.deadlift import (
    bar_leaves,
    lowering,
    no_reset,
    order,
    short_lockout,
    shrug_lean,
    slack,
    start_differs,
)
from midfoot.findings.deadlift import (
    hips_first as deadlift_hips_first,
)
from midfoot.findings.deadlift import (
    slowing as deadlift_slowing,
)
from midfoot.findings.deadlift import (
    uneven as deadlift_uneven,
)
from midfoot.findings.definition import FindingDefinition
from midfoot.findings.squat import (
    bar_dips,
    bar_forward,
    dive,
    feet_move,
    grip_elbows,
    heels,
    hips_first,
    knees_cave,
    near_rule,
    shallower,
    slowing,
    soft_lockout,
    to_one_side,
    unsettled,
)

FINDINGS: tuple[FindingDefinition, ...] = (
    shallower.FINDING,
    near_rule.FINDING,
    bar_forward.FINDING,
    hips_first.FINDING,
    bar_dips.FINDING,
    soft_lockout.FINDING,
    dive.FINDING,
    unsettled.FINDING,
    feet_move.FINDING,
    heels.FINDING,
    knees_cave.FINDING,
    to_one_side.FINDING,
    grip_elbows.FINDING,
    slowing.FINDING,
    hips_off.FINDING,
    toward_feet.FINDING,
    pause_short.FINDING,
    bar_sinks.FINDING,
    bench_bar_dips.FINDING,
    not_locked.FINDING,
    off_chest.FINDING,
    forearms.FINDING,
    shoulders_creep.FINDING,
    unrack_shift.FINDING,
    bench_uneven.FINDING,
    grip_moves.FINDING,
    feet_slide.FINDING,
    bench_slowing.FINDING,
    deadlift_bar_dips.FINDING,
    short_lockout.FINDING,
    bar_leaves.FINDING,
    deadlift_hips_first.FINDING,
    slack.FINDING,
    start_differs.FINDING,
    order.FINDING,
    shrug_lean.FINDING,
    lowering.FINDING,
    no_reset.FINDING,
    deadlift_uneven.FINDING,
    deadlift_slowing.FINDING,
)


def findings_of(lift: str) -> tuple[FindingDefinition, ...]:
    """Give the findings of a lift."""
    return tuple(f for f in FINDINGS if f.lift == lift)


def definition(finding_id: str) -> FindingDefinition:
    """Give a finding by its id; raises KeyError when there is none."""
    for found in FINDINGS:
        if found.id == finding_id:
            return found
    raise KeyError(f"finding: expected one of {', '.join(f.id for f in FINDINGS)}, got {finding_id!r}")

"""Whether a difference stands out of what this lifter's reps differ by anyway.

People do not repeat a rep to the millimetre. A difference that the clip resolves well may still be nothing but
that scatter, so it is asked how often chance alone would make one as clear in a set of as many reps. Three shapes
are looked for: a step that stays from some rep on, one odd rep, a drift over the set; of what people do as they
tire, only whether it rises over the set, whatever the way. Each is held against the
scatter that is left beside it: what is expected of a lifter who does nothing wrong (`natural` of the threshold),
made smaller or larger by how steady this set is in everything else and by what is left of the measure itself.

The prior's weights and the chances that are allowed were set on made sets without a fault (seeds of their own);
`python -m lab.score_findings` and `python -m lab.bench_records` check them on others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri, stdtr

from midfoot.records.base import FloatArray
from midfoot.records.findings import CONFIDENCES

if TYPE_CHECKING:
    from midfoot.findings.look import Look

STEADY = {
    "squat": {
        "low_height_change_mm": 12.0,
        "range_of_motion_mm": 12.0,
        "descent_time_s": 6.0,
        "path_at_low_mm": 10.0,
        "path_forward_mm": 10.0,
        "trunk_angle_low_deg": 2.0,
        "trunk_angle_start_deg": 2.0,
        "descent_peak_velocity_m_s": 6.0,
    },
    "bench": {
        "range_of_motion_mm": 5.0,
        "descent_time_s": 6.0,
        "path_at_low_mm": 10.0,
        "path_departure_mm": 10.0,
        "low_height_change_mm": 5.0,
        "descent_peak_velocity_m_s": 6.0,
    },
    "deadlift": {
        "range_of_motion_mm": 5.0,
        "descent_time_s": 6.0,
        "path_at_top_mm": 10.0,
        "path_forward_mm": 10.0,
        "hip_height_liftoff_mm": 12.0,
        "trunk_angle_start_deg": 2.0,
        "start_shift_mm": 8.0,
    },
}
"""By lift: measures that tell how steady a lifter is, with the scatter expected of each (times, velocities in per
cent). Assumed, not read: no published figures for these were found."""
LEAST_STEPS = 3
STEADIEST, RESTLESS = 0.1, 1.5
"""Nobody is believed to be steadier than a tenth of what is expected, or more restless than half as much again."""
TRIMMED = 0.35
"""The largest of the steps from rep to rep are left out: a fault makes some, in its own kin as well."""
STEPS_ALIKE = 0.5
"""Measures of one set move together, so a step counts as half an independent one."""
EXPECTED_STEPS, EXPECTED_REPS = 1.0, 10.0
"""What is expected weighs like so many steps against how steady the set is, and then like so many reps against
what is left of the measure itself."""
ERROR_SHARE = 1.0
"""How much of a reading's own error counts as scatter beside the lifter's."""
CHANCE = {"sure": 0.012, "likely": 0.018, "hint": 0.06}
"""How seldom chance alone must make a change as clear. Six to eight signs of a lift are asked at once and not all
can reach their floors by chance: together they stay under 3 % sure and 5 % sure or likely."""
CHANCE_TIRES = {"sure": 0.018, "likely": 0.036, "hint": 0.09}
RISE_SHARE = 2.0 / 3.0
"""The same for what goes one way as people tire: one question a lift, and apart from whether there is a fault. Two
thirds of it are given to a rise over the set, the rest to the other shapes."""
FIRST_SHARE = 2.0 / 3.0
"""Where several signs may carry a finding, chance has as many goes at it: what is allowed is shared among those
that a clip shows. The first, which shows it best, gets two thirds, the others the rest."""
ALIKE = 0.5
"""Correlation taken between signs of one event, of the lifter's scatter and of the errors alike (assumed)."""


def consistency(look: Look, without: str) -> float:
    """Give this set's scatter over what is expected, from the steps between its reps; 1 where too few are seen.

    A change that stays makes one large step in each measure that it touches, an odd rep two; trimming leaves them
    out. A measure that is itself off by more than the expected scatter is not asked: its steps would be the clip's
    and not the lifter's. `without` is the measure that is being judged.
    """
    steps: list[float] = []
    for measure_id, expected in STEADY[look.data.asked.lift].items():
        found = look.values(measure_id)
        if measure_id == without or len(found) < 2:
            continue
        values = np.array([m.value for m in found.values()], float)
        scale = 100.0 / max(abs(float(values.mean())), 1e-9) if measure_id.endswith("_s") else 1.0
        if scale * math.sqrt(math.fsum((m.sd or 0.0) ** 2 for m in found.values()) / len(found)) > expected:
            continue
        steps += list(0.5 * (np.diff(values) * scale / expected) ** 2)
    if len(steps) < LEAST_STEPS:
        return 1.0
    kept = sorted(steps)[: max(1, round(len(steps) * (1.0 - TRIMMED)))]
    weight = STEPS_ALIKE * len(steps)
    left = float(np.mean(kept)) / left_of_square(len(kept) / len(steps))
    square = (EXPECTED_STEPS + weight * left) / (EXPECTED_STEPS + weight)
    return float(np.clip(math.sqrt(square), STEADIEST, RESTLESS))


def left_of_square(share: float) -> float:
    """Give the mean square of the smallest such share of many normal steps of variance 1.

    Of few steps as large a share leaves more (by a quarter of seven): a short set is held for a little more
    restless than it is, which errs to the side of saying nothing.
    """
    if share >= 1.0:
        return 1.0
    edge = float(ndtri((1.0 + share) / 2.0))
    return 1.0 - 2.0 * edge * math.exp(-edge * edge / 2.0) / math.sqrt(2.0 * math.pi) / share


def stands_out(chance: float, *, tires: bool = False) -> str:
    """Give the surest that a difference may be which chance would make so often, "" for not at all."""
    allowed = CHANCE_TIRES if tires else CHANCE
    return next((c for c in CONFIDENCES if chance <= allowed[c]), "")


def share_of(first: bool, others: int) -> float:
    """Give the share of the allowed chance for a sign of a finding that `others` signs may carry as well."""
    if not others:
        return 1.0
    return FIRST_SHARE if first else (1.0 - FIRST_SHARE) / others


def chance_of(
    row: Sequence[float],
    sd: float,
    natural: float,
    steady: float,
    worse: str,
    *,
    absolute: bool = False,
    tires: bool = False,
) -> float:
    """Give how often chance alone would make a change for the worse as clear as the clearest of these reps.

    Parameters
    ----------
    row : values of the measure over the reps, in order, in the threshold's unit.
    sd : random error of one value.
    natural : expected scatter of one rep, one sd.
    steady : this set's scatter over the expected.
    worse : `more`, `less` or `away`: which way is worse.
    absolute : the values are held against zero and not against each other; zero then counts as a rep before the
        first.
    tires : a rise over the set is looked for before all, see `rising`.

    Returns
    -------
    float
        0 to 1, for all the shapes that were looked for together (Bonferroni); 1 with fewer than two values.
    """
    values = np.asarray(row, float)
    found = _chance(values, sd, natural, steady, worse, tires)
    if absolute:
        found = min(found, _chance(np.append(0.0, values), sd, natural, steady, worse, tires))
    return found


def chance_alone(value: float, sd: float, natural: float, steady: float, worse: str) -> float:
    """Give how often chance alone would put a single value as far from nothing, 0 to 1.

    Parameters
    ----------
    value : in the threshold's unit.
    sd : its whole error, random and common: there is nothing that the common part would drop out against.
    natural, steady, worse : as of `chance_of`.
    """
    scatter = math.hypot(natural * steady, sd)
    away = abs(value) if worse == "away" else value if worse == "more" else -value
    sides = 2 if worse == "away" else 1
    return min(1.0, sides * float(stdtr(EXPECTED_REPS, -away / scatter))) if scatter > 0 else float(away <= 0)


def rising(count: int) -> FloatArray:
    """Give the contrast of unit length that tells best whether so many reps rise, whatever the way they rise.

    Of all contrasts it is the one whose correlation with the least fitting of rising rows is largest (Abelson and
    Tukey 1963, Annals of Mathematical Statistics 34:1347-1369): one question, where a step from each rep and a
    drift would be as many.
    """
    i = np.arange(1.0, count + 1.0)
    found = np.sqrt((i - 1.0) * (1.0 - (i - 1.0) / count)) - np.sqrt(i * (1.0 - i / count))
    return np.asarray(found / np.sqrt(found @ found))


def together(
    rows: Sequence[tuple[Sequence[float], float, float]], steady: float
) -> tuple[list[float], float, float]:
    """Make one row of several signs of one event, each weighed by how little it scatters.

    Parameters
    ----------
    rows : of every sign its values over the reps with more for the worse, the random error of one and the expected
        scatter of one.
    steady : this set's scatter over the expected.

    Returns
    -------
    values, sd, natural
        As `chance_of` takes them, in scatters of one sign.
    """
    wide = [math.hypot(natural * steady, sd) for _, sd, natural in rows]
    values = np.sum([np.asarray(row, float) / w for (row, _, _), w in zip(rows, wide, strict=True)], axis=0)

    def of_sum(parts: list[float]) -> float:
        return math.sqrt((1.0 - ALIKE) * math.fsum(p * p for p in parts) + ALIKE * math.fsum(parts) ** 2)

    sds = [sd / w for (_, sd, _), w in zip(rows, wide, strict=True)]
    naturals = [natural / w for (_, _, natural), w in zip(rows, wide, strict=True)]
    return values.tolist(), of_sum(sds), of_sum(naturals)


def _chance(values: FloatArray, sd: float, natural: float, steady: float, worse: str, tires: bool) -> float:
    count = len(values)
    if count < 2:
        return 1.0
    values = -values if worse == "less" else values
    expected = (natural * steady) ** 2 + (ERROR_SHARE * sd) ** 2
    sides = 2 if worse == "away" else 1
    any_shape = sides * _clearest(values, expected, list(_shapes(count)), both=worse == "away")
    if not tires:
        return min(1.0, any_shape)
    rise = sides * _clearest(values, expected, [rising(count)], both=worse == "away")
    return min(1.0, rise / RISE_SHARE, any_shape / (1.0 - RISE_SHARE))


def _clearest(values: FloatArray, expected: float, shapes: list[FloatArray], *, both: bool) -> float:
    """Give how often chance makes one of these shapes as clear as the clearest of them is, to one side."""
    spread = float(np.sum((values - values.mean()) ** 2))
    freedom = EXPECTED_REPS + len(values) - 2
    clearest = 0.0
    for shape in shapes:
        size = float(shape @ values)
        left = max(spread - size * size, 0.0)
        scatter = math.sqrt((EXPECTED_REPS * expected + left) / freedom)
        size = abs(size) if both else size
        clearest = max(clearest, size / scatter if scatter > 0 else math.inf if size > 0 else 0.0)
    return len(shapes) * float(stdtr(freedom, -clearest))


def _shapes(count: int) -> Iterator[FloatArray]:
    """Give what is looked for in so many reps, as contrasts of unit length: steps that stay, odd reps, a drift."""
    reps = np.arange(count)
    found = [np.where(reps < k, -1.0 / k, 1.0 / (count - k)) for k in range(1, count)]
    if count > 2:
        # A last rep that is odd is a step that stays.
        found += [np.where(reps == k, 1.0, -1.0 / (count - 1)) for k in range(count - 1)]
        found.append(reps - (count - 1) / 2.0)
    for shape in found:
        yield shape / float(np.sqrt(shape @ shape))

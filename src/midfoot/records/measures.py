"""Measures of reps and of the set, drift, and the whole measurement."""

from __future__ import annotations

from attrs import field, frozen

from midfoot.records.bar import BarPath, BarTrack, Scale, View
from midfoot.records.base import FloatArray, Value, Warned, float_field, one_of
from midfoot.records.body import BodyTrack
from midfoot.records.clip import Asked, ClipInfo, DepthMarks
from midfoot.records.context import Context
from midfoot.records.findings import Found
from midfoot.records.reps import RepSet
from midfoot.records.rules import RuleCheck

STATUSES = ("measured", "inferred", "not_seen", "not_applicable")
TRENDS = ("better", "worse", "mixed", "none")


@frozen
class Measure:
    """One number of one rep (or of the set).

    `sd` is the random part, which differs from rep to rep; `sd_common` is shared by the whole clip and drops
    out of differences. `value`, `sd` and `sd_common` are None unless `status` is measured or inferred; then
    `reason` says why, with the remedy. `basis` says in a few words what it was measured from.
    `at_most` belongs to a value that is not seen for being too small: it lies between nothing and this.
    """

    id: str
    value: float | None
    unit: str
    sd: float | None
    sd_common: float | None
    status: str = field(validator=one_of(*STATUSES))
    basis: str = ""
    reason: str = ""
    at_most: float | None = None


@frozen
class Drift:
    """How one measure moves over the set against the best rep, on the random error alone."""

    measure: str
    per_rep_change: tuple[float | None, ...]
    change_first_last: float | None
    sd: float | None
    clear_from_rep: int | None
    trend: str = field(validator=one_of(*TRENDS))


@frozen(kw_only=True)
class Curve:
    """The bar's vertical velocity through the ascent of one rep, filtered.

    `t_s` (n,) from the ascent's start, `up_mm` (n,) above the low point or the floor, `velocity_m_s` (n,) and
    its sd `sd_m_s` (n,); the NaN of unseen stretches stay.
    """

    n: int
    t_s: FloatArray = float_field(None)
    up_mm: FloatArray = float_field(None)
    velocity_m_s: FloatArray = float_field(None)
    sd_m_s: FloatArray = float_field(None)


@frozen
class Measured:
    """The measures of a set: `reps[i]` belongs to the i-th rep of the RepSet."""

    reps: tuple[tuple[Measure, ...], ...]
    whole: tuple[Measure, ...] = ()
    best_rep: int | None = None
    drift: tuple[Drift, ...] = ()
    curves: tuple[Curve, ...] = ()

    def of(self, rep: int, measure_id: str) -> Measure | None:
        """Give a measure of the rep at position `rep` (0 is the first), None when there is no such id."""
        return next((m for m in self.reps[rep] if m.id == measure_id), None)


@frozen
class Step:
    """One step of the pipeline that made a result: name, version, parameters."""

    name: str
    version: str
    parameters: dict[str, object]


@frozen
class SetData:
    """Everything the measures are computed from. `path` is None when neither plate nor hands were followed.

    `depth_marks` are this clip's own; `depth_offset_mm` is this lifter's depth by marks minus that by joints, from
    an earlier clip. Both None: the depth of a squat is by joints alone.
    """

    asked: Asked
    clip: ClipInfo
    view: View
    scale: Scale | None
    track: BarTrack
    path: BarPath | None
    body: BodyTrack
    reps: RepSet
    depth_marks: DepthMarks | None = None
    depth_offset_mm: Value | None = None


@frozen
class Measurement:
    """The result of the main job on one clip; `context` is what was said of the set, empty when nothing was."""

    data: SetData
    measured: Measured
    warnings: tuple[Warned, ...]
    steps: tuple[Step, ...] = ()
    version: str = ""
    rule_checks: tuple[RuleCheck, ...] = ()
    context: Context = Context()
    found: Found = Found()

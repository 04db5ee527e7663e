"""A measured set as the findings look at it: values by measure, the reference rep, how large a sign is."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from attrs import evolve, frozen

from midfoot.findings.definition import Sign
from midfoot.findings.scatter import chance_alone, chance_of, consistency, share_of, stands_out, together
from midfoot.findings.thresholds import Limit, Limits
from midfoot.records.base import Warned
from midfoot.records.context import Context
from midfoot.records.findings import CONFIDENCES
from midfoot.records.measures import Measure, Measured, SetData
from midfoot.records.reps import Rep

SURE_SDS = 1.645
"""The size must stay above the floor when it is this many sds smaller: 95 % one-sided by the normal law."""
LIKELY_SHARE, HINT_SHARE = 0.85, 0.6
CLEAR_SDS = 1.96
"""And it must be told from nothing at 95 % two-sided (Weir 2005, JSCR 19:231-240: smallest detectable change)."""
BETTER_SHARE = 0.5
"""The cleanest rep is the reference when it beats the best rep by more than this share of the floor."""
OBLIQUE = ("front_oblique", "rear_oblique")
TIMES = ("_s", "_m_s")


@frozen
class Seen:
    """A sign in one rep: how large, how sure (None: not raised), and what keeps it from being surer.

    `above` says on which side of what it is held against the measure lies; `gone` that it is too small to be told.
    """

    size: float
    sd: float
    above: bool
    confidence: str | None
    doubts: tuple[str, ...]
    gone: bool = False


@frozen
class Shown:
    """A sign over the reps of a set: by position of the rep; `reference` is a position, None for none."""

    sign: Sign
    limit: Limit
    floor: float
    by_rep: dict[int, Seen]
    reference: int | None

    @property
    def worst(self) -> int | None:
        """Position of the rep that shows it most surely and most, None where none shows it."""
        raised = {i: s for i, s in self.by_rep.items() if s.confidence is not None}
        if not raised:
            return None
        return min(raised, key=lambda i: (rank(raised[i].confidence), -raised[i].size, i))


def rank(confidence: str | None) -> int:
    """Give the place of a confidence in the order from the surest; None comes last."""
    return CONFIDENCES.index(confidence) if confidence is not None else len(CONFIDENCES)


def at_most(confidence: str | None, most: str) -> str | None:
    """Give a confidence, but none surer than `most`."""
    return confidence if confidence is None or rank(confidence) >= rank(most) else most


class Look:
    """One measured set with what was said of it and the thresholds to hold it against."""

    def __init__(
        self, data: SetData, measured: Measured, context: Context, warnings: tuple[Warned, ...], limits: Limits
    ) -> None:
        self.data, self.measured, self.context, self.limits = data, measured, context, limits
        self.warned = frozenset(w.id for w in warnings)
        self.judged = tuple(i for i, r in enumerate(self.reps) if r.outcome != "cut_off")
        self.completed = tuple(i for i, r in enumerate(self.reps) if r.outcome == "completed")

    @property
    def reps(self) -> tuple[Rep, ...]:
        """The reps of the set."""
        return self.data.reps.reps

    @property
    def best(self) -> int | None:
        """Position of the best rep."""
        return next((i for i, r in enumerate(self.reps) if r.n == self.measured.best_rep), None)

    @property
    def has_bar(self) -> bool:
        """Whether a bar was followed, by its plate or at the hands."""
        return self.data.path is not None and self.data.track.source != "none"

    def read(self, measure_id: str, i: int) -> Measure | None:
        """Give a measure of a rep, None where it has no value."""
        found = self.measured.of(i, measure_id) if i < len(self.measured.reps) else None
        return found if found is not None and found.value is not None else None

    def values(self, measure_id: str) -> dict[int, Measure]:
        """Give a measure of every rep that is judged and has it, by position."""
        read = {i: self.read(measure_id, i) for i in self.judged}
        return {i: m for i, m in read.items() if m is not None}

    def values_or_bounds(self, sign: Sign) -> dict[int, Measure]:
        """Give a sign's measure of every rep that is judged and has it.

        Of a value too small to be told, where the sign has words for it, the middle of what it may be with the sd
        of an even spread.
        """
        found = self.values(sign.measure)
        if not sign.gone:
            return found
        for i in self.judged:
            measure = self.measured.of(i, sign.measure) if i < len(self.measured.reps) else None
            if measure is not None and measure.value is None and measure.at_most is not None:
                half, spread = measure.at_most / 2, measure.at_most / math.sqrt(12.0)
                found[i] = evolve(measure, value=half, sd=spread, sd_common=0.0, status="measured")
        return dict(sorted(found.items()))

    def whole(self, measure_id: str) -> Measure | None:
        """Give a measure of the whole set, None where it has no value."""
        return next((m for m in self.measured.whole if m.id == measure_id and m.value is not None), None)

    def shown(
        self, sign: Sign, *, completed: bool = False, event: Sequence[Sign] = (), signs: Sequence[Sign] = ()
    ) -> Shown:
        """Hold a sign against every rep.

        `completed`: only against those that were; `event`: the signs of the event that it is one of; `signs`:
        those that may carry the finding, it among them.
        """
        limit = self.limits[sign.limit]
        floor = limit.floor * (limit.oblique if self.data.view.view_class in OBLIQUE else 1.0)
        if sign.when is not None and not sign.when(self.context):
            return Shown(sign, limit, floor, {}, None)
        if sign.of_set:
            measure = self.whole(sign.measure)
            found = {} if measure is None or not self.judged else {self.judged[0]: measure}
        else:
            found = self.values_or_bounds(sign)
            found = {i: m for i, m in found.items() if i in self.completed or not completed}
        if sign.against == "nothing":
            sizes = {i: absolute(sign, m) for i, m in found.items()}
            out = self._out(found, sign, limit, event, signs)
            by_rep = {i: self._seen(sign, limit, floor, found[i], s, out, 0.0) for i, s in sizes.items()}
            return Shown(sign, limit, floor, by_rep, None)
        reference = self.reference(sign, floor, found)
        if reference is None:
            return Shown(sign, limit, floor, {}, None)
        changes = {i: self.change(sign, m, found[reference]) for i, m in found.items() if i != reference}
        out = self._out(found, sign, limit, event, signs)
        here = _value(found[reference])
        by_rep = {i: self._seen(sign, limit, floor, found[i], changes[i], out, here) for i in changes}
        return Shown(sign, limit, floor, by_rep, reference)

    def _out(
        self,
        found: dict[int, Measure],
        sign: Sign,
        limit: Limit,
        event: Sequence[Sign],
        signs: Sequence[Sign],
    ) -> str:
        """Tell whether the set is more than restless: asked once, of all its reps together."""
        if not self._asked(sign, found):
            return "sure"
        steady = consistency(self, sign.measure)
        alone = sign.against == "nothing" and not sign.of_extreme
        values, error = _row(sign, found)
        if len(found) == 1:
            (only,) = found.values()
            error = math.hypot(error, only.sd_common or 0.0)
            chance = chance_alone(values[0], error, limit.natural, steady, sign.worse)
        else:
            chance = chance_of(values, error, limit.natural, steady, sign.worse, absolute=alone, tires=sign.tires)
        if sign.chance_by and found.keys() <= (other := self.values(sign.chance_by)).keys():
            values, error = _row(sign, {i: other[i] for i in found})
            chance = min(chance, 2 * chance_of(values, error, limit.natural, steady, sign.worse))
        rows = list(self._event(found, event))
        if len(rows) > 1:
            row, error, natural = together(rows, steady)
            # Two questions where there was one.
            chance = 2 * min(chance, chance_of(row, error, natural, steady, "more"))
        others = [
            other for other in signs if other is not sign and self._asked(other, self.values_or_bounds(other))
        ]
        share = share_of(sign in signs[:1], len(others))
        return stands_out(chance / share, tires=sign.tires)

    def _asked(self, sign: Sign, found: dict[int, Measure]) -> bool:
        """Tell whether chance could make a sign, so that this is asked; of one value only against nothing."""
        if sign.due is not None or not self.limits[sign.limit].natural:
            return False
        if sign.when is not None and not sign.when(self.context):
            return False
        return len(found) >= (1 if sign.against == "nothing" and not sign.of_extreme else 2)

    def _event(
        self, reps: dict[int, Measure], event: Sequence[Sign]
    ) -> Iterator[tuple[list[float], float, float]]:
        """Give of every sign that all these reps have its values for the worse, their error and their scatter."""
        for sign in event:
            found = self.values(sign.measure)
            if reps.keys() <= found.keys():
                values, error = _row(sign, {i: found[i] for i in reps})
                way = -1.0 if sign.worse == "less" else 1.0
                yield [way * v for v in values], error, self.limits[sign.limit].natural

    def reference(self, sign: Sign, floor: float, found: dict[int, Measure]) -> int | None:
        """Give the rep that the others are held against.

        The best rep, unless the cleanest one beats it by more than half the floor; without a best rep the
        cleanest. Where neither way is better,
        the best rep or else the one in the middle. None with fewer than two reps.
        """
        known = [i for i in self.completed if i in found]
        if not known or len(found) < 2:
            return None
        value = {i: _value(found[i]) for i in known}
        if sign.worse == "away":
            if self.best in value:
                return self.best
            middle = sorted(value.values())[(len(value) - 1) // 2]
            return min(known, key=lambda i: (abs(value[i] - middle), i))
        way = 1.0 if sign.worse == "more" else -1.0
        cleanest = min(known, key=lambda i: (way * value[i], i))
        best = self.best
        if best is None or best not in value:
            return cleanest
        beats = way * (value[best] - value[cleanest])
        if sign.as_pct:
            beats *= 100.0 / max(abs(value[cleanest]), 1e-9)
        return cleanest if beats > BETTER_SHARE * floor else best

    def change(self, sign: Sign, measure: Measure, reference: Measure) -> tuple[float, float]:
        """Give how much worse a rep is than the reference and the sd of that, in the threshold's unit."""
        away = _value(measure) - _value(reference)
        size = abs(away) if sign.worse == "away" else away if sign.worse == "more" else -away
        parts = [measure.sd or 0.0, reference.sd or 0.0]
        if "cut_in_clip" in self.warned:
            # Each piece has a camera of its own: what is common to a piece does not drop out of differences.
            parts += [measure.sd_common or 0.0, reference.sd_common or 0.0]
        sd = math.hypot(*parts)
        share = 100.0 / max(abs(_value(reference)), 1e-9) if sign.as_pct else 1.0
        return size * share, sd * share

    def _seen(
        self,
        sign: Sign,
        limit: Limit,
        floor: float,
        measure: Measure,
        change: tuple[float, float],
        out: str,
        against: float,
    ) -> Seen:
        size, sd = change
        above = _value(measure) >= against
        confidence = confidence_of(size, sd, floor)
        if confidence is None and sign.close is not None and -sign.close <= size:
            return Seen(size, sd, above, "hint", ("this clip cannot tell on which side of the line it is",))
        doubts: list[str] = []
        if confidence is not None:
            held = at_most(confidence, out) if out else None
            if held != confidence:
                doubts.append("it does not stand far out of what this lifter's reps differ by anyway")
            confidence = held
        caps = list(self._caps(sign, measure))
        if sign.against == "reference" and 2 * len(self.values_or_bounds(sign)) < len(self.judged):
            caps.append(("hint", "most reps of the set do not show it, and may differ as much"))
        for most, why in caps:
            if confidence is not None and rank(confidence) < rank(most):
                confidence = most
                doubts.append(why)
        if confidence == "likely" and not doubts:
            doubts.append("its size is near what counts, within the clip's error")
        if confidence == "hint" and not doubts:
            doubts.append("it is smaller than what counts for sure")
        return Seen(size, sd, above, confidence, tuple(doubts), measure.at_most is not None)

    def _caps(self, sign: Sign, measure: Measure) -> Iterator[tuple[str, str]]:
        if sign.most != "sure":
            yield sign.most, "this sign alone is never sure from one camera"
        if measure.status == "inferred":
            why = "it was inferred and not seen: " + (measure.basis or "from what was seen beside it")
            yield ("hint" if sign.most == "likely" else "likely"), why
        if "; weak " in measure.basis:
            yield "likely", "this view shows it weakly; the side would show it well"
        if sign.limit == "depth_line" and "calibrated" not in measure.basis:
            yield "likely", "joints stand in for crease and knee top; one pair of marks for this lifter settles it"
        if "lift_doubtful" in self.warned:
            yield "hint", "it is in doubt that this is the lift that was named"
        if "bar_unsure" in self.warned:
            yield "likely", "it is not sure that what was followed is the bar"
        if "time_base_doubtful" in self.warned and measure.unit in ("s", "m_s"):
            yield "hint", "the clip's clock may not be real time"


def absolute(sign: Sign, measure: Measure) -> tuple[float, float]:
    """Give the size of a sign that is held against nothing, and its sd from both kinds of error."""
    value = _value(measure)
    if sign.due is not None:
        return sign.due - value, math.hypot(measure.sd or 0.0, measure.sd_common or 0.0)
    size = abs(value) if sign.worse == "away" else value if sign.worse == "more" else -value
    return size, math.hypot(measure.sd or 0.0, measure.sd_common or 0.0)


def confidence_of(size: float, sd: float, floor: float) -> str | None:
    """Give how sure a finding of this size is, None when it is none.

    Every one must stand clear of its error (1.96 sd). Sure: above the floor even when 1.645 sd smaller. Likely: at
    least 0.85 of the floor. Hint: at least 0.6 of it.
    """
    if not size > CLEAR_SDS * sd:
        return None
    if size - SURE_SDS * sd >= floor:
        return "sure"
    if size >= LIKELY_SHARE * floor:
        return "likely"
    return "hint" if size >= HINT_SHARE * floor else None


def _row(sign: Sign, found: dict[int, Measure]) -> tuple[list[float], float]:
    """Give a sign's values over the reps and the random error of one, in the threshold's unit."""
    values = np.array([_value(m) for m in found.values()])
    # The expected scatter is a share of a usual rep; the reference is the cleanest and would make all large.
    share = 100.0 / max(abs(float(values.mean())), 1e-9) if sign.as_pct else 1.0
    error = share * math.sqrt(math.fsum((m.sd or 0.0) ** 2 for m in found.values()) / len(found))
    return (share * values).tolist(), error


def _value(measure: Measure) -> float:
    assert measure.value is not None
    return measure.value

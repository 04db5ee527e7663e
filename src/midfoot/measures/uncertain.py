"""Numbers that remember where their errors come from, to first order.

A reading of the bar or of a joint carries its own random error and shares others with the whole clip: scale, yaw,
roll, pitch, camera distance, how the network places a joint in a posture. Every shared error has a name, and
sums and differences of readings add the signed effects name by name. So what is common drops out of differences
by itself (one degree of roll moves every rep's path and not their difference), and what stays is the `sd` (own
errors) and the `sd_common` (named errors) of the result.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Self

from attrs import evolve, field, frozen

OWN = "own:"
"""Prefix of a random error: it belongs to one reading and to nothing else."""


@frozen(eq=False)
class Number:
    """A value with the signed effect of one standard deviation of each source of error.

    Attributes
    ----------
    value : float
    parts : mapping of source to effect
        In the value's unit. Sources that begin with `own:` are random, all others are common to the clip.
    inferred : bool
        True when any reading behind it was inferred (from bones, or the bar from the hands).
    """

    value: float
    parts: Mapping[str, float] = field(factory=dict)
    inferred: bool = False

    @property
    def sd(self) -> float:
        """The random part, one standard deviation."""
        return math.sqrt(math.fsum(p * p for s, p in self.parts.items() if s.startswith(OWN)))

    @property
    def sd_common(self) -> float:
        """The part that the whole clip shares, one standard deviation."""
        return math.sqrt(math.fsum(p * p for s, p in self.parts.items() if not s.startswith(OWN)))

    def __add__(self, other: Number | float) -> Number:
        return combine(lambda a, b: a + b, self, other)

    def __sub__(self, other: Number | float) -> Number:
        return combine(lambda a, b: a - b, self, other)

    def __mul__(self, other: Number | float) -> Number:
        return combine(lambda a, b: a * b, self, other)

    def __truediv__(self, other: Number | float) -> Number:
        return combine(lambda a, b: a / b, self, other)

    def __neg__(self) -> Number:
        return self * -1.0

    __radd__ = __add__
    __rmul__ = __mul__

    def __rsub__(self, other: float) -> Number:
        return -self + other

    def plus(self, source: str, effect: float) -> Self:
        """Give the same value with one more source of error; `effect` is one sd in the value's unit."""
        parts = dict(self.parts)
        parts[source] = math.hypot(parts[source], effect) if source in parts else effect
        return evolve(self, parts=parts)

    def as_common(self, name: str) -> Number:
        """Give the same value with its own errors turned into one error that the clip shares.

        A reading that every rep is compared with (the set's highest lockout) is the same for all of them.
        """
        parts = {s: p for s, p in self.parts.items() if not s.startswith(OWN)}
        parts[name] = self.sd
        return Number(self.value, parts, self.inferred)


def own(value: float, sd: float, name: str, *, inferred: bool = False) -> Number:
    """Give a reading with a random error only; equal names are the same reading."""
    return Number(value, {OWN + name: sd}, inferred)


def averaged(number: Number, value: float, times: float) -> Number:
    """Give the mean of so many independent readings like this one: own errors fall with their number's root."""
    parts = {s: p / math.sqrt(times) if s.startswith(OWN) else p for s, p in number.parts.items()}
    return Number(value, parts, number.inferred)


def combine(formula: Callable[..., float], *numbers: Number | float) -> Number:
    """Carry values and errors through a formula of one or more numbers.

    First-order propagation with numerical slopes (central differences of a ten-thousandth of each number's own
    error, so that the slope is the local one).

    Parameters
    ----------
    formula : called with plain floats.
    numbers : the arguments; plain floats are exact.
    """
    values = [n.value if isinstance(n, Number) else float(n) for n in numbers]
    parts: dict[str, float] = {}
    inferred = False
    for i, number in enumerate(numbers):
        if not isinstance(number, Number):
            continue
        inferred |= number.inferred
        if not number.parts:
            continue
        step = 1e-4 * (math.hypot(number.sd, number.sd_common) or 1.0)
        up, down = [*values], [*values]
        up[i] += step
        down[i] -= step
        slope = (formula(*up) - formula(*down)) / (2.0 * step)
        for source, effect in number.parts.items():
            parts[source] = parts.get(source, 0.0) + slope * effect
    return Number(formula(*values), parts, inferred)


def mean(numbers: list[Number]) -> Number:
    """Give the mean of one or more numbers."""
    total = numbers[0]
    for number in numbers[1:]:
        total = total + number
    return total * (1.0 / len(numbers))


def lean_deg(forward: Number, up: Number) -> Number:
    """Give the angle of the line (forward, up) from the vertical, degrees, positive leaning forward."""
    return combine(lambda f, u: math.degrees(math.atan2(f, u)), forward, up)


def corner_deg(a: tuple[Number, Number], b: tuple[Number, Number], c: tuple[Number, Number]) -> Number:
    """Give the angle at b between the lines to a and c, degrees, 180 when straight."""

    def angle(ax: float, ay: float, bx: float, by: float, cx: float, cy: float) -> float:
        p, q = math.atan2(ay - by, ax - bx), math.atan2(cy - by, cx - bx)
        return abs((math.degrees(p - q) + 180.0) % 360.0 - 180.0)

    return combine(angle, *a, *b, *c)

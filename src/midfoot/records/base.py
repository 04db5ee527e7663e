"""Validators and the small values every other record is made of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from attrs import Attribute, field, frozen
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LIFTS = ("squat", "bench", "deadlift")


class RecordError(ValueError):
    """A record was built from values that do not fit it: field, expected and got are in the text."""


def one_of(*allowed: str) -> Callable[[Any, Attribute[Any], Any], None]:
    """Validate that a string is one of `allowed`."""

    def check(instance: Any, attribute: Attribute[Any], value: Any) -> None:
        if value not in allowed:
            raise RecordError(f"{attribute.name}: expected one of {', '.join(allowed)}, got {value!r}")

    return check


def shaped(*shape: int | None) -> Callable[[Any, Attribute[Any], Any], None]:
    """Validate an array's shape; None stands for any length."""

    def check(instance: Any, attribute: Attribute[Any], value: Any) -> None:
        got = value.shape
        fits = len(got) == len(shape) and all(w is None or w == g for w, g in zip(shape, got, strict=True))
        if not fits:
            raise RecordError(f"{attribute.name}: expected shape {shape}, got {got}")

    return check


def _readonly(value: Any, dtype: Any) -> NDArray[Any]:
    array = np.array(value, dtype=dtype, copy=True)
    array.setflags(write=False)
    return array


def floats(value: Any) -> FloatArray:
    """Copy into a read-only float64 array."""
    return _readonly(value, np.float64)


def bools(value: Any) -> BoolArray:
    """Copy into a read-only bool array."""
    return _readonly(value, np.bool_)


def small_ints(value: Any) -> NDArray[np.int8]:
    """Copy into a read-only int8 array."""
    return _readonly(value, np.int8)


def float_field(*shape: int | None) -> Any:
    """Give an attrs field holding a read-only float64 array of `shape`."""
    return field(converter=floats, validator=shaped(*shape), eq=False)


def bool_field(*shape: int | None) -> Any:
    """Give an attrs field holding a read-only bool array of `shape`."""
    return field(converter=bools, validator=shaped(*shape), eq=False)


@frozen
class Value:
    """A number with its standard deviation, in the unit its field names."""

    value: float
    sd: float

    def __bool__(self) -> bool:
        return True


@frozen
class NotMeasured:
    """Something that could not be measured: why, and what would help. It is false."""

    reason: str
    remedy: str = ""

    def __bool__(self) -> bool:
        return False


@frozen
class Warned:
    """A warning that travels with a measurement: stable id, one sentence, one remedy."""

    id: str
    text: str
    remedy: str = ""

"""Which errors mean "could not do it" (exit 1) and which "wrong use" (exit 2)."""

from __future__ import annotations


class UseError(ValueError):
    """An option or a side file makes no sense. The text says what would."""


def wrong_use() -> tuple[type[Exception], ...]:
    """Give the errors that mean the command was used wrongly."""
    from midfoot.reps import GivenError
    from midfoot.units import UnitError

    return (UseError, UnitError, GivenError)


def could_not() -> tuple[type[Exception], ...]:
    """Give the errors that mean the clip, the disk or the installation stands in the way."""
    from midfoot.body import ModelsError
    from midfoot.footage import FootageError, Stopped
    from midfoot.store import StoreError

    return (FootageError, StoreError, ModelsError, Stopped)

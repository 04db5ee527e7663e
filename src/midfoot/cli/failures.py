"""Which errors mean "could not do it" (exit 1), which "wrong use" (exit 2), and which that work was stopped."""

from __future__ import annotations

from midfoot.units import UnitError


class UseError(ValueError):
    """An option or a side file makes no sense. The text says what would."""


class CannotSay(Exception):
    """What was asked cannot be said from what was given: the reason, then what would help."""


def is_wrong_use(error: Exception) -> bool:
    """Tell whether the command was used wrongly."""
    if isinstance(error, (UseError, UnitError)):
        return True  # before the imports below, which cost a second
    from midfoot.desk.context_file import ContextError
    from midfoot.strength import StrengthError

    if isinstance(error, (ContextError, StrengthError)):
        return True
    from midfoot.findings import ThresholdsError
    from midfoot.findings.vocabulary import VocabularyError
    from midfoot.history import CompareError
    from midfoot.reps import GivenError
    from midfoot.review import EditError, LibraryError
    from midfoot.second_view import ViewsError

    return isinstance(
        error, (GivenError, ThresholdsError, EditError, LibraryError, CompareError, ViewsError, VocabularyError)
    )


def is_could_not(error: Exception) -> bool:
    """Tell whether the clip, the disk, the installation or too little knowledge stands in the way."""
    if isinstance(error, CannotSay):
        return True
    from midfoot.body import ModelsError
    from midfoot.footage import FootageError
    from midfoot.store import StoreError

    return isinstance(error, (FootageError, StoreError, ModelsError))


def is_stopped(error: Exception) -> bool:
    """Tell whether somebody asked the work to end."""
    from midfoot.footage import Stopped

    return isinstance(error, Stopped)

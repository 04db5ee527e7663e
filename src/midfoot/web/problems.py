"""What the desk cannot do: a status, one sentence, and what would help."""

from __future__ import annotations

from collections.abc import Mapping


class Problem(Exception):
    """A request that cannot be met; the reader is told `says` and `remedy`, never where in the code."""

    def __init__(
        self,
        status: int,
        says: str,
        remedy: str = "",
        *,
        otherwise: str = "Go back and try again.",
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(says)
        if not remedy:  # one sentence that holds both, as errors of the program are
            says, _, remedy = says.partition("; ")
            says = says.rstrip(".") + "."
        self.status, self.says, self.headers = status, says, dict(headers or {})
        self.remedy = remedy[:1].upper() + remedy[1:] or otherwise


def not_found(what: str) -> Problem:
    """Give the problem of an address that leads to nothing."""
    return Problem(404, f"There is no {what} here.", "Go back to the inbox; it may have been archived or erased.")


def problem_of(status: int, error: Exception, otherwise: str = "Reload the page and try again.") -> Problem:
    """Turn an error of our own into a problem; `otherwise` is the remedy of one that names none."""
    return Problem(status, str(error), otherwise=otherwise)

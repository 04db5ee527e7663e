"""What the desk cannot do: a status, one sentence, and what would help."""

from __future__ import annotations


class Problem(Exception):
    """A request that cannot be met; the reader is told `says` and `remedy`, never where in the code."""

    def __init__(self, status: int, says: str, remedy: str) -> None:
        super().__init__(says)
        self.status, self.says, self.remedy = status, says, remedy


def not_found(what: str) -> Problem:
    """Give the problem of an address that leads to nothing."""
    return Problem(404, f"There is no {what} here.", "Go back to the inbox; it may have been archived or erased.")

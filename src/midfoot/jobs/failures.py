"""What is said when a job could not be done: one sentence with the remedy, and whether trying again may help."""

from __future__ import annotations

import errno
import re

from midfoot.desk.page_words import on_page

FULL = "The disk is full; free some room, then press Try again."
MEMORY = "There is not enough memory for it; close other programs, then press Try again."


def sentence(error: BaseException) -> tuple[str, bool]:
    """Give the sentence for an error, and whether the job should go back into the queue."""
    if isinstance(error, MemoryError):
        return MEMORY, True
    if isinstance(error, OSError) and _full(error):
        return FULL, False
    if type(error).__module__.partition(".")[0] == "midfoot" and type(error).__name__ != "RecordError":
        return _for_the_desk(_one_line(str(error))), False  # an error of our own says what would help
    said = f"{type(error).__name__}: {_one_line(str(error))}"
    return f"Something in midfoot went wrong ({said}); press Try again, and report it with log/errors.log.", True


def _for_the_desk(text: str) -> str:
    """Say in the desk's words what was written for the command line."""
    text = re.sub(r"(?:,| or|;)? give another (?:folder|one) with --out", "; see to the workspace's disk", text)
    return re.sub(r"(“[^”]+”) and \1", r"\1", on_page(text))


def _full(error: BaseException | None) -> bool:
    while error is not None:
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
            return True
        if isinstance(error, OSError) and "the disk is full" in str(error):
            return True
        error = error.__cause__
    return False


def _one_line(text: str) -> str:
    return " ".join(text.split())[:600]

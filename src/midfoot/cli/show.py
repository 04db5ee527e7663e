"""What the terminal shows: progress while it works, a short table when the numbers are there."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeElapsedColumn
from rich.text import Text

from midfoot.cli.table import found_lines, short_table, wrapped
from midfoot.records.measures import Measurement

WIDEST = 120
"""Longer lines are not read more easily."""


class Show:
    """The terminal during one run: progress goes to stderr, where that is a terminal; results go to stdout."""

    def __init__(self, *, quiet: bool = False) -> None:
        self._quiet = quiet
        self._out = Console(highlight=False)
        self._err = Console(stderr=True, highlight=False)
        self._progress: Progress | None = None
        self._tasks: dict[str, TaskID] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.clear()

    def progress(self, step: str, share: float) -> None:
        """Show that a step has come as far as `share`, 0..1; says nothing when nobody looks."""
        if not self._err.is_terminal:
            return
        if self._progress is None:
            self._progress = Progress(
                TextColumn("{task.description}"),
                BarColumn(24),
                TextColumn("{task.percentage:>3.0f} %"),
                TimeElapsedColumn(),
                console=self._err,
                transient=True,
                refresh_per_second=4,
            )
            self._progress.start()
        if step not in self._tasks:
            self._tasks[step] = self._progress.add_task(step, total=1.0)
        self._progress.update(self._tasks[step], completed=share)

    def clear(self) -> None:
        """Take the progress lines away."""
        if self._progress is not None:
            self._progress.stop()
        self._progress, self._tasks = None, {}

    def table(self, measurement: Measurement) -> None:
        """Print the short table of reps and the warnings."""
        width = min(self._out.width, WIDEST)
        for line in short_table(measurement, width):
            self._line(line.text, strong=line.strong)
        found = found_lines(measurement, width)
        if found:
            self._line("")
        for line in found:
            self._line(line.text, strong=line.strong)
        if measurement.warnings:
            self._line("")
        for warned in measurement.warnings:
            for part in wrapped(f"{warned.text} {warned.remedy}".strip(), width, first="! ", then="  "):
                self._line(part)

    def say(self, words: str) -> None:
        """Print a line of plain words."""
        self._line(words)

    def where(self, folder: Path, *, video: bool) -> None:
        """Say where to look."""
        if not self._quiet:
            also = ", annotated.mp4" if video else ""
            self._line(f"{folder}/report.html{also}, measurement.json")

    def _line(self, words: str, *, strong: bool = False) -> None:
        self._out.print(Text(words, style="bold" if strong else ""), soft_wrap=True)

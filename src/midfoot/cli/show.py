"""What the terminal shows: progress while it works, a short table when the numbers are there."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeElapsedColumn
from rich.table import Table

from midfoot.publish.moments import said
from midfoot.publish.tables import plain_name
from midfoot.records.measures import Measurement

SHORT = {
    "squat": ("range_of_motion_mm", "ascent_time_s", "ascent_mean_velocity_m_s", "path_departure_mm",
              "trunk_angle_low_deg", "low_height_change_mm"),
    "bench": ("range_of_motion_mm", "ascent_time_s", "ascent_mean_velocity_m_s", "path_departure_mm",
              "pause_time_s", "touch_point_mm"),
    "deadlift": ("range_of_motion_mm", "ascent_time_s", "ascent_mean_velocity_m_s", "path_departure_mm",
                 "lockout_shortfall_mm", "downward_movement_mm"),
}  # fmt: skip


class Show:
    """The terminal during one run; progress goes to stderr, results to stdout."""

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
        """Show that a step has come as far as `share`."""
        if self._progress is None:
            self._progress = Progress(
                TextColumn("{task.description}"),
                BarColumn(40),
                TextColumn("{task.percentage:>3.0f} %"),
                TimeElapsedColumn(),
                console=self._err,
                transient=True,
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
        data = measurement.data
        wanted = SHORT[data.asked.lift]
        if not data.reps.reps:
            self._out.print(f"{data.asked.lift}: no rep was found in this clip.")
        else:
            table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
            table.add_column("rep")
            for measure_id in wanted:
                table.add_column(plain_name(measure_id), justify="right")
            for place, rep in enumerate(data.reps.reps):
                name = str(rep.n) if rep.outcome == "completed" else f"{rep.n} {rep.outcome.replace('_', ' ')}"
                cells = [said(measurement.measured.of(place, m)) or "–" for m in wanted]
                table.add_row(name, *cells)
            self._out.print(table)
        best = measurement.measured.best_rep
        if best is not None:
            self._out.print(f"best rep: {best}")
        for warned in measurement.warnings:
            self._out.print(f"! {warned.text} {warned.remedy}".rstrip(), markup=False, soft_wrap=True)

    def say(self, words: str) -> None:
        """Print a line of plain words."""
        self._out.print(words, markup=False, soft_wrap=True)

    def where(self, folder: Path, *, video: bool) -> None:
        """Say where to look."""
        if not self._quiet:
            also = ", annotated.mp4" if video else ""
            self._out.print(f"{folder}/report.html{also}, measurement.json", soft_wrap=True)

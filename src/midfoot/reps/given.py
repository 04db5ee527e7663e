"""Moments given by a person: a TOML or CSV file whose entries override what was measured.

TOML::

    [[rep]]
    n = 1
    start_s = 2.81
    low_start_s = 3.98
    low_end_s = 5.02
    end_s = 6.08
    outcome = "completed"

CSV has a header line with the same names (`n,start_s,low_start_s,low_end_s,end_s,outcome`); an empty cell says
nothing. Deadlifts take `top_start_s` and `top_end_s`. Only what is given is overridden. `n` counts the reps as
measured; a number beyond the last adds a rep. `whole = true` at the top of a TOML file says that the file lists
the whole set: measured reps that it does not name are dropped.
"""

from __future__ import annotations

import csv
import io
import math
import tomllib
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import Any

from attrs import field, frozen

from midfoot.records.reps import OUTCOMES

TIMES = ("start_s", "low_start_s", "low_end_s", "top_start_s", "top_end_s", "end_s")
NAMES = ("n", *TIMES, "outcome")
LOW_FIRST = ("start_s", "low_start_s", "low_end_s", "end_s")
TOP_FIRST = ("start_s", "top_start_s", "top_end_s", "end_s")


class GivenError(ValueError):
    """A file of given reps makes no sense: the text says where, what was expected and what stands there."""


@frozen(kw_only=True)
class GivenRep:
    """What a person says of one rep; None is left to the measurement. Seconds on the clip's clock.

    `about_s` is a moment inside the rep as it was when it was said: where the numbers have changed since (another
    part of the clip, another bar), the rep is known by it, and what is about no rep any more is left out.
    """

    n: int
    start_s: float | None = None
    low_start_s: float | None = None
    low_end_s: float | None = None
    top_start_s: float | None = None
    top_end_s: float | None = None
    end_s: float | None = None
    outcome: str | None = None
    about_s: float | None = None


def _by_number(given: Iterable[GivenRep]) -> tuple[GivenRep, ...]:
    return tuple(sorted(given, key=lambda rep: rep.n))


@frozen
class GivenReps:
    """Given reps in order of their number.

    Attributes
    ----------
    reps : tuple of GivenRep
        Numbers count the reps as they stand once missing ones are added and false ones taken out.
    whole : bool
        There are no others.
    missing : tuple of pairs
        From and to, s, of reps that are there and were not found.
    false_at : tuple of float
        Moments, s, inside what was taken for a rep and is none.
    """

    reps: tuple[GivenRep, ...] = field(converter=_by_number)
    whole: bool = False
    missing: tuple[tuple[float, float], ...] = ()
    false_at: tuple[float, ...] = ()

    def __attrs_post_init__(self) -> None:
        numbers = [r.n for r in self.reps if r.about_s is None]
        twice = next((n for n in numbers if numbers.count(n) > 1), None)
        if twice is not None:
            raise GivenError(f"Rep {twice} is given twice; give each rep once.")


def read_given(path: Path) -> GivenReps:
    """Read a file of given reps, TOML by its ending .toml, CSV by .csv.

    Raises
    ------
    GivenError
        When it cannot be read or says something impossible.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise GivenError(f"The file of reps {path.name} cannot be read: {error}.") from error
    ending = path.suffix.lower()
    if ending == ".toml":
        return _from_toml(text, path.name)
    if ending == ".csv":
        return _from_csv(text, path.name)
    raise GivenError(f"The file of reps {path.name} must end in .toml or .csv.")


def _from_toml(text: str, name: str) -> GivenReps:
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise GivenError(f"{name} is not TOML: {error}.") from error
    unknown = sorted(set(table) - {"rep", "whole"})
    if unknown:
        raise GivenError(f"{name}: expected [[rep]] tables and `whole`, got {unknown[0]!r}.")
    rows, whole = table.get("rep", []), table.get("whole", False)
    if not isinstance(rows, list) or not rows or not all(isinstance(r, dict) for r in rows):
        raise GivenError(f"{name}: expected at least one [[rep]] table.")
    if not isinstance(whole, bool):
        raise GivenError(f"{name}: whole must be true or false, got {whole!r}.")
    return GivenReps([_rep(row, f"{name}, [[rep]] number {i}") for i, row in enumerate(rows, start=1)], whole)


def _from_csv(text: str, name: str) -> GivenReps:
    try:
        reader = csv.DictReader(io.StringIO(text), strict=True, skipinitialspace=True)
        head = [(h or "").strip() for h in reader.fieldnames or ()]
        if "n" not in head:
            raise GivenError(f"{name}: the first line must name the columns, n among them: {','.join(NAMES)}.")
        reader.fieldnames = head
        rows: list[GivenRep] = []
        for row in reader:
            if None in row:
                raise GivenError(f"{name}, line {reader.line_num}: more cells than columns.")
            said = {k: v.strip() for k, v in row.items() if v is not None and v.strip()}
            if said:
                rows.append(_rep(said, f"{name}, line {reader.line_num}"))
    except csv.Error as error:
        raise GivenError(f"{name} is not CSV: {error}.") from error
    if not rows:
        raise GivenError(f"{name}: expected at least one rep below the line of names.")
    return GivenReps(rows)


def _rep(row: dict[str, Any], where: str) -> GivenRep:
    unknown = sorted(set(row) - set(NAMES))
    if unknown:
        raise GivenError(f"{where}: expected {', '.join(NAMES)}; got {unknown[0]!r}.")
    if "n" not in row:
        raise GivenError(f"{where}: n, the rep's number, is missing.")
    times = {key: _seconds(row[key], f"{where}: {key}") for key in TIMES if key in row}
    _in_order(times, where)
    outcome = row.get("outcome")
    if outcome is not None and outcome not in OUTCOMES:
        raise GivenError(f"{where}: outcome must be one of {', '.join(OUTCOMES)}, got {outcome!r}.")
    return GivenRep(n=_number(row["n"], where), outcome=outcome, **times)


def _number(value: Any, where: str) -> int:
    try:
        number = int(value)
        fits = not isinstance(value, bool) and number == float(value) and number >= 1
    except (TypeError, ValueError):
        fits = False
    if not fits:
        raise GivenError(f"{where}: n must be a whole number from 1, got {value!r}.")
    return number


def _seconds(value: Any, where: str) -> float:
    try:
        seconds = float(value)
        fits = not isinstance(value, bool) and math.isfinite(seconds)
    except (TypeError, ValueError):
        fits = False
    if not fits:
        raise GivenError(f"{where} must be a time in seconds, got {value!r}.")
    return seconds


def _in_order(times: dict[str, float], where: str) -> None:
    if any(k.startswith("low") for k in times) and any(k.startswith("top") for k in times):
        raise GivenError(f"{where}: a rep has low_ times (squat, bench) or top_ times (deadlift), not both.")
    for order in (LOW_FIRST, TOP_FIRST):
        said = [(k, times[k]) for k in order if k in times]
        for (first, a), (second, b) in pairwise(said):
            if b < a:
                raise GivenError(f"{where}: {second} ({b:g}) lies before {first} ({a:g}).")

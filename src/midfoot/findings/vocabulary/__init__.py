"""The coach's vocabulary: observations for what no camera measures, marked at a frame with one key.

An observation makes a `Finding` by the coach, of the same standing as a measured one. The words are data, one TOML
file per lift; a coach's own file adds to them or replaces them, entry by entry.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from attrs import field, frozen

from midfoot.records.base import LIFTS, RecordError, one_of
from midfoot.records.findings import Change, Finding

MOMENTS = ("setup", "start", "descent", "low", "ascent", "lockout", "top", "lowering", "between")
KEYS = {"key", "claim", "look", "cue", "moment", "good", "off"}


class VocabularyError(ValueError):
    """A file of the vocabulary breaks the form. The text names file and entry and says what would do."""


@frozen(kw_only=True)
class Observation:
    """One thing a coach may see.

    Attributes
    ----------
    id, lift : str
    key : str
        One character; pressed at the current frame it marks the observation.
    claim : str
        What is said of it.
    look : str
        What to look for, also next time.
    cue : str
        What to try, "" for what is praised.
    moment : str
        Where in the rep it shows.
    good : bool
        Praise, not a fault.
    """

    id: str
    lift: str = field(validator=one_of(*LIFTS))
    key: str
    claim: str
    look: str
    cue: str = ""
    moment: str = field(default="start", validator=one_of(*MOMENTS))
    good: bool = False

    def seen(self, reps: tuple[int, ...], at_s: tuple[float, ...], words: str = "") -> Finding:
        """Make the finding by the coach.

        Parameters
        ----------
        reps : numbers of the reps that show it.
        at_s : the moment to look at in each, s on the clip's clock.
        words : what the coach says of it in place of the claim's own text.
        """
        change = Change(f"{self.id}_cue", "cue", self.cue, None, None)
        return Finding(
            id=self.id,
            by="coach",
            title=self.claim,
            text=words,
            reps=reps,
            at_s=at_s,
            confidence="sure",
            nature="information" if self.good else "fault",
            changes=(change,) if self.cue else (),
        )


def vocabulary(lift: str, own: Path | None = None) -> tuple[Observation, ...]:
    """Give the observations of a lift in the order in which they are shown.

    Parameters
    ----------
    lift : squat, bench or deadlift.
    own : the coach's folder; its `{lift}.toml` adds entries, replaces single fields of those of the same id, and
        leaves out those with `off = true`. None, or no such file: the vocabulary as it comes.

    Raises
    ------
    VocabularyError
        When a file breaks the form, or two observations share a key.
    """
    if lift not in LIFTS:
        raise VocabularyError(f"lift: expected one of {', '.join(LIFTS)}, got {lift!r}.")
    table = {name: dict(entry) for name, entry in _bundled(lift).items()}
    file = own / f"{lift}.toml" if own is not None else None
    if file is not None and file.is_file():
        for name, entry in _read(file.read_bytes(), file.name).items():
            table[name] = {**table.get(name, {}), **entry}
    found = tuple(_observation(lift, name, entry) for name, entry in table.items() if not entry.get("off"))
    keys: dict[str, str] = {}
    for one in found:
        if one.key in keys:
            raise VocabularyError(
                f"The key {one.key!r} of {one.id} is taken by {keys[one.key]} in the {lift}'s vocabulary; "
                "give another one."
            )
        keys[one.key] = one.id
    return found


def observation(lift: str, name: str, own: Path | None = None) -> Observation:
    """Give one observation by its id.

    Raises
    ------
    VocabularyError
        When there is none of that id.
    """
    for one in vocabulary(lift, own):
        if one.id == name:
            return one
    raise VocabularyError(f"There is no observation {name!r} for the {lift}; take one of its vocabulary.")


@cache
def _bundled(lift: str) -> dict[str, dict[str, Any]]:
    file = resources.files("midfoot.findings.vocabulary").joinpath(f"{lift}.toml")
    return _read(file.read_bytes(), f"{lift}.toml")


def _read(data: bytes, name: str) -> dict[str, dict[str, Any]]:
    try:
        table = tomllib.loads(data.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise VocabularyError(f"{name} is not a TOML file ({error}); correct it.") from None
    for entry, fields in table.items():
        if not isinstance(fields, dict):
            raise VocabularyError(f"{name}: {entry} must be a table such as [{entry}]; got {fields!r}.")
        unknown = sorted(set(fields) - KEYS)
        if unknown:
            raise VocabularyError(
                f"{name}: [{entry}] has {unknown[0]!r}, which is not known; take {', '.join(sorted(KEYS))}."
            )
    return table


def _observation(lift: str, name: str, entry: dict[str, Any]) -> Observation:
    for need in ("key", "claim", "look"):
        if not isinstance(entry.get(need), str) or not entry[need].strip():
            raise VocabularyError(f"[{name}] of the {lift}'s vocabulary needs {need} = some text; add it.")
    if len(entry["key"]) != 1:
        raise VocabularyError(f"[{name}]: key must be one character; got {entry['key']!r}.")
    fields = {k: v for k, v in entry.items() if k != "off"}
    try:
        return Observation(id=name, lift=lift, **fields)
    except RecordError as error:
        raise VocabularyError(f"[{name}]: {error}") from None

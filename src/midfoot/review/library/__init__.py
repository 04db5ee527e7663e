"""The coach's library: what is said of each thing, in his words, for three levels of lifter and two ears.

Sentences are data: TOML files of tables `[about.kind]` whose keys say to whom (`lifter`, `on_air`) and, after an
underscore, to which level (`lifter_new`). A coach's folder comes first, file by file; `wording.toml` in it is what
"use this wording from now on" writes. `Picker` never takes a sentence that the lifter's last review had.
"""

from __future__ import annotations

import json
import re
import string
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from attrs import field, frozen

from midfoot.records.review import LENGTHS, LEVELS

KINDS = ("claim", "explanation", "cue", "drill", "link", "greeting", "closing", "caution", "next", "film", "good",
         "answer", "caption", "again")  # fmt: skip
PLACES = {
    "reps", "reps_aloud", "rep", "rep_aloud", "size", "size_aloud", "lift", "lift_aloud", "load", "load_aloud",
    "hello", "who", "count", "count_aloud", "best", "best_aloud", "thing", "things", "measure", "reason", "pct",
    "kg", "rpe", "more", "claim", "cue", "rule", "title", "view", "direction", "moment", "ref",
}  # fmt: skip
"""What may stand in braces."""
WORDING = "wording.toml"
NO_WORDING = ("squat", "bench", "deadlift", "topics", "thresholds")
"""Other files of a coach's folder: the program's own names, and the thresholds of findings."""
SENTENCE_END = re.compile(r"(?<=[.!?:])\s+(?=[A-Z\"“])")


class LibraryError(ValueError):
    """A file of the library breaks the form. The text names file and entry and says what would do."""


Table = dict[str, dict[str, dict[str, tuple[str, ...]]]]


@frozen
class Library:
    """All sentences: `table[about][kind][to]` is a tuple of variants, the coach's own first."""

    table: Table = field(factory=dict, eq=False, repr=False)

    def options(self, about: str, kind: str, *, to: str = "lifter", level: str = "trained") -> tuple[str, ...]:
        """Give the variants for one ear and one level: those for the level first, then those for everybody."""
        said = self.table.get(about, {}).get(kind, {})
        return (*said.get(f"{to}_{level}", ()), *said.get(to, ()))

    def knows(self, about: str, kind: str = "claim") -> bool:
        """Tell whether the library says anything of this."""
        return bool(self.table.get(about, {}).get(kind))


@cache
def _bundled() -> Table:
    merged: Table = {}
    for file in sorted(resources.files("midfoot.review.library").iterdir(), key=lambda f: f.name):
        if file.name.endswith(".toml"):
            _merge(merged, _read(file.read_bytes(), file.name))
    return merged


def load(own: Path | None = None) -> Library:
    """Give the library, a coach's folder before what comes with the program.

    Raises
    ------
    LibraryError
        When a file breaks the form.
    """
    merged: Table = {}
    if own is not None:
        if not own.is_dir():
            raise LibraryError(
                f"There is no folder {own}; give the folder of the coach's own wording with --library."
            )
        files = sorted(own.glob("*.toml"), key=lambda f: (f.name != WORDING, f.name))
        for file in files:
            if file.stem not in NO_WORDING:
                _merge(merged, _read(file.read_bytes(), file.name))
    _merge(merged, _bundled())
    return Library(merged)


def _merge(into: Table, more: Table) -> None:
    """Put variants behind those that are there."""
    for about, kinds in more.items():
        for kind, ears in kinds.items():
            for to, said in ears.items():
                there = into.setdefault(about, {}).setdefault(kind, {})
                there[to] = tuple(dict.fromkeys((*there.get(to, ()), *said)))


def _read(data: bytes, name: str) -> Table:
    try:
        document = tomllib.loads(data.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise LibraryError(f"{name} is not a TOML file ({error}); correct it.") from None
    ears = {*LENGTHS, *(f"{to}_{level}" for to in LENGTHS for level in LEVELS)}
    found: Table = {}
    for about, kinds in document.items():
        for kind, said in _table(kinds, f"{name}: [{about}]").items():
            where = f"{name}: [{about}.{kind}]"
            if kind not in KINDS:
                raise LibraryError(f"{where}: {kind!r} is not known; take one of {', '.join(KINDS)}.")
            for to, variants in _table(said, where).items():
                if to not in ears:
                    raise LibraryError(
                        f"{where}: {to!r} is not known; take lifter or on_air, with _new if need be."
                    )
                lines = [variants] if isinstance(variants, str) else variants
                if not isinstance(lines, list) or not all(isinstance(s, str) and s.strip() for s in lines):
                    raise LibraryError(f"{where}: {to} must be a text or a list of texts; got {variants!r}.")
                for line in lines:
                    _check(line, where)
                found.setdefault(about, {}).setdefault(kind, {})[to] = tuple(lines)
    return found


def _table(value: Any, where: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise LibraryError(f"{where} must be a table; got {value!r}.")
    return value


def _check(line: str, where: str) -> None:
    try:
        places = {name for _, name, _, _ in string.Formatter().parse(line) if name is not None}
    except ValueError as error:
        raise LibraryError(
            f"{where}: {line!r} has a brace that is not closed ({error}); write it as a pair."
        ) from None
    unknown = sorted(places - PLACES)
    if unknown:
        raise LibraryError(
            f"{where}: {{{unknown[0]}}} is not known; in braces may stand {', '.join(sorted(PLACES))}."
        )


def sentences(text: str) -> tuple[str, ...]:
    """Cut a text into its sentences, spaces and case evened out."""
    return tuple(_even(s) for s in SENTENCE_END.split(text.strip()) if _even(s))


def _even(text: str) -> str:
    return " ".join(text.split()).casefold()


def _pattern(template: str) -> re.Pattern[str]:
    """Match a sentence made from a template, whatever stood in the braces."""
    parts = re.split(r"\{[a-z_]+\}", _even(template))
    return re.compile(".*".join(re.escape(p) for p in parts), re.S)


class Picker:
    """Takes sentences from the library, none that stands in `used`, none twice for one ear."""

    def __init__(self, library: Library, level: str, used: Iterable[str] = ()) -> None:
        self._library = library
        self._level = level
        before = {s for text in used for s in sentences(text)}
        before |= {s.partition(": ")[2] for s in before if ": " in s}  # what a pointer at a frame leads into
        self._used = {to: set(before) for to in LENGTHS}

    def knows(self, about: str, kind: str = "claim") -> bool:
        """Tell whether the library says anything of this."""
        return self._library.knows(about, kind)

    def pick(self, about: str, kind: str, to: str, values: Mapping[str, str], *, fallback: str = "") -> str:
        """Give a sentence.

        Parameters
        ----------
        about, kind, to : what it is about, what kind of sentence, for which ear.
        values : what stands in the braces; a variant that needs something not given is passed over.
        fallback : text to fall back on where the library has nothing new.

        Returns
        -------
        str
            "" when everything there is was said last time.
        """
        for option in self._library.options(about, kind, to=to, level=self._level):
            needs = {name for _, name, _, _ in string.Formatter().parse(option) if name}
            if any(not values.get(name) for name in needs):
                continue
            text = option.format_map(values)
            text = text if text[0] == option[0] else capital(text)  # what is to be joined on stays small
            if self._fresh(option, text, to):
                return self.take(text, to)
        if fallback and self.fresh(fallback, to):
            return self.take(fallback, to)
        return ""

    def fresh(self, text: str, to: str = "lifter") -> bool:
        """Tell whether none of a text's sentences was used."""
        return not any(s in self._used[to] for s in sentences(text))

    def take(self, text: str, to: str = "lifter") -> str:
        """Count a text as used and give it back."""
        self._used[to].update(sentences(text))
        return text

    def _fresh(self, template: str, text: str, to: str) -> bool:
        if not self.fresh(text, to):
            return False
        patterns = [_pattern(s) for s in SENTENCE_END.split(template.strip())]
        # A sentence whose words are all in braces would match anything.
        firm = [p for p in patterns if len(p.pattern.replace(".*", "")) > 8]
        return not any(p.fullmatch(used) for p in firm for used in self._used[to])


def capital(text: str) -> str:
    """Begin with a capital letter."""
    return text[:1].upper() + text[1:]


def small(text: str) -> str:
    """Begin with a small letter, so that it can be joined on to what leads up to it."""
    return text if text.startswith("I ") else text[:1].lower() + text[1:]


def as_template(text: str, values: Mapping[str, str]) -> str:
    """Turn what a coach wrote for one set into a sentence for all: what came from the set goes into braces.

    The longest values first; only whole words; values of one or two letters stay as they are, they would be found
    where they were not meant.
    """
    out = text.replace("{", "(").replace("}", ")")
    for name, value in sorted(values.items(), key=lambda item: -len(item[1])):
        if len(value) > 2:
            out = re.sub(rf"(?<!\w){re.escape(value)}(?!\w)", "{" + name + "}", out)
            begun = capital(value)
            if begun != value and out.startswith(begun):
                out = "{" + name + "}" + out[len(begun) :]
    return out


def with_wording(document: str, about: str, kind: str, to: str, text: str) -> str:
    """Give the text of `wording.toml` with one more sentence, before the others of its kind.

    Raises
    ------
    LibraryError
        When the document or the sentence breaks the form.
    """
    table = _read(document.encode("utf-8"), WORDING)
    there = table.setdefault(about, {}).setdefault(kind, {})
    there[to] = tuple(dict.fromkeys((text, *there.get(to, ()))))
    return _document(table)


def without_wording(document: str, about: str, kind: str, to: str, text: str) -> str:
    """Give the text of `wording.toml` without one sentence; unchanged where it does not hold it.

    Raises
    ------
    LibraryError
        When the document breaks the form.
    """
    table = _read(document.encode("utf-8"), WORDING)
    there = table.get(about, {}).get(kind, {})
    if text not in there.get(to, ()):
        return document
    left = tuple(s for s in there[to] if s != text)
    if left:
        there[to] = left
    else:
        del there[to]
    return _document(table)


def _document(table: Table) -> str:
    lines = ["# Written by midfoot when a wording was kept for good; it may be edited by hand.", ""]
    for name, kinds in table.items():
        for sort, ears in kinds.items():
            if not ears:
                continue
            lines.append(f"[{json.dumps(name, ensure_ascii=False)}.{sort}]")
            for ear, said in ears.items():
                lines.append(f"{ear} = [")
                lines += [f"    {json.dumps(s, ensure_ascii=False)}," for s in said]
                lines.append("]")
            lines.append("")
    out = "\n".join(lines)
    _read(out.encode("utf-8"), WORDING)
    return out

"""The coach's own words, kept for later sets: observations of his vocabulary, wordings from now on.

They lie in his folder as TOML that may be edited by hand.
"""

from __future__ import annotations

import json
import secrets
import tomllib
from pathlib import Path

from attrs import evolve

from midfoot import review
from midfoot.findings.vocabulary import Observation, VocabularyError, observation, vocabulary
from midfoot.records.review import Edit
from midfoot.review.apply import OBSERVED
from midfoot.review.library import WORDING
from midfoot.reviewing import Reviewed
from midfoot.store import output_folder, write_whole

VOCABULARY = "vocabulary"
"""Folder within the coach's own, with his files of the vocabulary."""


def observed(lift: str, observation_id: str, rep: int, at_s: float, own: Path | None = None) -> Edit:
    """Give the edit that adds an observation of the coach's vocabulary at a moment of a rep.

    Parameters
    ----------
    lift : of the set.
    observation_id : of the vocabulary.
    rep, at_s : number of the rep and the moment on the clip's clock.
    own : the coach's folder, whose `vocabulary/` adds to the program's; None for none.

    Raises
    ------
    VocabularyError
        When there is no such observation, or the coach's file breaks the form.
    """
    seen = observation(lift, observation_id, own / VOCABULARY if own is not None else None)
    finding = seen.seen((rep,), (at_s,))
    return Edit(
        id=f"{OBSERVED}{observation_id}:{rep}:{at_s:.2f}",
        kind="add",
        section="good" if seen.good else "change",
        about=finding.id,
        text=finding.title,
        try_text=finding.changes[0].text if finding.changes else "",
        reps=finding.reps,
        at_s=finding.at_s,
    )


def kind_of(section: str) -> str:
    """Give what kind of sentence of the library a section's text is."""
    return {"good": "good", "next": "next", "film": "film", "caution": "caution"}.get(section, "claim")


def keep_wording(done: Reviewed, library: Path, part_id: str, to: str) -> str:
    """Keep a part's words as the coach's own from now on, in his folder's `wording.toml`; gives the sentence.

    What came from this set (reps, sizes, loads) goes back into braces.

    Raises
    ------
    review.EditError
        When there is no such part, or it is about nothing that comes again.
    StoreError
        When the folder cannot be written to.
    """
    part = next((p for p in done.review.parts if p.id == part_id), None)
    if part is None or not part.about:
        known = ", ".join(p.id for p in done.review.parts if p.about)
        raise review.EditError(f"There is no part {part_id!r} whose wording can be kept; take one of {known}.")
    words = part.text if to == "lifter" else part.aloud
    values = review.values_of(done.measurement, part)
    sentence = review.as_template(words, values)
    kind = kind_of(part.section)
    file = output_folder(library) / WORDING
    before = file.read_text("utf-8") if file.is_file() else ""
    text = review.with_wording(before, part.about, kind, to, sentence)
    with write_whole(file) as beside:
        beside.write_text(text, "utf-8")
    return sentence


def forget_wording(library: Path, about: str, kind: str, to: str, sentence: str) -> bool:
    """Take back a wording that was kept; tells whether it was there.

    Raises
    ------
    review.LibraryError
        When the coach's file breaks the form.
    """
    file = library / WORDING
    if not file.is_file():
        return False
    before = file.read_text("utf-8")
    text = review.without_wording(before, about, kind, to, sentence)
    if text == before:
        return False
    with write_whole(file) as beside:
        beside.write_text(text, "utf-8")
    return True


def words_of(lift: str, own: Path | None) -> tuple[Observation, ...]:
    """Give the vocabulary of a lift, the coach's own over it; raises VocabularyError when his file is broken."""
    return vocabulary(lift, own / VOCABULARY if own is not None else None)


def assign_key(lift: str, name: str, key: str, own: Path) -> tuple[Observation, ...]:
    """Give an observation another key; the one that had it gets this one's old key. Gives the vocabulary then.

    Raises
    ------
    VocabularyError
        When there is no such observation, or the key is not one character.
    """
    now = {o.id: o for o in words_of(lift, own)}
    if name not in now:
        raise VocabularyError(f"There is no observation {name!r} for the {lift}; take one of its vocabulary.")
    if len(key) != 1 or key.isspace():
        raise VocabularyError(f"A key is one letter, digit or sign; got {key!r}.")
    file = output_folder(own / VOCABULARY) / f"{lift}.toml"
    table = tomllib.loads(file.read_text("utf-8")) if file.is_file() else {}
    other = next((o for o in now.values() if o.key == key and o.id != name), None)
    if other is not None:
        table.setdefault(other.id, {})["key"] = now[name].key
    table.setdefault(name, {})["key"] = key
    lines = ["# The coach's own vocabulary: keys and words over the program's; it may be edited by hand.", ""]
    for entry, fields in table.items():
        lines.append(f"[{json.dumps(entry, ensure_ascii=False)}]")
        lines += [f"{k} = {json.dumps(v, ensure_ascii=False)}" for k, v in fields.items()]
        lines.append("")
    with write_whole(file) as beside:
        beside.write_text("\n".join(lines), "utf-8")
    return words_of(lift, own)


def seen_at(lift: str, name: str, rep: int, at_s: float, own: Path | None = None) -> Edit:
    """Give the edit of an observation with an id of its own: marked, taken back and marked again it counts again.

    Raises
    ------
    VocabularyError
        As `observed`.
    """
    edit = observed(lift, name, rep, at_s, own)
    return evolve(edit, id=f"{edit.id}:{secrets.token_hex(4)}")

"""review.json: the draft, every edit ever made, what comes of both, and the script. For the coach alone.

It holds private notes and what the lifter wrote; what leaves the house are the page, the print and the pictures
made from it.
"""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import cattrs
from attrs import frozen
from cattrs.v import format_exception

from midfoot.records.base import RecordError
from midfoot.records.review import Accepted, Draft, Edit, Review, Script
from midfoot.store.files import StoreError

REVIEW_ID = "midfoot/review/1"
REVIEW = "review.json"


@frozen(kw_only=True)
class Kept:
    """What a review.json gives to the next one: its edits, every text that left the house, what was accepted.

    `also` and `clip` are the folders of other clips and the clip itself, as seen from the folder.
    """

    edits: tuple[Edit, ...] = ()
    said: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    accepted: tuple[Accepted, ...] = ()
    also: tuple[str, ...] = ()
    clip: str = ""


@cache
def _converter() -> cattrs.Converter:
    converter = cattrs.Converter(forbid_extra_keys=True)
    converter.register_unstructure_hook(date, lambda day: day.isoformat())
    converter.register_structure_hook(date, lambda text, _: date.fromisoformat(text))
    converter.register_unstructure_hook(float, lambda number: round(number, 6))
    return converter


@cache
def review_schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of review.json."""
    text = resources.files("midfoot.store").joinpath("review.schema.json").read_text("utf-8")
    return dict(json.loads(text))


def validate_review(document: dict[str, Any]) -> None:
    """Check a document against the schema; raises jsonschema's ValidationError."""
    import jsonschema

    jsonschema.Draft202012Validator(review_schema()).validate(document)


def review_to_json(
    review: Review,
    edits: tuple[Edit, ...],
    script: Script,
    *,
    said: tuple[str, ...],
    before: tuple[str, ...] = (),
    version: str = "",
    also: tuple[str, ...] = (),
    clip: str = "",
) -> dict[str, Any]:
    """Turn a review into plain dicts and lists.

    Parameters
    ----------
    review, edits, script : the review, all edits ever made, what is spoken.
    said : every text that leaves the house with it.
    before : texts of this lifter's last review, which this draft did not repeat.
    version : of midfoot.
    also, clip : folders of other clips of the set and the clip itself, as seen from the folder.
    """
    plain = _converter().unstructure
    document = {
        "schema": REVIEW_ID,
        "draft": plain(review.draft),
        "edits": [plain(e) for e in edits],
        "parts": [plain(p) for p in review.parts],
        "asks": [plain(a) for a in review.asks],
        "notes": [plain(n) for n in review.notes],
        "accepted": [plain(a) for a in review.accepted],
        "unseen": [p.id for p in review.unseen],
        "script": plain(script),
        "said": list(said),
        "before": list(before),
        "provenance": {"midfoot": version, "also": list(also), "clip": clip},
    }
    return dict(json.loads(json.dumps(document, allow_nan=False)))


def read_review(folder: Path) -> Kept:
    """Read what a folder's review.json gives to the next review; nothing where there is none.

    Raises
    ------
    StoreError
        When it is there and damaged: an edit is never lost in silence.
    """
    file = folder / REVIEW
    if not file.is_file():
        return Kept()
    try:
        document = json.loads(file.read_text("utf-8"))
        if document.get("schema") != REVIEW_ID:
            raise ValueError(f"schema: expected {REVIEW_ID}, got {document.get('schema')!r}")
        return Kept(
            edits=edits_from_json(document["edits"]),
            said=tuple(str(s) for s in document["said"]),
            before=tuple(str(s) for s in document.get("before", ())),
            accepted=tuple(_read(a, Accepted) for a in document["accepted"]),
            also=tuple(str(p) for p in document.get("provenance", {}).get("also", ())),
            clip=str(document.get("provenance", {}).get("clip", "")),
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise StoreError(
            f"{file} cannot be read ({error}); put a copy of it back, or move it away to begin the review anew."
        ) from None


def edits_to_json(edits: tuple[Edit, ...]) -> list[dict[str, Any]]:
    """Turn edits into plain dicts and lists, as they stand in review.json."""
    return [dict(row) for row in json.loads(json.dumps(_converter().unstructure(edits), allow_nan=False))]


def edits_from_json(rows: Any) -> tuple[Edit, ...]:
    """Read a list of edits.

    Raises
    ------
    ValueError
        When one of them is no edit; the text names it and says what is wrong.
    """
    if not isinstance(rows, list):
        raise ValueError(f"edits: expected a list, got {type(rows).__name__}")
    return tuple(_read(row, Edit) for row in rows)


def draft_from_json(document: dict[str, Any]) -> Draft:
    """Read the draft of a review.json back; raises ValueError when it is damaged."""
    draft: Draft = _read(document["draft"], Draft)
    return draft


def _words(error: BaseException, kind: type | None) -> str:
    """Say what is wrong with a field; records say it themselves."""
    return str(error) if isinstance(error, RecordError) else format_exception(error, kind)


def _read(document: Any, kind: Any) -> Any:
    try:
        return _converter().structure(document, kind)
    except Exception as error:
        said = "; ".join(cattrs.transform_error(error, format_exception=_words))
        name = document.get("id", "") if isinstance(document, dict) else ""
        raise ValueError(f"the {kind.__name__.lower()} {name!r} cannot be read: {said}") from None

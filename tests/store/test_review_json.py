"""review.json reads back: the draft, every edit, what the next review must know; damage is named."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from review.made import FAULTS, measured

from midfoot.records.context import Context
from midfoot.records.review import Accepted, Edit, Script
from midfoot.review import apply, draft_of, load_library, script_of, texts_of
from midfoot.store import (
    StoreError,
    draft_from_json,
    edits_from_json,
    read_review,
    review_to_json,
    validate_review,
)

DRAFT = draft_of(measured("bench", FAULTS["bench"][:3], Context(safeties="arms", question="?")), load_library())
PART = next(p for p in DRAFT.parts if p.section == "change")
EDITS = (
    Edit(id="1", kind="accept", part=PART.id, reps=PART.reps, at_s=PART.at_s, until=date(2031, 5, 1),
         up_to_kg=90.0),
    Edit(id="2", kind="mark", part=PART.id, reps=(2,), at_s=(6.2,), meaning="how_far", text="so far",
         points_px=((1.5, 2.0), (3.0, 4.0))),
    Edit(id="3", kind="add", section="good", text="Braced.", about="blades_loose", reps=(1,), at_s=(1.0,)),
    Edit(id="4", kind="undo", undoes="3"),
)  # fmt: skip


def document() -> dict[str, object]:
    review = apply(DRAFT, EDITS)
    script: Script = script_of(review, {})
    written = review_to_json(review, EDITS, script, said=texts_of(review, script), before=("Old.",), version="1")
    return dict(json.loads(json.dumps(written)))


def test_what_is_read_is_what_was_written(tmp_path: Path) -> None:
    """Draft and edits as they were; what was accepted; what was said, so that it is not said again."""
    found = document()
    validate_review(found)
    (tmp_path / "review.json").write_text(json.dumps(found))

    kept = read_review(tmp_path)

    assert draft_from_json(found) == DRAFT
    assert kept.edits == EDITS
    assert kept.accepted == (Accepted(PART.about, date(2031, 5, 1), 90.0),)
    assert kept.before == ("Old.",)
    assert DRAFT.greeting in kept.said
    assert PART.text not in kept.said  # it is accepted and did not go out


def test_no_review_is_nothing_and_a_damaged_one_is_an_error(tmp_path: Path) -> None:
    """Edits are never lost in silence."""
    assert read_review(tmp_path).edits == ()
    file = tmp_path / "review.json"
    for text in ("{", "[]", '{"schema": "other"}', json.dumps({**document(), "edits": [{"id": "1"}]})):
        file.write_text(text)
        with pytest.raises(StoreError, match="move it away"):
            read_review(tmp_path)


def test_an_edit_of_no_kind_is_named() -> None:
    with pytest.raises(ValueError, match=r"'7'.*improve"):
        edits_from_json([{"id": "7", "kind": "improve"}])
    with pytest.raises(ValueError, match="expected a list"):
        edits_from_json({"id": "7"})

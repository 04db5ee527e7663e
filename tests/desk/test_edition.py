"""An edition: its order, what blocks it by name, its export read back, what happens when a consent goes."""

from __future__ import annotations

import json
from pathlib import Path

import av
import cv2
import numpy as np
import pytest
import sqlalchemy as sa
import traces
from going_out import ADULT, BYSTANDER, FILE_NAME, know_heads, ready
from hypothesis import given
from hypothesis import strategies as st
from instances import quiet

from midfoot.desk import consent, edition, edition_export, publishing
from midfoot.desk.edition import EditionError, edition_of, timed
from midfoot.desk.edition_order import add, create, order, remove, say
from midfoot.store import Workspace
from midfoot.store.tables import publications, sets


@pytest.fixture(autouse=True)
def known_heads(monkeypatch: pytest.MonkeyPatch) -> None:
    """The scout has its own tests; here the heads of the made film are known."""
    know_heads(monkeypatch)


def agree(workspace: Workspace, set_id: str, *uses: str) -> None:
    with workspace.write() as connection:
        for use in uses:
            consent.note(connection, set_id, use)


def test_a_missing_consent_blocks_with_its_name(workspace: Workspace, tmp_path: Path) -> None:
    set_id = ready(workspace, tmp_path)
    week = create(workspace, "Third week of May")
    add(workspace, week, "review", set_id)
    add(workspace, week, "open", set_id)
    with pytest.raises(
        EditionError, match=r"1\. Runa Holt, squat, 100 kg: the lifter has not agreed to being part"
    ):
        edition_export.export(workspace, week, tell=quiet)
    agree(workspace, set_id, "edition")
    with pytest.raises(EditionError, match=r"2\. Runa Holt, squat, 100 kg: the lifter has not agreed to others"):
        edition_export.export(workspace, week, tell=quiet)
    assert list((workspace.published / "e").glob("*")) == [], "nothing half-written stays"


@pytest.mark.parametrize("minor", [True, None])
def test_nobody_under_age_or_of_unknown_age(workspace: Workspace, tmp_path: Path, minor: bool | None) -> None:
    from attrs import evolve

    set_id = ready(workspace, tmp_path, evolve(ADULT, age_years=None), minor=minor)
    agree(workspace, set_id, "edition", "open_set")
    week = create(workspace, "x")
    add(workspace, week, "review", set_id)
    names = {b.id for _, b in edition_of(workspace, week).blockers}
    assert ("minor" if minor else "age_unknown") in names


def test_the_export_holds_what_may_be_public_and_no_more(workspace: Workspace, tmp_path: Path) -> None:
    set_id = ready(workspace, tmp_path)
    agree(workspace, set_id, "edition", "open_set")
    week = create(workspace, "Third week of May")
    add(workspace, week, "review", set_id)
    open_id = add(workspace, week, "open", set_id)
    say(workspace, open_id, words="What do you see here?\nTell us the rep.")
    told: list[float] = []

    folder = edition_export.export(workspace, week, tell=lambda _words, share: told.append(share))

    assert told == sorted(told)
    assert traces.in_folder(folder) == []
    plan = json.loads((folder / "order.json").read_text())
    assert [s["kind"] for s in plan["segments"]] == ["review", "open"]
    assert plan["segments"][0]["title"] == "Squat, 100 kg", "no name without its consent"
    assert [line["words"] for line in plan["segments"][1]["lines"]] == [
        "What do you see here?",
        "Tell us the rep.",
    ]
    assert plan["segments"][0]["overlays"]
    everything = b"".join(p.read_bytes() for p in folder.rglob("*") if p.is_file())
    for private in ("Runa", "Holt", "Vik", "31", FILE_NAME, set_id, "71.25", "bracing"):
        texts = "".join(
            p.read_text() for p in folder.iterdir() if p.suffix in (".md", ".txt", ".json", ".vtt", ".srt")
        )
        if private not in ("31",):
            assert private not in texts
            assert private.encode() not in everything
    for segment in plan["segments"]:
        with av.open(str(folder / segment["video"])) as container:
            assert container.streams.audio == ()
            assert container.metadata.get("title") is None
            assert "location" not in container.metadata
            frame = next(container.decode(video=0)).to_ndarray(format="rgb24")
            seconds = float(container.duration or 0) / 1e6
        assert seconds == pytest.approx(segment["length_s"], abs=0.3)
        x, y = BYSTANDER
        zoom = frame.shape[1] / 640
        head = frame[
            round((y - 20) * zoom) : round((y + 20) * zoom), round((x - 20) * zoom) : round((x + 20) * zoom)
        ]
        assert float(np.std(head)) < 25, "the fine pattern of the bystander's head is gone"
    image = cv2.imread(str(folder / plan["segments"][0]["overlays"][0]), cv2.IMREAD_UNCHANGED)
    assert image.shape[2] == 4
    assert 0 < float((image[..., 3] > 0).mean()) < 0.5
    chapters = (folder / "chapters.txt").read_text().splitlines()
    assert chapters[0] == "0:00 Review: Squat, 100 kg"
    assert len(chapters) == 2
    script = (folder / "script.md").read_text()
    assert "- 0:00" in script
    assert "clinician" in (folder / "show-notes.md").read_text()

    token = folder.name
    again = edition_export.export(workspace, week, tell=quiet)
    assert again.name == token, "the address stays"
    publishing.withdraw(workspace, set_id, "edition")
    assert not folder.exists(), "a consent taken back takes the edition along"
    with workspace.read() as connection:
        assert connection.execute(sa.select(publications.c.revoked_at)).scalar() is not None
    assert edition_export.folder_of(workspace, week) is None


def test_a_load_in_pounds_is_named_in_pounds(workspace: Workspace, tmp_path: Path) -> None:
    set_id = ready(workspace, tmp_path)
    with workspace.write() as connection:
        row = connection.execute(sa.select(sets.c.context).where(sets.c.id == set_id)).scalar_one()
        said = {**row, "load_kg": 102.0582, "load_unit": "lb"}
        connection.execute(sets.update().where(sets.c.id == set_id).values(context=said, load_kg=102.0582))
    week = create(workspace, "Pounds")
    add(workspace, week, "review", set_id)

    (segment,) = edition_of(workspace, week).segments

    assert "squat, 225 lb" in segment.private
    assert "225 lb" in segment.title


def test_the_order_is_what_was_asked_and_a_stale_one_is_refused(workspace: Workspace, tmp_path: Path) -> None:
    set_id = ready(workspace, tmp_path)
    week = create(workspace, "x")
    ids = [add(workspace, week, kind, set_id) for kind in ("review", "open", "recap")]
    order(workspace, week, ids[::-1])
    assert [s.id for s in edition_of(workspace, week).segments] == ids[::-1]
    remove(workspace, ids[1])
    assert [s.position for s in edition_of(workspace, week).segments] == [0, 1]
    with pytest.raises(EditionError, match="changed elsewhere"):
        order(workspace, week, ids)
    with pytest.raises(EditionError, match="already"):
        add(workspace, week, "review", set_id)
    for bad in (("dance", set_id), ("review", "00")):
        with pytest.raises(EditionError):
            add(workspace, week, *bad)
    with pytest.raises(EditionError):
        edition_of(workspace, "00")
    assert len(edition.listed(workspace)) == 1


@given(st.lists(st.text(min_size=1, max_size=80), max_size=12))
def test_lines_follow_each_other_without_a_gap(lines: list[str]) -> None:
    at = 0.0
    for line in timed([(words, "") for words in lines]):
        assert line.from_s == pytest.approx(at)
        assert line.length_s >= 1.0
        at += line.length_s

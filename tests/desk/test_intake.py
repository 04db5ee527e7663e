"""Files and texts that come in: nothing lost, nothing twice, nothing guessed in silence."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa
from clips import empty_file, text_file, write_clip

from midfoot.desk.confirming import confirm, join_clip, reading_of
from midfoot.desk.intake import MANY, ORDER, IntakeError, give_text, take_clip
from midfoot.desk.intake_rows import over
from midfoot.desk.who import WhoError, known_as, lifter_named
from midfoot.records.context import Context
from midfoot.store import Workspace, context_from_json
from midfoot.store.tables import clips, jobs, lifters, sets

TODAY = date(2031, 5, 1)


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    """Three small clips that differ."""
    made = []
    for k in range(3):
        made.append(tmp_path / f"IMG_{k + 1}.MOV")
        write_clip(made[-1], size=(160 + 16 * k, 96))
    return made


def row(workspace: Workspace, set_id: str):
    with workspace.read() as connection:
        return connection.execute(sa.select(sets).where(sets.c.id == set_id)).one()


def said(workspace: Workspace, set_id: str) -> Context:
    return context_from_json(row(workspace, set_id).context)


def test_every_file_becomes_a_set_and_is_looked_at(workspace: Workspace, files: list[Path]) -> None:
    taken = [take_clip(workspace, file, file.name) for file in files]

    assert len({t.set_id for t in taken}) == 3
    with workspace.read() as connection:
        found = connection.execute(sa.select(jobs.c.kind, jobs.c.key)).all()
        names = connection.execute(sa.select(clips.c.received_name)).scalars().all()
    assert sorted(f.key for f in found) == sorted(f"look:{t.clip_id}" for t in taken)
    assert sorted(names) == [f.name for f in files]
    assert all(file.exists() for file in files), "a file is only taken away when that was asked for"


def test_the_same_file_twice_is_noticed_under_any_name(workspace: Workspace, files: list[Path]) -> None:
    first = take_clip(workspace, files[0], "a.mov")
    again = take_clip(workspace, files[0], "another name.mov")

    assert (again.set_id, again.clip_id, again.already) == (first.set_id, first.clip_id, True)
    with workspace.read() as connection:
        assert len(connection.execute(sa.select(clips.c.id)).all()) == 1


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"\xff\xd8\xff\xe0" + bytes(100), "a picture"), (b"%PDF-1.7" + bytes(100), "a PDF"),
     (b"PK\x03\x04" + bytes(100), "an archive"), (b"\0\0\0\x18ftypheic" + bytes(90), "a still picture"),
     ("Größe: 1 m\n".encode() * 900, "a text"), (b"", "is empty")],
)  # fmt: skip
def test_what_is_plainly_no_video_is_named(
    workspace: Workspace, tmp_path: Path, content: bytes, says: str
) -> None:
    (tmp_path / "x.mp4").write_bytes(content)
    with pytest.raises(IntakeError, match=says) as refused:
        take_clip(workspace, tmp_path / "x.mp4", "from Anna.mp4")
    assert str(refused.value).startswith("from Anna.mp4 is")
    assert (tmp_path / "x.mp4").read_bytes() == content
    text_file(tmp_path / "a.txt")
    empty_file(tmp_path / "b.mp4")


def test_a_files_own_name_says_only_what_is_written_out(workspace: Workspace, files: list[Path]) -> None:
    one = take_clip(workspace, files[0], "anna_squat_140kg_x5_side.mp4")
    two = take_clip(workspace, files[1], "VID_20310501_181500.mp4")

    found = row(workspace, one.set_id)
    assert (found.lift, found.load_kg, found.lifter_id, found.context_confirmed) == ("squat", 140.0, None, False)
    assert said(workspace, one.set_id).reps == 5
    with workspace.read() as connection:
        assert connection.execute(sa.select(clips.c.view_said).where(clips.c.id == one.clip_id)).scalar() == "side"
    assert (row(workspace, two.set_id).lift, row(workspace, two.set_id).load_kg) == (None, None)


def test_one_message_for_one_clip(workspace: Workspace, files: list[Path]) -> None:
    taken = take_clip(workspace, files[0], files[0].name)
    text = "Anna here. Squat 140kg x 5 @8. My knee hurts. Comp on 24 May 2031. Is it deep? xyzzy plugh"

    told = give_text(workspace, [taken.set_id], text, today=TODAY)

    found = row(workspace, taken.set_id)
    assert "confirm" in told
    assert (found.lift, found.load_kg, found.pasted_text, found.context_confirmed) == ("squat", 140.0, text, False)
    context = said(workspace, taken.set_id)
    assert (context.lifter, context.pain, context.question) == ("Anna", "My knee hurts", "Is it deep?")
    assert context.competition is not None
    with workspace.read() as connection:
        reading = reading_of(connection, taken.set_id)
    assert reading.pasted is not None
    assert reading.pasted.left_over == ("xyzzy plugh",)
    assert reading.notes == ()


def test_parts_that_name_files_go_to_them_whatever_the_order(workspace: Workspace, files: list[Path]) -> None:
    taken = [take_clip(workspace, f, f.name) for f in files]
    text = "IMG_3.mov deadlift 200kg x1\nIMG_1.mov squat 100kg x5\nIMG_2.mov bench 80kg x3"

    give_text(workspace, [t.set_id for t in taken], text, today=TODAY)

    assert [row(workspace, t.set_id).lift for t in taken] == ["squat", "bench", "deadlift"]
    with workspace.read() as connection:
        assert all(reading_of(connection, t.set_id).notes == () for t in taken)


def test_what_is_matched_by_order_or_cannot_be_matched_is_noted(workspace: Workspace, files: list[Path]) -> None:
    taken = [take_clip(workspace, f, f.name) for f in files]
    ids = [t.set_id for t in taken]

    give_text(workspace, ids, "1) squat 100kg x5\n2) bench 80kg x3\n3) deadlift 200kg x1", today=TODAY)
    assert [row(workspace, i).lift for i in ids] == ["squat", "bench", "deadlift"]
    with workspace.read() as connection:
        assert [reading_of(connection, i).notes for i in ids] == [(ORDER,)] * 3

    give_text(workspace, ids[:2], "Anna: my knee hurts, 63 kg bw", today=TODAY)
    with workspace.read() as connection:
        assert reading_of(connection, ids[0]).notes == (MANY.format(n=2),)
    assert said(workspace, ids[0]).lift == "squat", "what a later message does not speak of stays"

    told = give_text(workspace, ids, "squat 90kg x5\n\nbench 70kg x3", today=TODAY)
    assert "nothing was read" in told
    assert [row(workspace, i).load_kg for i in ids] == [100.0, 80.0, 200.0]
    assert all("bench 70kg" in row(workspace, i).pasted_text for i in ids)


def test_a_lifter_is_matched_by_the_very_name_alone(workspace: Workspace, files: list[Path]) -> None:
    with workspace.write() as connection:
        anna = lifter_named(connection, "Anna Berg")
        connection.execute(lifters.insert().values(name="Bo", shown_name="Bo"))
        connection.execute(lifters.insert().values(name="Bo", shown_name="Bo"))
    one, two, three = (take_clip(workspace, f, f.name) for f in files)
    give_text(workspace, [one.set_id], "Name: anna berg\nsquat 100kg", today=TODAY)
    give_text(workspace, [two.set_id], "Name: Anna\nsquat 100kg", today=TODAY)
    give_text(workspace, [three.set_id], "Name: Bo\nsquat 100kg", today=TODAY)

    assert row(workspace, one.set_id).lifter_id == anna
    assert row(workspace, two.set_id).lifter_id is None, "there may be more than one Anna"
    assert row(workspace, three.set_id).lifter_id is None
    with workspace.read() as connection:
        assert reading_of(connection, two.set_id).lifters == ((anna, "Anna Berg", False),)
        assert known_as(connection, "Ana Berg") == ((anna, "Anna Berg", False),)
    with workspace.write() as connection, pytest.raises(WhoError, match="2 lifters called Bo"):
        lifter_named(connection, "Bo")


def test_confirming_makes_the_lifter_and_asks_for_measuring(workspace: Workspace, files: list[Path]) -> None:
    taken = take_clip(workspace, files[0], files[0].name)
    with workspace.write() as connection:
        connection.execute(clips.update().values(proxy_sha256=sa.select(clips.c.sha256).scalar_subquery()))
        confirm(connection, taken.set_id, Context(lift="bench", load_kg=80.0), lifter="Mia Roth")

    found = row(workspace, taken.set_id)
    assert (found.context_confirmed, found.lift, found.load_kg) == (True, "bench", 80.0)
    with workspace.read() as connection:
        assert connection.execute(sa.select(lifters.c.name)).scalars().all() == ["Mia Roth"]
        kinds = connection.execute(sa.select(jobs.c.kind)).scalars().all()
    assert sorted(kinds) == ["look", "measure"]


def test_clips_are_joined_to_one_set(workspace: Workspace, files: list[Path]) -> None:
    one, two, _ = (take_clip(workspace, f, f.name) for f in files)
    with workspace.write() as connection:
        join_clip(connection, two.clip_id, one.set_id)

    with workspace.read() as connection:
        found = connection.execute(
            sa.select(clips.c.id).where(clips.c.set_id == one.set_id).order_by(clips.c.position)
        ).scalars().all()  # fmt: skip
    assert found == [one.clip_id, two.clip_id]
    assert row(workspace, two.set_id).archived_at is not None
    assert row(workspace, one.set_id).main_clip_id == one.clip_id


def test_symptoms_that_need_help_are_never_only_in_the_text(workspace: Workspace, files: list[Path]) -> None:
    taken = take_clip(workspace, files[0], files[0].name)
    give_text(workspace, [taken.set_id], "squat 100kg x5, left foot goes numb", today=TODAY)

    assert "numb" in (said(workspace, taken.set_id).pain or "")


def test_a_message_without_words_is_refused(workspace: Workspace, files: list[Path]) -> None:
    taken = take_clip(workspace, files[0], files[0].name)
    with pytest.raises(IntakeError, match="no word"):
        give_text(workspace, [taken.set_id], "   \n")
    with pytest.raises(IntakeError, match="not here any more"):
        give_text(workspace, ["0" * 16], "squat 100kg")
    assert over(Context(lift="squat"), Context()) == Context(lift="squat")

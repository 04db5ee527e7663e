"""An open set: who may be open, answers held and grouped, what is refused, and what is said of it afterwards."""

from __future__ import annotations

import html
import json
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
import traces
from going_out import ADULT, FILE_NAME, know_heads, ready

from midfoot.desk import consent, edition, edition_order, open_page, open_set, outcome, posting, publishing
from midfoot.desk.answering import OpenSetError, choices
from midfoot.desk.grouping import grouped
from midfoot.store import Workspace
from midfoot.store.rows import set_setting
from midfoot.store.tables import answers, open_sets

SQUAT = choices("squat")


@pytest.fixture(autouse=True)
def known_heads(monkeypatch: pytest.MonkeyPatch) -> None:
    """The scout has its own tests; here the heads of the made film are known."""
    know_heads(monkeypatch)


@pytest.fixture
def opened(workspace: Workspace, tmp_path: Path) -> tuple[str, str, str]:
    """A set that is open: ids of the set and the open set, and its page's token."""
    set_id = ready(workspace, tmp_path)
    with workspace.write() as connection:
        consent.note(connection, set_id, "open_set")
    open_id = open_set.prepare(workspace, set_id)
    with workspace.read() as connection:
        token = connection.execute(sa.select(open_sets.c.token).where(open_sets.c.id == open_id)).scalar_one()
    return set_id, open_id, token


def sent(n: int, **seen: Any) -> dict[str, Any]:
    return {"token": f"visitor-{n:08d}-abcdef", "seen": [seen]}


def test_only_adults_who_agreed_are_open(workspace: Workspace, tmp_path: Path) -> None:
    set_id = ready(workspace, tmp_path)
    with pytest.raises(OpenSetError, match="not agreed"):
        open_set.prepare(workspace, set_id)


def test_minors_are_never_open(workspace: Workspace, tmp_path: Path) -> None:
    young = ready(workspace, tmp_path, minor=True)
    with workspace.write() as connection:
        consent.note(connection, young, "open_set")
    with pytest.raises(OpenSetError, match="under 18"):
        open_set.prepare(workspace, young)


def test_forty_visitors_are_heard_once_each_and_recapped(
    workspace: Workspace, opened: tuple[str, str, str]
) -> None:
    """24 name the drift that was made, 8 say it in their own words, 4 something else, 4 are about bodies."""
    set_id, open_id, token = opened
    for n in range(24):
        open_set.take_answer(workspace, token, sent(n, what="squat_bar_forward", rep=2, at_s=5.0 + n / 100))
    for n in range(24, 32):
        open_set.take_answer(workspace, token, sent(n, words="the bar drifts forward out of the hole"))
    for n in range(32, 36):
        open_set.take_answer(workspace, token, sent(n, words="knees cave in on rep 3"))
    for n in range(36, 40):
        with pytest.raises(OpenSetError, match="not how somebody looks"):
            open_set.take_answer(workspace, token, sent(n, words="he is too fat for this"))
    again = open_set.take_answer(workspace, token, sent(0, what="squat_dive"))
    waiting = open_set.held(workspace, open_id)["held"]
    assert len(waiting) == 36
    assert again in {a["id"] for a in waiting}, "one answer a visitor: the first stands"
    assert outcome.outcome(workspace, open_id).answered == 0, "nothing counts before it was read"
    for a in waiting[:-1]:
        open_set.judge(workspace, a["id"], approved=True)
    open_set.judge(workspace, waiting[-1]["id"], approved=False)
    open_set.close(workspace, open_id)
    with pytest.raises(OpenSetError, match="takes no answers"):
        open_set.take_answer(workspace, token, sent(99, what="squat_dive"))

    came = outcome.outcome(workspace, open_id)

    assert came.answered == 35
    first = came.rows[0]
    assert (first.what, first.count, bool(first.confidence)) == ("squat_bar_forward", 32, True)
    assert len(first.at_s) == 24
    assert next(r for r in came.rows if r.what == "squat_knees_in").count == 3
    recap = " ".join(came.recap)
    assert "35 of you" in recap
    assert "32 of 35 saw this: the bar goes forward out of the bottom" in recap
    assert "do not hold it" in recap, "what the figures do not hold is said kindly"
    week = edition_order.create(workspace, "x")
    edition_order.add(workspace, week, "recap", set_id)
    assert [line.words for line in edition.edition_of(workspace, week).segments[0].lines] == list(came.recap)
    with workspace.read() as connection:
        kept = connection.execute(sa.select(answers.c.token_hash, answers.c.body)).all()
    assert not any("visitor-" in row.token_hash or "visitor-" in json.dumps(row.body) for row in kept)


def test_what_own_words_mean_is_the_coachs_to_say(workspace: Workspace, opened: tuple[str, str, str]) -> None:
    """One is grouped wrong and put right, one is said to be none; the third counts as it was read."""
    _, open_id, token = opened
    for n in range(3):
        open_set.take_answer(workspace, token, sent(n, words="knees cave in"))
    one, other, third = (a["id"] for a in open_set.held(workspace, open_id)["held"])
    open_set.judge(workspace, one, approved=True, means={0: "squat_to_one_side"})
    open_set.judge(workspace, other, approved=True, means={0: ""})
    open_set.judge(workspace, third, approved=True)
    came = outcome.outcome(workspace, open_id)
    assert {r.what: r.count for r in came.rows if r.count} == {"squat_to_one_side": 1, "squat_knees_in": 1}
    assert came.words == ("knees cave in",)


TOKEN = "a" * 20


@pytest.mark.parametrize(
    "wrong",
    [
        None, [], {"seen": []}, {"token": "x", "seen": [{"words": "a"}]}, {"token": 5, "seen": "x"},
        {"token": TOKEN, "seen": [{"what": "no"}]}, {"token": TOKEN, "seen": [{"words": "  "}]},
    ],
)  # fmt: skip
def test_what_is_no_answer(workspace: Workspace, opened: tuple[str, str, str], wrong: Any) -> None:
    with pytest.raises(OpenSetError):
        open_set.take_answer(workspace, opened[2], wrong)
    assert open_set.held(workspace, opened[1])["held"] == []


def test_comments_from_elsewhere(workspace: Workspace, opened: tuple[str, str, str]) -> None:
    _, open_id, _ = opened
    table = 'name,comment\nSomebody,"hips shoot up, then the bar"\nElse,"depth, maybe"\n'
    assert open_set.bring(workspace, open_id, table) == 2
    assert open_set.bring(workspace, open_id, "one more thing\nhips shoot up, then the bar") == 1
    assert open_set.bring(workspace, open_id, json.dumps(sent(7, what="squat_dive"))) == 1
    kept = json.dumps([a["seen"] for a in open_set.held(workspace, open_id)["held"]])
    assert "Somebody" not in kept
    with pytest.raises(OpenSetError, match="No new comment"):
        open_set.bring(workspace, open_id, "\n\n")


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("her hips shoot up first", "squat_hips_first"), ("knees caving in", "squat_knees_in"),
        ("heels lift at the bottom", "squat_heels_up"), ("she gets slower", "squat_slowing"),
        ("feet moved between reps", "squat_feet_move"), ("great set!", ""), ("", ""), ("strong", ""),
    ],
)  # fmt: skip
def test_own_words_are_grouped_where_they_are_plain(words: str, what: str) -> None:
    """Expected by a reader, not by the program."""
    assert grouped(words, SQUAT) == what


def test_the_page_gives_nothing_away_and_goes_with_the_consent(
    workspace: Workspace, opened: tuple[str, str, str]
) -> None:
    set_id, open_id, token = opened
    folder = open_page.build(workspace, open_id, tell=lambda *_: None)
    assert folder.name == token
    names = ["answer.js", "clip.mp4", "icon.svg", "index.html", "style.css"]
    assert sorted(p.name for p in folder.iterdir()) == names
    assert traces.in_folder(folder) == []
    page = html.unescape((folder / "index.html").read_text())
    assert "connect-src 'none'" in page, "without an address answers are saved as a file"
    everything = b"".join(p.read_bytes() for p in folder.iterdir())
    for private in (ADULT.lifter or "", "Holt", FILE_NAME, set_id, open_id):
        assert private.encode() not in everything
    with workspace.write() as connection:
        set_setting(connection, posting.ADDRESS, "https://send.example.org/")
    page = (open_page.build(workspace, open_id, tell=lambda *_: None) / "index.html").read_text()
    assert f'data-answers="https://send.example.org/open/{token}/answers"' in page
    assert "connect-src https://send.example.org;" in page
    publishing.withdraw(workspace, set_id, "open_set")
    assert not folder.exists()
    with pytest.raises(OpenSetError):
        open_set.take_answer(workspace, token, sent(1, what="squat_dive"))

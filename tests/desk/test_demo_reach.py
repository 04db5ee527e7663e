"""The demo's reach: a link that opens, an edition blocked by name, open sets with answers, one recapped."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from reach_sets import add_reach

from midfoot.desk import edition, links, open_set
from midfoot.desk.answering import ABOUT_BODIES, choices
from midfoot.desk.demo_reach import LAST, LINK, NOW
from midfoot.desk.outcome import outcome
from midfoot.store import Workspace
from midfoot.store.columns import now
from midfoot.store.rows import setting
from midfoot.store.tables import jobs, open_sets


@pytest.fixture
def filled(workspace: Workspace, tmp_path: Path) -> Workspace:
    """The demo's reach on made sets."""
    add_reach(workspace, tmp_path)
    return workspace


def test_what_it_promises_is_there(filled: Workspace) -> None:
    with filled.read() as connection:
        path = str(setting(connection, LINK))
        rows = {r.state: r for r in connection.execute(sa.select(open_sets)).all()}
        waiting = connection.execute(sa.select(jobs.c.kind)).scalars().all()
    assert links.opened(filled, links.SEND, path.rsplit("/", 1)[1]).lifter.startswith("Ines")
    (week,) = edition.listed(filled)
    found = edition.edition_of(filled, week["id"])
    assert [s.kind for s in found.segments] == ["recap", "review", "review", "open"]
    blocked = {s.private.split(",")[0]: b.words for s, b in found.blockers if b.id == "no_edition"}
    assert "Teo Aldana" in blocked, "one consent is missing, and it is named"
    assert set(rows) == {"open", "closed"}
    assert now() - rows["closed"].closes_at > timedelta(days=2)
    held = open_set.held(filled, rows["open"].id)
    assert (len(held["held"]), len(held["approved"])) == (5, 6)
    assert outcome(filled, rows["closed"].id).answered == len(LAST.said)
    assert waiting.count("open_page") == 1, "its page is made as soon as the desk is opened"


def test_words_are_kind_and_on_the_lift() -> None:
    for one in (LAST, NOW):
        known = {what for what, _ in choices(one.lift)}
        for said in one.said:
            assert said.what in known | {""}
            assert said.what or said.words
            assert not ABOUT_BODIES.search(json.dumps(said.words))

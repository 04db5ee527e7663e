"""The demo's link for sending a set, its edition in preparation, and its open sets with answers. All invented."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import frozen

from midfoot.desk import edition_order, links, open_set
from midfoot.desk.answering import OpenSetError, Seen
from midfoot.desk.consent import note
from midfoot.desk.review_sources import NoReviewError
from midfoot.desk.reviewing import reviewed
from midfoot.jobs import enqueue
from midfoot.store import StoreError
from midfoot.store.columns import now
from midfoot.store.rows import set_setting
from midfoot.store.signing import token_mark
from midfoot.store.tables import answers, lifters, open_sets, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

LINK = "demo_link"
"""Setting: the path that the demo's link opens; only a demo keeps one."""
ASKED_FOR = "Ines Falk"
ADULTS = ("Runa Tveit", "Mattis Holm", "Teo Aldana", "Ines Falk", "Sanne Lind")


@frozen(kw_only=True)
class Said:
    """What one invented visitor saw: an observation of the list or words, the rep, and whether it was read."""

    what: str = ""
    words: str = ""
    rep: int | None = None
    state: str = "held"


@frozen(kw_only=True)
class Open:
    """A set that was left open: whose, which lift, since how many days, and for how long."""

    lifter: str
    lift: str
    opened_days_ago: float
    closed_days_ago: float | None = None
    said: tuple[Said, ...] = ()


READ = "approved"
LAST = Open(
    lifter="Mattis Holm", lift="bench", opened_days_ago=9.0, closed_days_ago=3.0,
    said=(
        Said(what="bench_pause_short", rep=3, state=READ), Said(what="bench_pause_short", rep=4, state=READ),
        Said(what="bench_pause_short", words="from the third on", rep=3, state=READ),
        Said(words="the pause gets a little shorter each rep", state=READ),
        Said(what="bench_slowing", rep=4, state=READ), Said(words="the last one is slower", rep=4, state=READ),
        Said(what="bench_uneven", rep=2, state=READ), Said(words="feet stay planted, that is nice", state=READ),
        Said(what="bench_forearms", rep=1, state=READ),
    ),
)  # fmt: skip
NOW = Open(
    lifter="Runa Tveit", lift="squat", opened_days_ago=0.4,
    said=(
        Said(what="squat_bar_forward", rep=5, state=READ), Said(what="squat_bar_forward", rep=4, state=READ),
        Said(words="the bar drifts forward out of the bottom", rep=5, state=READ),
        Said(what="squat_hips_first", rep=5, state=READ), Said(what="squat_slowing", rep=5, state=READ),
        Said(what="squat_unsettled_start", rep=1, state=READ),
        Said(words="hips come up a touch before the bar on the last"), Said(what="squat_knees_in", rep=3),
        Said(words="calm walkout, no extra step"), Said(what="squat_bar_forward", words="only a little", rep=5),
        Said(words="each rep a bit slower, same depth"),
    ),
)  # fmt: skip
"""In the newest ones some answers wait to be read."""


def add(workspace: Workspace) -> None:
    """Put link, edition and open sets into the demo's workspace; what its sets do not give is left out."""
    with workspace.write() as connection:
        connection.execute(lifters.update().where(lifters.c.name.in_(ADULTS)).values(minor=False))
        asked = connection.execute(sa.select(lifters.c.id).where(lifters.c.name == ASKED_FOR)).scalar()
    _, token = links.make(workspace, links.SEND, lifter_id=asked)
    with workspace.write() as connection:
        set_setting(connection, LINK, f"/{links.SEND}/{token}")
    week = edition_order.create(workspace, "Second edition", (now() + timedelta(days=2)).date())
    last = _open(workspace, LAST, week)
    if last:
        edition_order.add(workspace, week, "recap", last)
    for lifter, lift in (("Mattis Holm", "bench"), ("Teo Aldana", "deadlift")):
        if found := _set_of(workspace, lifter, lift):
            edition_order.add(workspace, week, "review", found)
    if left := _open(workspace, NOW, week):
        edition_order.add(workspace, week, "open", left)


def _set_of(workspace: Workspace, lifter: str, lift: str) -> str:
    """Give a lifter's set that has a review: one picked for an edition before others, then the newest."""
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(sets.c.id)
            .join(lifters, lifters.c.id == sets.c.lifter_id)
            .where(lifters.c.name == lifter, sets.c.lift == lift, sets.c.state == "ready")
            .order_by(sa.case((sets.c.picked == "edition", 0), else_=1), sets.c.received_at.desc())
        ).scalars().all()  # fmt: skip
    for set_id in rows:
        try:
            reviewed(workspace, set_id)
        except (NoReviewError, StoreError):
            continue
        return str(set_id)
    return ""


def _open(workspace: Workspace, wanted: Open, week: str) -> str:
    """Leave a set open as it was so long ago, with its answers; gives the set's id, "" where there is none."""
    set_id = _set_of(workspace, wanted.lifter, wanted.lift)
    if not set_id:
        return ""
    closed = wanted.closed_days_ago is not None
    with workspace.write() as connection:
        note(connection, set_id, "open_set", given_by="lifter")
    try:
        open_id = open_set.prepare(workspace, set_id, edition_id=None if closed else week)
    except OpenSetError:
        return ""
    moments = _moments(workspace, set_id)
    opened = now() - timedelta(days=wanted.opened_days_ago)
    span = timedelta(days=wanted.opened_days_ago - (wanted.closed_days_ago or 0.0))
    with workspace.write() as connection:
        connection.execute(open_sets.update().where(open_sets.c.id == open_id).values(opens_at=opened))
        for k, one in enumerate(wanted.said):
            seen = Seen(what=one.what, words=one.words, rep=one.rep, at_s=moments.get(one.rep or 0))
            mark = token_mark(hashlib.sha256(f"{open_id} {k}".encode()).hexdigest())
            at = opened + span * (k + 1) / (len(wanted.said) + 1)
            answer_id = open_set.hold(connection, open_id, mark, [seen], at=at)
            connection.execute(answers.update().where(answers.c.id == answer_id).values(state=one.state))
        if not closed:
            enqueue(connection, "open_page", f"open_page:{open_id}", {"open_id": open_id})
    if wanted.closed_days_ago is not None:
        values: dict[str, Any] = {"closes_at": now() - timedelta(days=wanted.closed_days_ago)}
        open_set.close(workspace, open_id)
        with workspace.write() as connection:
            connection.execute(open_sets.update().where(open_sets.c.id == open_id).values(**values))
    return set_id


def _moments(workspace: Workspace, set_id: str) -> dict[int, float]:
    """Give when each rep is at its low, for moments that somebody might have named, s."""
    found = {}
    for number, rep in enumerate(reviewed(workspace, set_id).measurement.data.reps.reps, start=1):
        moment = rep.low_start or rep.low_end or rep.start
        if moment is not None:
            found[number] = round(moment.t_s, 2)
    return found

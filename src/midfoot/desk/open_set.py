"""A set left open for others to judge first: its page, their answers held for approval, and what came of it.

An answer names moments and observations or says it in words of its own, before anything is revealed. Of who
answered nothing is kept but a mark of a random token that his browser made: one answer a token.
"""

from __future__ import annotations

import csv
import io
import json
import re
import secrets
import tomllib
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk.edition import allowed
from midfoot.desk.publish_gate import Case, case_of
from midfoot.desk.reviewing import reviewed
from midfoot.findings.registry import findings_of
from midfoot.store.columns import new_id, now
from midfoot.store.rows import audit
from midfoot.store.signing import token_mark
from midfoot.store.tables import answers, open_sets, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

TOKEN_BYTES = 18
MOST_SEEN, MOST_WORDS, MOST_ANSWERS = 8, 500, 20_000
NEAR_S = 0.5
"""Answers so near to each other speak of one moment (common practice, no source)."""
ABOUT_BODIES = re.compile(
    r"\b(fat|obese|chubby|skinny|scrawny|ugly|pretty|sexy|hot|cute|thicc|booty|butt|boobs?|breasts?|belly fat|"
    r"overweight|underweight|too heavy (?:for|of) (?:a )?(?:girl|woman|guy|man)|lose (?:some )?weight|"
    r"body ?fat)\b",
    re.I,
)
PLAIN_SHARE, CLEAR_OF_SECOND = 0.95, 1.25
"""Words mean an observation when they share what is its own, and by so much more than with the next one."""


class OpenSetError(ValueError):
    """What cannot be done with an open set or an answer: the text says why and what would do."""


@frozen(kw_only=True)
class Seen:
    """One thing that somebody saw: an observation of the list, or words of his own; rep and moment if said."""

    what: str = ""
    words: str = ""
    rep: int | None = None
    at_s: float | None = None


@frozen(kw_only=True)
class Row:
    """What became of one observation: how many saw it, whether the coach did, what was measured, and when.

    `confidence` and `reps` are the measurement's, "" and () where it holds none.
    """

    what: str
    title: str
    count: int
    share: float
    coach: bool
    confidence: str
    reps: tuple[int, ...]
    at_s: tuple[float, ...]
    measured_s: tuple[float, ...]


@frozen(kw_only=True)
class Outcome:
    """What came of an open set: how many answered, each observation, and words that fit none."""

    answered: int
    rows: tuple[Row, ...]
    words: tuple[str, ...]
    recap: tuple[str, ...]


def prepare(
    workspace: Workspace, set_id: str, *, edition_id: str | None = None, closes_at: datetime | None = None
) -> str:
    """Open a set for answers and give its id; one that is open already is given instead.

    Raises
    ------
    OpenSetError
        When there is no such set, or age or consent keep it from being open.
    """
    with workspace.write() as connection:
        may_be_open(case_of(connection, set_id))
        there = connection.execute(
            sa.select(open_sets.c.id).where(
                open_sets.c.set_id == set_id, open_sets.c.state.in_(("preparing", "open"))
            )
        ).first()
        if there is not None:
            return str(there.id)
        open_id = new_id()
        connection.execute(
            open_sets.insert().values(
                id=open_id, set_id=set_id, edition_id=edition_id, opens_at=now(), closes_at=closes_at,
                token=secrets.token_urlsafe(TOKEN_BYTES), state="open",
            )
        )  # fmt: skip
        audit(connection, "set_opened", "set", set_id)
    return open_id


def may_be_open(case: Case | None) -> Case:
    """Give the set's case where age and consent allow that it is open.

    Raises
    ------
    OpenSetError
        When there is no such set, or they do not.
    """
    if case is None:
        raise OpenSetError("There is no such set; go back to the inbox.")
    if against := allowed(case, "open"):
        remedy = against[0].remedy
        raise OpenSetError(f"{against[0].words}; {remedy[0].lower()}{remedy[1:]}")
    return case


def by_token(connection: Connection, token: str) -> Any:
    """Give the open set of a page's token, None when there is none or it takes no answers any more."""
    row = connection.execute(sa.select(open_sets).where(open_sets.c.token == token)).first()
    if row is None or row.state != "open" or (row.closes_at is not None and row.closes_at <= now()):
        return None
    return row


def choices(lift: str) -> list[tuple[str, str]]:
    """Give the plain observations that an answer may name: id and words."""
    return [(d.id, d.title) for d in findings_of(lift)]


def take_answer(workspace: Workspace, token: str, sent: Any) -> str:
    """Hold an answer for the coach's approval; gives its id. A second one by the same token changes nothing.

    Raises
    ------
    OpenSetError
        When the set takes none any more, or the answer cannot be held: the text says why.
    """
    with workspace.read() as connection:
        row = by_token(connection, token)
        lift = connection.execute(sa.select(sets.c.lift).where(sets.c.id == row.set_id)).scalar() if row else None
    if row is None:
        raise OpenSetError("This set takes no answers any more; look at the next edition for what came of it.")
    mark, seen = _read(sent, str(lift))
    with workspace.write() as connection:
        known = connection.execute(
            sa.select(answers.c.id).where(answers.c.open_set_id == row.id, answers.c.token_hash == mark)
        ).first()
        if known is not None:
            return str(known.id)
        count = connection.execute(
            sa.select(sa.func.count()).select_from(answers).where(answers.c.open_set_id == row.id)
        ).scalar_one()
        if count >= MOST_ANSWERS:
            raise OpenSetError("This set has as many answers as it can take; thank you all the same.")
        return _hold(connection, row.id, mark, seen)


def _hold(connection: Connection, open_id: str, mark: str, seen: Sequence[Seen]) -> str:
    answer_id = new_id()
    body = {"seen": [{"what": s.what, "words": s.words, "rep": s.rep, "at_s": s.at_s} for s in seen]}
    connection.execute(
        answers.insert().values(id=answer_id, open_set_id=open_id, token_hash=mark, body=body, state="held")
    )
    return answer_id


def _read(sent: Any, lift: str) -> tuple[str, list[Seen]]:
    """Check what was sent; gives the token's mark and what was seen."""
    if not isinstance(sent, dict) or not isinstance(sent.get("seen"), list):
        raise OpenSetError("The answer cannot be read; reload the page and send it again.")
    token = sent.get("token")
    if not isinstance(token, str) or not re.fullmatch(r"[0-9A-Za-z_-]{16,64}", token):
        raise OpenSetError("The answer has no token; reload the page and send it again.")
    known = {name for name, _ in choices(lift)}
    found = []
    for one in sent["seen"][:MOST_SEEN]:
        if not isinstance(one, dict):
            continue
        what = one.get("what") if one.get("what") in known else ""
        words = " ".join(str(one.get("words") or "").split())[:MOST_WORDS]
        rep, at_s = one.get("rep"), one.get("at_s")
        rep = rep if isinstance(rep, int) and not isinstance(rep, bool) and 1 <= rep <= 100 else None
        at_s = float(at_s) if isinstance(at_s, (int, float)) and 0 <= float(at_s) < 3600 else None
        if what or words:
            found.append(Seen(what=str(what), words=words, rep=rep, at_s=at_s))
    if not found:
        raise OpenSetError("The answer says nothing yet; choose or write what you see.")
    if any(ABOUT_BODIES.search(s.words) for s in found):
        raise OpenSetError("Say what the bar and the body do, not how somebody looks; then send it again.")
    return token_mark(token), found


def bring(workspace: Workspace, open_id: str, text: str) -> int:
    """Take comments in from a CSV or a text (one a line), or answers saved as files; gives how many are held.

    Raises
    ------
    OpenSetError
        When there is no such open set or nothing in the text.
    """
    with workspace.read() as connection:
        row = connection.execute(sa.select(open_sets).where(open_sets.c.id == open_id)).first()
        if row is None:
            raise OpenSetError("There is no such open set; go back to the list.")
        lift = str(connection.execute(sa.select(sets.c.lift).where(sets.c.id == row.set_id)).scalar())
    count = 0
    with workspace.write() as connection:
        for mark, seen in _comments(text, lift):
            known = connection.execute(
                sa.select(answers.c.id).where(answers.c.open_set_id == open_id, answers.c.token_hash == mark)
            ).first()
            if known is None and not any(ABOUT_BODIES.search(s.words) for s in seen):
                _hold(connection, open_id, mark, seen)
                count += 1
    if not count:
        raise OpenSetError("No new comment was found in it; give one a line, or a CSV with a column comment.")
    return count


def _comments(text: str, lift: str) -> Iterable[tuple[str, list[Seen]]]:
    """Read comments. A name that stands in a CSV is not looked at."""
    try:
        saved = json.loads(text)
        for one in saved if isinstance(saved, list) else [saved]:
            yield _read(one, lift)
        return
    except ValueError:  # OpenSetError is one: then it is no saved answer either
        pass
    rows = list(csv.reader(io.StringIO(text)))
    head = [cell.strip().lower() for cell in rows[0]] if rows else []
    column = next((head.index(n) for n in ("comment", "comments", "text", "answer", "message") if n in head), None)
    lines = [r[column] for r in rows[1:] if len(r) > column] if column is not None else text.splitlines()
    for line in lines:
        words = " ".join(line.split())[:MOST_WORDS]
        if words:
            yield token_mark(f"brought {words}"), [Seen(words=words)]


def judge(workspace: Workspace, answer_id: str, *, approved: bool) -> None:
    """Approve or refuse an answer."""
    with workspace.write() as connection:
        connection.execute(
            answers.update().where(answers.c.id == answer_id).values(state="approved" if approved else "refused")
        )


def close(workspace: Workspace, open_id: str) -> None:
    """Take no answers any more."""
    with workspace.write() as connection:
        connection.execute(
            open_sets.update()
            .where(open_sets.c.id == open_id, open_sets.c.state.in_(("preparing", "open")))
            .values(state="closed", closes_at=now())
        )
        audit(connection, "open_set_closed", "open_set", open_id)


def held(workspace: Workspace, open_id: str) -> dict[str, list[dict[str, Any]]]:
    """Give the answers of an open set by state, the oldest first."""
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(answers).where(answers.c.open_set_id == open_id).order_by(answers.c.at)
        ).all()
    out: dict[str, list[dict[str, Any]]] = {"held": [], "approved": [], "refused": []}
    for row in rows:
        out[row.state].append({"id": row.id, "at": row.at, "seen": row.body["seen"]})
    return out


def outcome(workspace: Workspace, open_id: str) -> Outcome:
    """Hold the approved answers beside what the coach kept and what was measured.

    Raises
    ------
    OpenSetError
        When there is no such open set.
    NoReviewError, StoreError
        When its set has no review.
    """
    with workspace.read() as connection:
        row = connection.execute(sa.select(open_sets).where(open_sets.c.id == open_id)).first()
    if row is None:
        raise OpenSetError("There is no such open set; go back to the list.")
    done = reviewed(workspace, row.set_id)
    lift = done.measurement.data.asked.lift
    options = choices(lift)
    counts: Counter[str] = Counter()
    times: dict[str, list[float]] = {}
    loose: list[str] = []
    given = [[Seen(**s) for s in a["seen"]] for a in held(workspace, open_id)["approved"]]
    for answer in given:
        named = set()
        for seen in answer:
            what = seen.what or grouped(seen.words, options)
            if not what:
                loose.append(seen.words)
                continue
            named.add(what)
            if seen.at_s is not None:
                times.setdefault(what, []).append(seen.at_s)
        counts.update(named)
    coach = {p.about for p in done.review.parts if p.shown and p.section == "change"}
    measured = {f.id: f for f in done.measurement.found.findings}
    rows = []
    for what, title in options:
        finding = measured.get(what)
        if not (counts[what] or what in coach or finding is not None):
            continue
        rows.append(
            Row(what=what, title=title, count=counts[what], share=counts[what] / max(1, len(given)),
                coach=what in coach, confidence=finding.confidence if finding else "",
                reps=finding.reps if finding else (), at_s=tuple(sorted(times.get(what, ()))),
                measured_s=finding.at_s if finding else ())
        )  # fmt: skip
    rows.sort(key=lambda r: (-r.count, r.title))
    return Outcome(
        answered=len(given), rows=tuple(rows), words=tuple(loose), recap=recap_of(len(given), rows, loose)
    )


def grouped(words: str, options: Sequence[tuple[str, str]]) -> str:
    """Say which observation of the list somebody's own words mean, "" when it is not plain.

    By the words that both share, each counted by how seldom it stands among the observations; small words and
    endings are left out. Where two fit about as well it is not plain.
    """
    mine = set(_stems(words))
    said = _said_as()
    every = {what: set(_stems(f"{title} {said.get(what, '')}")) for what, title in options}
    seldom = Counter(stem for stems in every.values() for stem in stems)
    scores = sorted(
        ((sum(1.0 / seldom[s] for s in stems & mine), what) for what, stems in every.items()), reverse=True
    )
    if not scores or scores[0][0] < PLAIN_SHARE:
        return ""
    if len(scores) > 1 and scores[0][0] < CLEAR_OF_SECOND * scores[1][0]:
        return ""
    return scores[0][1]


@cache
def _said_as() -> dict[str, str]:
    text = resources.files("midfoot.desk").joinpath("said_as.toml").read_text("utf-8")
    return {k: str(v) for k, v in tomllib.loads(text).items()}


def _stems(text: str) -> list[str]:
    """Words without what they end in, and without the small ones."""
    small = set(_said_as()["small"].split())
    out = []
    for word in re.findall(r"[a-z]+", text.lower()):
        if word in small:
            continue
        for ending in ("ing", "ed", "er", "es", "s", "y", "ward"):
            if word.endswith(ending) and len(word) - len(ending) >= 3:
                word = word[: -len(ending)]
                break
        out.append(word[:-1] if len(word) > 3 and word[-1] == word[-2] else word)
    return out


def recap_of(answered: int, rows: Sequence[Row], loose: Sequence[str]) -> tuple[str, ...]:
    """Draft the recap in words that thank before they correct; one that nobody answered says so."""
    if not answered:
        return ("Nobody answered the last open set; it stays open to look at.",)
    people = "One of you" if answered == 1 else f"{answered} of you"
    out = [f"{people} said what they see in the last open set; thank you for looking so closely."]
    for row in rows[:4]:
        if row.count and (row.coach or row.confidence):
            where = f" on rep {row.reps[0]}" if len(row.reps) == 1 else ""
            sure = {"sure": "The figures hold it clearly", "likely": "The figures lean the same way",
                    "hint": "The figures show a trace of it"}.get(row.confidence, "I see it as well")  # fmt: skip
            out.append(f"{_of(row.count, answered)} saw this: {_lower(row.title)}. {sure}{where}.")
    alone = [r for r in rows[:6] if r.count and not (r.coach or r.confidence)]
    if alone:
        named = "; ".join(f"{_lower(r.title)} ({r.count})" for r in alone)
        what, it = ("this", "it") if len(alone) == 1 else ("these", "them")
        out.append(
            f"Some of you also saw {what}: {named}. The figures do not hold {it}; "
            "look once more, slowly, and say whether you still see it."
        )
    missed = [r for r in rows if not r.count and (r.coach or r.confidence in ("sure", "likely"))]
    if missed:
        out.append(f"One thing that nobody named: {_lower(missed[0].title)}.")
    if loose:
        out.append("Some of you used words of your own that fit none of the list; those I have read too.")
    return tuple(out)


def _of(count: int, answered: int) -> str:
    if count == answered:
        return "All of you" if answered > 1 else "The one who answered"
    return "One of you" if count == 1 else f"{count} of {answered}"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def recap_for(workspace: Workspace, set_id: str) -> tuple[str, ...]:
    """Give the drafted recap of a set that was open and is closed, () without one."""
    with workspace.read() as connection:
        row = connection.execute(
            sa.select(open_sets.c.id)
            .where(open_sets.c.set_id == set_id, open_sets.c.state.in_(("closed", "recapped")))
            .order_by(open_sets.c.closes_at.desc())
        ).first()
    return outcome(workspace, row.id).recap if row is not None else ()


def listed(workspace: Workspace) -> list[dict[str, Any]]:
    """Give every open set with how many answers wait, the newest first."""
    with workspace.read() as connection:
        rows = connection.execute(sa.select(open_sets).order_by(open_sets.c.opens_at.desc())).all()
        waiting: dict[str, int] = dict(
            connection.execute(
                sa.select(answers.c.open_set_id, sa.func.count())
                .where(answers.c.state == "held")
                .group_by(answers.c.open_set_id)
            ).all()
        )
    return [
        {"id": r.id, "set_id": r.set_id, "state": r.state, "opens_at": r.opens_at, "closes_at": r.closes_at,
         "token": r.token, "waiting": waiting.get(r.id, 0)}
        for r in rows
    ]  # fmt: skip

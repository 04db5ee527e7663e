"""What came of an open set: answers beside coach and measurement, and a recap drafted from them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import frozen

from midfoot.desk.answering import OpenSetError, Seen, choices
from midfoot.desk.grouping import grouped
from midfoot.desk.open_set import held
from midfoot.desk.reviewing import reviewed
from midfoot.store.tables import open_sets

if TYPE_CHECKING:
    from midfoot.store import Workspace


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
    given = held(workspace, open_id)["approved"]
    for answer in given:
        named = set()
        for k, told in enumerate(answer["seen"]):
            seen = Seen(**told)
            what = seen.what or meant(answer, k, options)
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


def meant(answer: Mapping[str, Any], k: int, options: Sequence[tuple[str, str]]) -> str:
    """Say which observation the k-th thing of an answer is: as the coach said, else by its words; "" for none."""
    said = answer["means"].get(str(k))
    if said is not None:
        return said if said in dict(options) else ""
    return grouped(str(answer["seen"][k]["words"]), options)


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
        who = "One of you" if sum(r.count for r in alone) == 1 else "Some of you"
        also = "also " if len(out) > 1 else ""
        out.append(
            f"{who} {also}saw {what}: {named}. The figures do not hold {it}; "
            "look once more, slowly, and say whether you still see it."
        )
    missed = [r for r in rows if not r.count and (r.coach or r.confidence in ("sure", "likely"))]
    if missed:
        out.append(f"One thing that nobody named: {_lower(missed[0].title)}.")
    if loose:
        who = "One of you" if len(loose) == 1 else "Some of you"
        out.append(f"{who} used words that fit none of the list; those I have read too.")
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

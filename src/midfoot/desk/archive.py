"""What was found in all sets and what the coach made of it: how common, how far he agrees, case by case.

Reads only. Each function takes a connection of `Workspace.read` and asks the database few questions, whatever the
number of sets. A set counts for a finding only where that could be judged: what was not seen is not absent.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, date, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from attrs import evolve, frozen
from sqlalchemy.engine import Connection

from midfoot.desk.agreement import Share
from midfoot.desk.cases import OWN_WORDS
from midfoot.findings import definition
from midfoot.store.tables import cases, lifters, measurements, sets

AGREED = ("kept", "reworded")
JUDGED = (*AGREED, "dropped")
"""What speaks of whether the finding was right; accepted says that a lifter may do it, and nothing of that."""
IN_YOUR_WORDS = "In your own words"


@frozen(kw_only=True)
class Filters:
    """Which sets and cases are looked at; what is empty leaves nothing out. Loads in kg, days by arrival."""

    lift: str = ""
    finding: str = ""
    lifter: str = ""
    view: str = ""
    did: str = ""
    since: date | None = None
    until: date | None = None
    least_kg: float | None = None
    most_kg: float | None = None

    @property
    def any(self) -> bool:
        """Whether anything is left out."""
        return self != Filters()


@frozen(kw_only=True)
class Found:
    """One finding over all sets that are looked at.

    Attributes
    ----------
    finding, title, lift : str
    by : str
        `measured`, or `coach` for what only he saw.
    seen : Share
        Sets in which it was seen surely or likely, of those in which it could be judged.
    hints : int
        Sets in which it was hinted at.
    kept, reworded, dropped, accepted, open : int
        What the coach did with it; open is what he never looked at.
    """

    finding: str
    title: str
    lift: str
    by: str = "measured"
    seen: Share = Share(0, 0)
    hints: int = 0
    kept: int = 0
    reworded: int = 0
    dropped: int = 0
    accepted: int = 0
    open: int = 0

    @property
    def agreed(self) -> Share:
        """Kept or reworded of what was judged."""
        kept = self.kept + self.reworded
        return Share(kept, kept + self.dropped)


@frozen(kw_only=True)
class CaseRow:
    """One finding of one set, with what the coach did, as it stood on that day; see `cases.Case`."""

    id: str
    set_id: str
    lifter_id: str | None
    lifter: str
    lift: str | None
    load_kg: float | None
    received_at: datetime
    finding: str
    title: str
    by: str
    size: float | None
    sd: float | None
    unit: str | None
    confidence: str | None
    view: str | None
    rep: int | None
    at_s: float | None
    raised: bool
    decision: str
    reason: str
    until: date | None
    up_to_kg: float | None
    decided_at: datetime | None


@frozen(kw_only=True)
class Over:
    """All findings over the sets that are looked at.

    Attributes
    ----------
    found : tuple of Found
        Measured ones before those that only the coach saw, the most often seen first.
    measured : int
        How many measured sets that is.
    not_noted : int
        Measured sets of which nobody noted the findings yet: an earlier version measured them.
    """

    found: tuple[Found, ...]
    measured: int
    not_noted: int


def overview(connection: Connection, filters: Filters) -> Over:
    """Give every finding that could be judged or was seen in the sets looked at."""
    could, measured, not_noted = _could(connection, filters)
    found: dict[tuple[str, str], Found] = {("measured", finding): _named(finding) for finding in could}
    shown: dict[tuple[str, str], int] = defaultdict(int)
    for r in connection.execute(_counts(filters)):
        key, hint = (r.by, r.finding), r.confidence == "hint"
        row = found.get(key) or _named(r.finding, r.by)
        # a hint stands in no draft: not to have looked at it says nothing
        if r.decision in (*JUDGED, "accepted") or (r.decision == "open" and not hint):
            row = evolve(row, **{r.decision: getattr(row, r.decision) + r.n})
        if r.raised and hint:
            row = evolve(row, hints=row.hints + r.n)
        elif r.raised:
            shown[key] += r.n
        found[key] = row
    titles = _own_titles(connection) if any(by == "coach" for by, _ in found) else {}
    rows = []
    for (by, finding), row in found.items():
        seen = shown[by, finding]
        # what was judged when it was decided may be hidden since the set was measured again
        of = max(could.get(finding, 0), seen) if by == "measured" else seen
        rows.append(
            evolve(row, seen=Share(seen, of), title=titles.get(finding, row.title) if by == "coach" else row.title)
        )
    rows.sort(key=lambda r: (r.by == "coach", -r.seen.count, r.title))
    return Over(found=tuple(rows), measured=measured, not_noted=not_noted)


def _counts(filters: Filters) -> sa.Select[Any]:
    """Count cases by what matters; sets are asked only where a filter speaks of them."""
    by = (cases.c.finding, cases.c.by, cases.c.decision, cases.c.raised, cases.c.confidence)
    filters = evolve(filters, did="")
    if not of_sets(filters):
        return sa.select(*by, sa.func.count().label("n")).where(*of_cases(filters)).group_by(*by)
    # in the order of the groups all cases would be gone through; from the sets on it is only theirs
    hidden = [
        sa.func.coalesce(c, sa.null() if c is cases.c.raised else "", type_=c.type).label(c.name) for c in by
    ]
    query = (
        sa.select(*hidden, sa.func.count().label("n")).select_from(sets).join(cases, cases.c.set_id == sets.c.id)
    )
    return query.where(*of_cases(filters)).group_by(*hidden)


def _own_titles(connection: Connection) -> dict[str, str]:
    """Give what the coach's own observations are called, those in free words left out."""
    rows = connection.execute(
        sa.select(cases.c.finding, sa.func.max(cases.c.title))
        .where(cases.c.by == "coach", cases.c.finding != OWN_WORDS)
        .group_by(cases.c.finding)
    )
    return {finding: title for finding, title in rows}


def _named(finding: str, by: str = "measured") -> Found:
    if finding == OWN_WORDS:
        return Found(finding=finding, title=IN_YOUR_WORDS, lift="", by=by)
    try:
        known = definition(finding)
    except KeyError:
        return Found(finding=finding, title=finding.replace("_", " "), lift="", by=by)
    return Found(finding=finding, title=known.title, lift=known.lift, by=by)


def _could(connection: Connection, filters: Filters) -> tuple[dict[str, int], int, int]:
    """Count by finding the sets in which it could be judged, all measured sets, and those not noted yet.

    Few different lists of findings stand for many sets.
    """
    query = (
        sa.select(measurements.c.judged, sa.func.count().label("n"))
        .select_from(sets)
        .join(measurements, current())
        .where(*of_sets(filters))
        .group_by(measurements.c.judged)
    )
    if filters.view:
        query = query.where(sa.or_(measurements.c.view == filters.view, measurements.c.judged.is_(None)))
    counts: dict[str, int] = defaultdict(int)
    measured = not_noted = 0
    for judged, n in connection.execute(query):
        if judged is None:
            not_noted += n
            continue
        measured += n
        for finding in judged.split():
            if filters.finding in ("", finding):
                counts[finding] += n
    return counts, measured, not_noted


def current() -> sa.ColumnElement[bool]:
    """Tie a set to the measurement that counts: the current one of its measured view."""
    return sa.and_(measurements.c.clip_id == sets.c.main_clip_id, measurements.c.is_current.is_(True))


def case_rows(
    connection: Connection, filters: Filters, *, start: int = 0, limit: int | None = None
) -> tuple[CaseRow, ...]:
    """Give the cases one by one, the latest set first."""
    query = (
        sa.select(
            cases,
            lifters.c.name.label("lifter"),
            sets.c.lifter_id,
            sets.c.lift,
            sets.c.load_kg,
            sets.c.received_at,
        )
        .select_from(sets)
        .join(cases, cases.c.set_id == sets.c.id)
        .outerjoin(lifters, lifters.c.id == sets.c.lifter_id)
        # the bound leaves nothing out: it leads the database to the order of arrival, which it then follows
        .where(*of_cases(filters), sets.c.received_at > _midnight(date(1, 1, 1)))
        .order_by(sets.c.received_at.desc(), sets.c.id, cases.c.part_id)
        .offset(start)
        .limit(limit)
    )
    return tuple(_row(r) for r in connection.execute(query))


def _row(r: Any) -> CaseRow:
    return CaseRow(
        id=r.id, set_id=r.set_id, lifter_id=r.lifter_id, lifter=r.lifter or "", lift=r.lift, load_kg=r.load_kg,
        received_at=r.received_at, finding=r.finding, title=r.title, by=r.by, size=r.size, sd=r.sd, unit=r.unit,
        confidence=r.confidence, view=r.view, rep=r.rep, at_s=r.at_s, raised=bool(r.raised), decision=r.decision,
        reason=r.reason, until=r.until, up_to_kg=r.up_to_kg, decided_at=r.decided_at,
    )  # fmt: skip


def of_sets(filters: Filters) -> list[sa.ColumnElement[bool]]:
    """Give the conditions on sets."""
    found: list[sa.ColumnElement[bool]] = []
    if filters.lift:
        found.append(sets.c.lift == filters.lift)
    if filters.lifter:
        found.append(sets.c.lifter_id == filters.lifter)
    if filters.since is not None:
        found.append(sets.c.received_at >= _midnight(filters.since))
    if filters.until is not None:
        found.append(sets.c.received_at < _midnight(filters.until + timedelta(days=1)))
    if filters.least_kg is not None:
        found.append(sets.c.load_kg >= filters.least_kg)
    if filters.most_kg is not None:
        found.append(sets.c.load_kg <= filters.most_kg)
    return found


def of_cases(filters: Filters) -> list[sa.ColumnElement[bool]]:
    """Give the conditions on cases and their sets."""
    found = of_sets(filters)
    if filters.finding:
        found.append(cases.c.finding == filters.finding)
    if filters.view:
        found.append(cases.c.view == filters.view)
    if filters.did == "judged":
        found.append(cases.c.decision.in_(JUDGED))
    elif filters.did:
        found.append(cases.c.decision == filters.did)
    return found


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC)

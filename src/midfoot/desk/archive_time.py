"""How far the coach agreed over time: by month of arrival, by quarter or year where months are too many."""

from __future__ import annotations

from datetime import date

import sqlalchemy as sa
from attrs import evolve, frozen
from sqlalchemy.engine import Connection

from midfoot.desk.agreement import Share
from midfoot.desk.archive import AGREED, JUDGED, Filters, of_cases
from midfoot.store.tables import cases, sets

MOST_PERIODS = 16


@frozen(kw_only=True)
class Period:
    """A stretch of time, its first day, what it is called and how far the coach agreed in it."""

    start: date
    name: str
    agreed: Share


def over_time(connection: Connection, filters: Filters) -> tuple[Period, ...]:
    """Give the agreement by month of arrival, by quarter or year where months are too many; the oldest first."""
    month = sa.func.substr(sa.cast(sets.c.received_at, sa.Text), 1, 7)
    kept = sa.func.sum(sa.case((cases.c.decision.in_(AGREED), 1), else_=0))
    query = (
        sa.select(month.label("month"), kept.label("kept"), sa.func.count().label("n"))
        .select_from(cases)
        .join(sets, sets.c.id == cases.c.set_id)
        .where(*of_cases(evolve(filters, did="")), cases.c.decision.in_(JUDGED), cases.c.by == "measured")
        .group_by(month)
        .order_by(month)
    )
    months = [(date.fromisoformat(f"{r.month}-01"), int(r.kept), int(r.n)) for r in connection.execute(query)]
    return periods_of(months)


def periods_of(months: list[tuple[date, int, int]]) -> tuple[Period, ...]:
    """Join months (first day, kept, judged) to quarters or years until they are few enough to be read."""
    found: dict[date, list[int]] = {}
    name = _month
    for step, name in ((1, _month), (3, _quarter), (12, _year)):  # noqa: B007  (that of the last round counts)
        found = {}
        for day, kept, of in sorted(months):
            start = date(day.year, (day.month - 1) // step * step + 1, 1)
            row = found.setdefault(start, [0, 0])
            row[0] += kept
            row[1] += of
        if len(found) <= MOST_PERIODS:
            break
    return tuple(Period(start=day, name=name(day), agreed=Share(*row)) for day, row in found.items())


def _month(day: date) -> str:
    return f"{day:%b %Y}"


def _quarter(day: date) -> str:
    return f"{day:%b}-{date(day.year, day.month + 2, 1):%b %Y}"


def _year(day: date) -> str:
    return f"{day.year}"

"""What was found in a set and what the coach made of it: rows noted when it is measured and when he decides.

A row keeps the figures of the day on which the coach decided: measured again, or held against another threshold
later, it still says what he was shown. Rows that nobody decided on follow the measurement.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import sqlalchemy as sa
from attrs import asdict, frozen
from sqlalchemy.engine import Connection

from midfoot.findings import Limits, definition
from midfoot.findings.definition import Sign
from midfoot.findings.look import OBLIQUE
from midfoot.records.findings import Finding
from midfoot.records.measures import Measurement
from midfoot.records.review import Edit
from midfoot.review import effective
from midfoot.review.apply import OWN, own_id
from midfoot.store.columns import now
from midfoot.store.tables import cases

OWN_WORDS = "own_words"
"""What stands for the finding where the coach wrote down what no observation of the vocabulary names."""
MOST_TITLE = 200


@frozen(kw_only=True)
class Case:
    """One finding of one set as it was measured.

    Attributes
    ----------
    part_id, finding, title : str
    threshold, unit : str
        Id of the threshold that the size is held against, and its unit; None where no size was measured.
    size, sd : float or None
    floor : float or None
        The size that counted in this view.
    times_floor : float
        How many times the threshold's own floor that is.
    confidence : str
    rep : int or None
        The one that shows it most.
    at_s : float or None
        The moment to look at in it.
    view : str
    """

    part_id: str
    finding: str
    title: str
    threshold: str | None = None
    unit: str | None = None
    size: float | None = None
    sd: float | None = None
    floor: float | None = None
    times_floor: float = 1.0
    confidence: str = "sure"
    rep: int | None = None
    at_s: float | None = None
    view: str = "unknown"


@frozen(kw_only=True)
class Decision:
    """What the coach did with a part: kept, reworded, dropped with a reason, accepted up to a limit."""

    decision: str
    reason: str = ""
    until: date | None = None
    up_to_kg: float | None = None


def cases_of(measurement: Measurement, limits: Limits) -> tuple[Case, ...]:
    """Give the measured findings of a set, hints among them, with the threshold that each was held against."""
    view = measurement.data.view.view_class
    return tuple(_case(f, view, limits) for f in measurement.found.findings if f.by == "measured")


def _case(finding: Finding, view: str, limits: Limits) -> Case:
    sign = sign_of(finding)
    limit = limits.get(sign.limit) if sign is not None else None
    rep = finding.worst_rep
    times = limit.oblique if limit is not None and view in OBLIQUE else 1.0
    size = finding.size if limit is not None else None
    return Case(
        part_id=part_of(finding), finding=finding.id, title=finding.title[:MOST_TITLE],
        threshold=limit.id if limit is not None else None, unit=limit.unit if limit is not None else None,
        size=size.value if size is not None else None, sd=size.sd if size is not None else None,
        floor=limit.floor * times if limit is not None else None, times_floor=times,
        confidence=finding.confidence, rep=rep,
        at_s=dict(zip(finding.reps, finding.at_s, strict=False)).get(rep or 0, next(iter(finding.at_s), None)),
        view=view,
    )  # fmt: skip


def sign_of(finding: Finding) -> Sign | None:
    """Give the sign that a finding's size was taken from: the one of the measure that leads its evidence."""
    if not finding.evidence:
        return None
    try:
        signs = definition(finding.id).signs
    except KeyError:
        return None
    return next((s for s in signs if s.measure == finding.evidence[0].measure), None)


def part_of(finding: Finding) -> str:
    """Name the part of a review that says this finding."""
    return f"{'change' if finding.nature == 'fault' else 'seen'}:{finding.id}"


def decisions_of(edits: Sequence[Edit]) -> dict[str, Decision]:
    """Give what the coach did with each part, by the edits that hold; parts he only looked at are not in it."""
    found: dict[str, Decision] = {}
    reworded: set[str] = set()
    for edit in effective(tuple(edits)):
        if edit.kind == "reword":
            reworded.add(edit.part)
            found.setdefault(edit.part, Decision(decision="kept"))
        elif edit.kind == "keep":
            found[edit.part] = Decision(decision="kept")
        elif edit.kind == "drop":
            found[edit.part] = Decision(decision="dropped", reason=edit.reason)
        elif edit.kind == "accept":
            found[edit.part] = Decision(decision="accepted", until=edit.until, up_to_kg=edit.up_to_kg)
    return {
        part: Decision(decision="reworded") if one.decision == "kept" and part in reworded else one
        for part, one in found.items()
    }


def note(connection: Connection, set_id: str, found: Iterable[Case], edits: Sequence[Edit]) -> None:
    """Bring a set's rows up to what is measured and decided; what was decided before keeps its figures.

    Parameters
    ----------
    connection : of `Workspace.write`.
    found : the findings of the set as it is measured now.
    edits : all edits of its review.
    """
    mine = cases.c.set_id == set_id
    rows = {r.part_id: r for r in connection.execute(sa.select(cases).where(mine))}
    made = {c.part_id: c for c in found}
    said = decisions_of(edits)
    _note_own(connection, set_id, rows, edits, said)
    for part, case in made.items():
        decided, row = said.get(part), rows.get(part)
        if row is None:
            connection.execute(cases.insert().values(set_id=set_id, **asdict(case), **_decided(decided)))
        elif decided is None or row.decision == "open":
            values = {**asdict(case), **_decided(decided), "raised": True, "noted_at": now()}
            connection.execute(cases.update().where(cases.c.id == row.id).values(**values))
        else:
            values = {"raised": True, **({} if _same(row, decided) else _decided(decided))}
            connection.execute(cases.update().where(cases.c.id == row.id).values(**values))
    for part, row in rows.items():
        if part in made or row.by == "coach":
            continue
        decided = said.get(part)
        if decided is None:
            connection.execute(sa.delete(cases).where(cases.c.id == row.id))
        else:
            values = {"raised": False, **({} if _same(row, decided) else _decided(decided))}
            connection.execute(cases.update().where(cases.c.id == row.id).values(**values))


def _note_own(
    connection: Connection, set_id: str, rows: dict[str, Any], edits: Sequence[Edit], said: dict[str, Decision]
) -> None:
    """Keep what the coach saw amiss himself; what he took back or dropped goes."""
    own = {
        own_id(e): e
        for e in effective(tuple(edits))
        if e.kind == "add" and e.section == "change" and said.get(own_id(e), KEPT).decision != "dropped"
    }
    for part, edit in own.items():
        values = {
            "finding": (edit.about or OWN_WORDS)[:64], "title": edit.text[:MOST_TITLE], "by": "coach",
            "rep": next(iter(edit.reps), None), "at_s": next(iter(edit.at_s), None), "confidence": None,
        }  # fmt: skip
        if part in rows:
            connection.execute(cases.update().where(cases.c.id == rows[part].id).values(**values))
        else:
            connection.execute(
                cases.insert().values(set_id=set_id, part_id=part, decision="added", decided_at=now(), **values)
            )
    gone = [r.id for part, r in rows.items() if part.startswith(OWN) and part not in own]
    if gone:
        connection.execute(sa.delete(cases).where(cases.c.id.in_(gone)))


KEPT = Decision(decision="kept")


def _decided(decided: Decision | None) -> dict[str, Any]:
    if decided is None:
        return {"decision": "open", "reason": "", "until": None, "up_to_kg": None, "decided_at": None}
    return {**asdict(decided), "decided_at": now()}


def _same(row: Any, decided: Decision) -> bool:
    return bool(
        (row.decision, row.reason, row.until, row.up_to_kg)
        == (decided.decision, decided.reason, decided.until, decided.up_to_kg)
    )

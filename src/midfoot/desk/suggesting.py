"""The threshold that the coach's own decisions suggest, with its cases; written into his file, and undone.

A draft says a finding from `LIKELY_SHARE` of its threshold on. So the size that best parts what he kept from what
he dropped is where a draft should begin to say it, and the threshold lies that much above.
"""

from __future__ import annotations

import math
import statistics
from datetime import datetime
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk.agreement import Proposal, between, propose
from midfoot.desk.archive import AGREED, JUDGED
from midfoot.desk.own_floors import limits_in_force, own_floor, set_floor
from midfoot.findings import FINDINGS, Limits, ThresholdsError, defaults, definition
from midfoot.findings.look import CLEAR_SDS, LIKELY_SHARE
from midfoot.findings.thresholds import with_own
from midfoot.store.rows import audit
from midfoot.store.tables import audit as audit_table
from midfoot.store.tables import cases, lifters, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

NOT_OF_SIZE = ("said already", "the camera is wrong here")
"""Reasons for which something is dropped however large it is."""
TAKEN, UNDONE = "threshold_taken", "threshold_undone"


class SuggestionError(ValueError):
    """A threshold that cannot be taken or undone any more: the text says why and what would do."""


@frozen(kw_only=True)
class Evidence:
    """One case by its size on the scale of the threshold (in an oblique view the size is shared by its factor)."""

    set_id: str
    lifter: str
    received_at: datetime
    rep: int | None
    at_s: float | None
    size: float
    decision: str
    reason: str
    kept: bool
    wrong: bool = False


@frozen(kw_only=True)
class Suggestion:
    """What the cases of one finding say of one of its thresholds.

    Attributes
    ----------
    finding, threshold, unit : str
    floor : float
        In force now.
    default : float
        As midfoot has it.
    own : bool
        Whether the one in force is the coach's.
    proposal : Proposal
        In sizes from which on a draft says it.
    new : float or None
        The threshold suggested; None where none is.
    least : float
        The smallest change that the clips of half of the cases can tell (1.96 sd).
    evidence : tuple of Evidence
        Every case that was judged, by size.
    left_out : int
        Dropped for a reason that has nothing to do with size.
    shared : tuple of (finding, title)
        Other findings that the threshold counts for.
    """

    finding: str
    threshold: str
    unit: str
    floor: float
    default: float
    own: bool
    proposal: Proposal
    new: float | None
    least: float
    evidence: tuple[Evidence, ...]
    left_out: int = 0
    shared: tuple[tuple[str, str], ...] = ()

    @property
    def said_from(self) -> float:
        """The size from which on a draft says it now."""
        return self.floor * LIKELY_SHARE

    @property
    def would_say_from(self) -> float | None:
        """And with the threshold suggested."""
        return None if self.new is None else self.new * LIKELY_SHARE


@frozen(kw_only=True)
class Taken:
    """A threshold that was taken from here: id of the line in the audit, from what to what, when."""

    id: str
    threshold: str
    before: float | None
    floor: float
    at: datetime
    in_force: bool


def suggestions(connection: Connection, workspace: Workspace, finding: str) -> tuple[Suggestion, ...]:
    """Give what the coach's cases say of each threshold of a finding; of a line that a rulebook draws, nothing."""
    limits, _ = limits_in_force(workspace.library)
    rows = connection.execute(
        sa.select(
            cases.c.set_id, cases.c.threshold, cases.c.size, cases.c.sd, cases.c.times_floor, cases.c.decision,
            cases.c.reason, cases.c.rep, cases.c.at_s, lifters.c.name.label("lifter"), sets.c.received_at,
        )
        .join(sets, sets.c.id == cases.c.set_id)
        .outerjoin(lifters, lifters.c.id == sets.c.lifter_id)
        .where(cases.c.finding == finding, cases.c.size.is_not(None), cases.c.by == "measured",
               cases.c.decision.in_(JUDGED))
    ).all()  # fmt: skip
    by_threshold: dict[str, list[Any]] = {name: [] for name in _thresholds(finding)}
    for row in rows:
        if row.threshold in by_threshold and row.size > 0:
            by_threshold[row.threshold].append(row)
    return tuple(_suggestion(finding, name, mine, limits) for name, mine in by_threshold.items())


def _thresholds(finding: str) -> tuple[str, ...]:
    """Give the thresholds of a finding, but for those that are a rulebook's line."""
    try:
        signs = definition(finding).signs
    except KeyError:
        return ()
    return tuple(dict.fromkeys(s.limit for s in signs if s.close is None))


def _suggestion(finding: str, threshold: str, rows: list[Any], limits: Limits) -> Suggestion:
    limit = limits[threshold]
    of_size = [r for r in rows if r.decision in AGREED or r.reason not in NOT_OF_SIZE]
    sized = [(r.size / r.times_floor, r) for r in of_size]
    kept = [size for size, r in sized if r.decision in AGREED]
    dropped = [size for size, r in sized if r.decision == "dropped"]
    least = (
        statistics.median(CLEAR_SDS * r.sd / r.times_floor for _, r in sized if r.sd is not None) if sized else 0.0
    )
    proposal = propose(kept, dropped, present=limit.floor * LIKELY_SHARE, least=least)
    new = _floor(proposal, limit.floor)
    parts = (new if new is not None else limit.floor) * LIKELY_SHARE
    evidence = (
        Evidence(
            set_id=r.set_id, lifter=r.lifter or "", received_at=r.received_at, rep=r.rep, at_s=r.at_s, size=size,
            decision=r.decision, reason=r.reason, kept=r.decision in AGREED,
            wrong=(size < parts) == (r.decision in AGREED),
        )
        for size, r in sized
    )  # fmt: skip
    return Suggestion(
        finding=finding, threshold=threshold, unit=limit.unit, floor=limit.floor,
        default=defaults()[threshold].floor, own=limit.own, proposal=proposal, new=_allowed(threshold, new),
        least=least, evidence=tuple(sorted(evidence, key=lambda e: (e.size, e.received_at, e.set_id))),
        left_out=len(rows) - len(of_size), shared=_shared(finding, threshold),
    )  # fmt: skip


def _floor(proposal: Proposal, present: float) -> float | None:
    """Turn the size from which on a draft should say it into a threshold of two digits or so."""
    if proposal.size is None:
        return None
    if proposal.why == "cut" and proposal.cut is not None:
        low, high = proposal.cut.low / LIKELY_SHARE, proposal.cut.high / LIKELY_SHARE
        return between(low, high, proposal.size / LIKELY_SHARE)
    step = 10.0 ** (math.floor(math.log10(proposal.size / LIKELY_SHARE)) - 1)
    return float(f"{math.ceil(proposal.size / LIKELY_SHARE / step) * step:.6g}")


def _allowed(threshold: str, floor: float | None) -> float | None:
    """Leave out what the coach's file may not say."""
    if floor is None:
        return None
    try:
        with_own({threshold: {"floor": floor}}, "")
    except ThresholdsError:
        return None
    return floor


def _shared(finding: str, threshold: str) -> tuple[tuple[str, str], ...]:
    return tuple(
        (f.id, f.title) for f in FINDINGS if f.id != finding and any(s.limit == threshold for s in f.signs)
    )


def take(workspace: Workspace, finding: str, threshold: str, floor: float) -> str:
    """Write the threshold that is suggested now into the coach's file; gives the id by which it is undone.

    Raises
    ------
    SuggestionError
        When another one is suggested by now, or none.
    ThresholdsError
        When the coach's file cannot take it.
    """
    with workspace.write() as connection:
        found = next((s for s in suggestions(connection, workspace, finding) if s.threshold == threshold), None)
        if found is None or found.new is None or not math.isclose(found.new, floor, rel_tol=1e-9):
            raise SuggestionError(
                "That threshold is not suggested any more; reload the page and look at the cases."
            )
        before = own_floor(workspace.library, threshold)
        set_floor(workspace.library, threshold, floor)
        told = {
            "finding": finding, "floor": floor, "before": before, "kept": found.proposal.kept,
            "dropped": found.proposal.dropped, "wrong_before": found.proposal.wrong_now,
            "wrong": sum(e.wrong for e in found.evidence),
        }  # fmt: skip
        return audit(connection, TAKEN, "threshold", threshold, told)


def undo(workspace: Workspace, line: str) -> str:
    """Take a threshold back that was taken from here; gives which.

    Raises
    ------
    SuggestionError
        When there is no such line, or the file says something else by now.
    ThresholdsError
        When the coach's file cannot take it.
    """
    with workspace.write() as connection:
        row = connection.execute(
            sa.select(audit_table).where(audit_table.c.id == line, audit_table.c.what == TAKEN)
        ).first()
        if row is None:
            raise SuggestionError("There is nothing to undo; reload the page.")
        now = own_floor(workspace.library, row.subject_id)
        if now is None or not math.isclose(now, row.detail["floor"], rel_tol=1e-9):
            raise SuggestionError("Your file says something else by now; change it under Settings.")
        set_floor(workspace.library, row.subject_id, row.detail["before"])
        told = {"floor": row.detail["before"], "before": now, "undoes": line}
        audit(connection, UNDONE, "threshold", row.subject_id, told)
        return str(row.subject_id)


def taken(connection: Connection, workspace: Workspace, finding: str) -> tuple[Taken, ...]:
    """Give the thresholds of a finding that were taken from here, the latest first; the last one may be undone."""
    names = _thresholds(finding)
    rows = connection.execute(
        sa.select(audit_table)
        .where(audit_table.c.what == TAKEN, audit_table.c.subject_kind == "threshold",
               audit_table.c.subject_id.in_(names))
        .order_by(audit_table.c.at.desc())
    ).all()  # fmt: skip
    out: list[Taken] = []
    for r in rows:
        newest = not any(t.threshold == r.subject_id for t in out)
        floor = own_floor(workspace.library, r.subject_id) if newest else None
        out.append(
            Taken(id=r.id, threshold=r.subject_id, before=r.detail["before"], floor=r.detail["floor"], at=r.at,
                  in_force=floor is not None and math.isclose(floor, r.detail["floor"], rel_tol=1e-9))
        )  # fmt: skip
    return tuple(out)

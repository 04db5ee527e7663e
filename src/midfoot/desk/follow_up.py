"""A lifter's open changes: opened when a review goes out, due two weeks later, held against each later set."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import evolve, frozen
from sqlalchemy.engine import Connection

from midfoot import history
from midfoot.desk.review_cards import foretold_words
from midfoot.desk.review_sources import NoReviewError, Sources, sources_of
from midfoot.history.compare import CLEAR_SDS
from midfoot.publish.moments import written
from midfoot.publish.review_page import with_unit
from midfoot.records.findings import Prediction, Size
from midfoot.records.history import Followed
from midfoot.records.measures import Measurement
from midfoot.records.review import Since
from midfoot.store.rows import edits_of
from midfoot.store.tables import changes, follow_ups, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

WITHIN = "what came of it lies within what such films can tell"
VERDICT_WORDS = {"held": "held", "not_held": "not held", "cannot_tell": "cannot tell"}


@frozen(kw_only=True)
class Verdict:
    """What became of one change, seen in one later set.

    Attributes
    ----------
    change_id, set_id : str
        The change, and the set whose review opened it.
    text : str
        What was to be tried.
    title : str
        What was to become less; "" where no measured finding stands behind it.
    about : str
        Id of the finding or observation.
    foretold : str
        What it should do; "" for what only an eye can tell.
    verdict : str
        `held`, `not_held` or `cannot_tell`.
    why : str
        What was found, or why it cannot be told.
    by : str
        `measured`, or `coach` where he said so himself.
    alike : bool
        Whether the two sets are alike enough (lift, view, load, effort) for the change to be judged.
    figures : dict or None
        How much less there is and how much was foretold, each with its sd, and the unit.
    due_on, opened_on : date or None
    """

    change_id: str
    set_id: str
    text: str
    about: str
    title: str = ""
    foretold: str = ""
    verdict: str = "cannot_tell"
    why: str = ""
    by: str = "measured"
    alike: bool = False
    figures: dict[str, Any] | None = None
    due_on: date | None = None
    opened_on: date | None = None

    @property
    def words(self) -> str:
        """The verdict in words."""
        return VERDICT_WORDS[self.verdict]


def verdicts_of(workspace: Workspace, sources: Sources) -> tuple[Verdict, ...]:
    """Hold the lifter's open changes of this lift against a set; those of a later set are not looked at."""
    if not sources.lifter_id:
        return ()
    with workspace.read() as connection:
        rows = _open_before(connection, sources)
        said = {
            r.change_id: r
            for r in connection.execute(
                sa.select(follow_ups).where(
                    follow_ups.c.set_id == sources.set_id, follow_ups.c.verdict.is_not(None)
                )
            )
        }
        due = {
            r.change_id: r.due_on
            for r in connection.execute(
                sa.select(follow_ups.c.change_id, follow_ups.c.due_on).where(follow_ups.c.due_on.is_not(None))
            )
        }
        marked = {e.about for e in edits_of(connection, sources.set_id) if e.kind == "add" and e.about}
    out = []
    for row in rows:
        about = (row.prediction or {}).get("about") or row.part_id.partition(":")[2]
        found = Verdict(
            change_id=row.id,
            set_id=row.set_id,
            text=row.text,
            about=about,
            foretold=foretold_of(row),
            due_on=due.get(row.id),
            opened_on=row.opened_at.date(),
        )
        own = said.get(row.id)
        if own is not None and (own.detail or {}).get("by") == "coach":
            said_so = evolve(found, alike=True, figures=own.detail.get("figures"))
            out.append(_with(said_so, own.verdict, own.detail.get("why", ""), "coach"))
        elif _foretells(row):
            out.append(_measured(workspace, row, found, sources))
        else:
            out.append(_seen(evolve(found, alike=_alike(workspace, row, sources)), about, marked))
    return tuple(out)


def _with(verdict: Verdict, said: str, why: str, by: str = "measured") -> Verdict:
    return evolve(verdict, verdict=said, why=why, by=by)


def _open_before(connection: Connection, sources: Sources) -> list[Any]:
    return list(
        connection.execute(
            sa.select(changes)
            .join(sets, sets.c.id == changes.c.set_id)
            .where(
                changes.c.lifter_id == sources.lifter_id,
                changes.c.set_id != sources.set_id,
                sets.c.lift == sources.lift,
                sets.c.received_at < sources.received_at,
                sa.or_(
                    changes.c.state == "open",
                    sa.exists().where(
                        follow_ups.c.change_id == changes.c.id, follow_ups.c.set_id == sources.set_id
                    ),
                ),
            )
            .order_by(changes.c.opened_at, changes.c.part_id)
        )
    )


def foretold_of(row: Any) -> str:
    """Say what a change (a row of `changes`) should do; "" for what only an eye can tell."""
    return foretold_words(_prediction(row)) if _foretells(row) else ""


def _foretells(row: Any) -> bool:
    return bool(row.prediction and row.prediction.get("measure"))


def _prediction(row: Any) -> Prediction:
    kept = row.prediction
    return Prediction(kept["measure"], kept["direction"], kept["size"], kept["sd"], kept["unit"])


def _measured(workspace: Workspace, row: Any, found: Verdict, sources: Sources) -> Verdict:
    """Hold a prediction against this set's numbers."""
    try:
        before = sources_of(workspace, row.set_id).measurement
    except (NoReviewError, ValueError) as error:
        return _with(found, "cannot_tell", f"the earlier set cannot be read ({error})")
    title = next((f.title for f in before.found.findings if f.id == found.about), "")
    found = evolve(found, title=title)
    told = history.Foretold(
        finding=found.about,
        title=row.text,
        change=row.text,
        prediction=_prediction(row),
        against_rep=_against(before, found.about, row.prediction.get("against_rep")),
    )
    followed = history.follow(before, sources.measurement, (told,))[0]
    found = evolve(found, alike=followed.found is not None, figures=figures_of(followed))
    return _with(found, followed.verdict, why_words(followed))


def _alike(workspace: Workspace, row: Any, sources: Sources) -> bool:
    try:
        return not history.why_not_alike(sources_of(workspace, row.set_id).measurement, sources.measurement)
    except (NoReviewError, ValueError):
        return False


def figures_of(followed: Followed) -> dict[str, Any] | None:
    """Give what was found and foretold as plain JSON, None where nothing can be told."""
    if followed.found is None:
        return None
    return {
        "measure": followed.measure, "unit": followed.unit,
        "found": round(followed.found.value, 3), "found_sd": round(followed.found.sd, 3),
        "foretold": round(followed.expected.value, 3), "foretold_sd": round(followed.expected.sd, 3),
    }  # fmt: skip


def _against(before: Measurement, about: str, kept: int | None) -> int | None:
    if kept is not None:
        return kept
    return next((f.evidence[0].reference_rep for f in before.found.findings if f.id == about and f.evidence), None)


def why_words(followed: Followed) -> str:
    """Say what was found beside what was foretold, or why it cannot be told."""
    if followed.found is None:
        return followed.reason
    value, sd = written(followed.found.value, followed.found.sd)
    expected, spread = written(followed.expected.value, followed.expected.sd)
    said = (
        f"{with_unit(value, followed.unit)} less of it (sd {sd}), where {with_unit(expected, followed.unit)} "
        f"(sd {spread}) was foretold"
    )
    return f"{said}; {followed.reason}" if followed.reason else said


def _seen(found: Verdict, about: str, marked: set[str]) -> Verdict:
    """What no camera measures: marked again it did not hold; otherwise only the coach can say."""
    if about in marked:
        return _with(found, "not_held", "you marked the same thing in this set", "coach")
    return _with(found, "cannot_tell", "no camera measures it: look for it again and say what you see")


def since_of(verdicts: tuple[Verdict, ...]) -> tuple[Since, ...]:
    """Give what the next review says of earlier changes; what only an eye can tell is left to the coach's word."""
    return tuple(_since(v) for v in verdicts if v.verdict != "cannot_tell" or v.foretold)


def _since(verdict: Verdict) -> Since:
    said = Since(about=verdict.about, title=verdict.title, tried=verdict.text, verdict=verdict.verdict)
    if verdict.figures is None:
        return evolve(said, reason=verdict.why if verdict.foretold else "")
    if verdict.verdict == "cannot_tell":
        return evolve(said, reason=WITHIN)
    if verdict.by == "coach":  # figures that he does not go by are not held up to the lifter
        return said
    kept = verdict.figures
    sizes = (
        Size(kept[n], kept["unit"], kept[f"{n}_sd"], CLEAR_SDS * kept[f"{n}_sd"]) for n in ("found", "foretold")
    )
    found, foretold = sizes
    return evolve(said, found=found, foretold=foretold)

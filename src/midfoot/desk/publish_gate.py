"""What stands in the way of a set's page going out, each thing by its name and with what would help."""

from __future__ import annotations

from typing import TYPE_CHECKING

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk import policy
from midfoot.desk.consent import refused, standing
from midfoot.desk.review_cards import shortened
from midfoot.desk.review_sources import NoReviewError, context_of
from midfoot.desk.reviewing import reviewed, unseen_in
from midfoot.records.context import Context
from midfoot.records.review import Part
from midfoot.reviewing import Reviewed
from midfoot.store import StoreError
from midfoot.store.tables import clips, consents, lifters, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

KINDS = ("lifter", "public")
GRAVE = ("pain", "injury", "body_mass_kg", "age_years")
"""Fields that never stand in captions, also not on the lifter's own page: a video is passed on by itself."""
OUTPUT = {"lifter": "lifter_page", "public": "public_page"}


@frozen
class Blocker:
    """One thing that stands in the way: a stable id, what it is, what would help."""

    id: str
    words: str
    remedy: str


@frozen(kw_only=True)
class Case:
    """What is known of a set when its page is to go out.

    `uses` are the uses that stand, `minor` whether the lifter is under 18 (None: not said), `guardian` whether one
    is named or agreed, `sha256` the clip, `cover_lifter` what the lifter wishes of his own face.
    """

    set_id: str
    lifter_id: str | None
    context: Context
    uses: frozenset[str]
    review_refused: bool
    minor: bool | None
    guardian: bool
    sha256: str
    cover_lifter: bool


def case_of(connection: Connection, set_id: str) -> Case | None:
    """Gather what is known of a set; None when there is no such set."""
    row = connection.execute(sa.select(sets).where(sets.c.id == set_id)).first()
    if row is None:
        return None
    person = (
        connection.execute(sa.select(lifters).where(lifters.c.id == row.lifter_id)).first()
        if row.lifter_id
        else None
    )
    context = context_of(row, person)
    own = sa.select(clips).where(clips.c.set_id == set_id).order_by(clips.c.position, clips.c.added_at)
    found = connection.execute(own).all()
    clip = next((c for c in found if c.id == row.main_clip_id), found[0] if found else None)
    by_guardian = connection.execute(
        sa.select(consents.c.id).where(
            sa.or_(consents.c.set_id == set_id, consents.c.lifter_id == (row.lifter_id or "")),
            consents.c.given_by == "guardian", consents.c.revoked_at.is_(None),
        )
    ).first()  # fmt: skip
    minor = True if (person is not None and person.minor) or context.minor else context.minor
    if minor is None and person is not None and person.minor is not None:
        minor = bool(person.minor)
    return Case(
        set_id=set_id, lifter_id=row.lifter_id, context=context,
        uses=frozenset(standing(connection, set_id, row.lifter_id, context)),
        review_refused=refused(connection, set_id, row.lifter_id, "review"), minor=minor,
        guardian=bool(person is not None and (person.guardian or "").strip()) or by_guardian is not None,
        sha256=clip.sha256 if clip is not None else "",
        cover_lifter=bool(person is not None and person.blur_lifter),
    )  # fmt: skip


def blockers(workspace: Workspace, set_id: str, kind: str) -> tuple[Blocker, ...]:
    """Name everything that stands in the way of a set's page; empty when it may go out.

    Parameters
    ----------
    kind : `lifter` or `public`.
    """
    with workspace.read() as connection:
        case = case_of(connection, set_id)
    if case is None:
        return (Blocker("no_set", "There is no such set", "Go back to the inbox."),)
    found = list(of_consent(case, kind))
    if not case.sha256 or not workspace.blobs.has(case.sha256):
        found.append(
            Blocker(
                "no_clip", "The clip itself is no longer here", "Put it into the inbox again: frames are needed."
            )
        )
    try:
        done = reviewed(workspace, set_id)
    except (NoReviewError, StoreError) as error:
        return (Blocker("no_review", "There is no review yet", str(error)), *found)
    for name in unseen_in(done.review):
        found.append(Blocker("unseen", f"Not looked at yet: {name}", "Keep it, reword it or drop it."))
    return (*found, *of_words(done, case, kind))


def of_consent(case: Case, kind: str) -> tuple[Blocker, ...]:
    """Name what of age and consent stands in the way."""
    found = []
    if kind == "public":
        if case.minor:
            return (
                Blocker(
                    "minor", "The lifter is under 18", "Nothing of a minor is ever public, whatever was agreed."
                ),
            )
        if case.minor is None:
            found.append(
                Blocker("age_unknown", "Nobody said whether the lifter is 18 or older",
                        "Ask, and say it under what was said of the set or on the lifter's page.")
            )  # fmt: skip
        if "public_page" not in case.uses:
            found.append(
                Blocker("no_consent", "The lifter has not agreed to a public page",
                        "Ask, and note the consent here in the words that were used.")
            )  # fmt: skip
        return tuple(found)
    if case.review_refused:
        found.append(
            Blocker("taken_back", "The lifter has taken back that this set is reviewed",
                    "Nothing goes out unless it is agreed to again.")
        )  # fmt: skip
    if case.minor and not case.guardian:
        found.append(
            Blocker("no_guardian", "The lifter is under 18 and no guardian is named",
                    "Name the guardian who agreed on the lifter's page.")
        )  # fmt: skip
    return tuple(found)


def of_words(done: Reviewed, case: Case, kind: str) -> tuple[Blocker, ...]:
    """Name the words of the coach that would give away what may not go to this page."""
    output = OUTPUT[kind]
    shown = policy.review_for(done.review, output, case.uses)
    found = list(policy.leaks(texts_of(shown.parts), case.context, output, case.uses))
    spoken = policy.review_for(done.review, "captions", case.uses)
    lines = {f"captions, part {k + 1}": line.words for k, line in enumerate(done.script.lines)}
    words = {**texts_of(spoken.parts, spoken=True), **lines}
    said = policy.leaks(words, case.context, "captions", case.uses)
    found += [leak for leak in said if kind == "public" or leak.field in GRAVE]
    return tuple(
        Blocker("private_words", f"“{leak.where}” would give away {policy.WORDS[leak.field]} (“{leak.found}”)",
                "Reword it, or drop it.")
        for leak in dict.fromkeys(found)
    )  # fmt: skip


def texts_of(parts: tuple[Part, ...], *, spoken: bool = False) -> dict[str, str]:
    """Give what the parts say by the name that the coach knows; cautions, said to all, are left out."""
    out = {}
    for part in parts:
        if part.section == "caution" or policy.instead(part):
            continue
        words = (
            (part.aloud, part.caption)
            if spoken
            else (part.text, part.why, part.try_text, part.caption, *(m.words for m in part.marks))
        )
        out[part.caption or shortened(part.text)] = ". ".join(w for w in words if w)
    return out

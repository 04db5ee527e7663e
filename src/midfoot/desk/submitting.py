"""Sets that strangers send: what they say is checked, kept with their consents, and bound to their link."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import evolve, frozen

from midfoot.desk import links
from midfoot.desk.consent import WORDINGS
from midfoot.desk.intake import take_clip
from midfoot.desk.intake_rows import write_context
from midfoot.desk.links import Link
from midfoot.desk.pasted.safety import urgent
from midfoot.records.context import Context
from midfoot.store.columns import new_id, now
from midfoot.store.rows import audit
from midfoot.store.tables import clips, consents, lifters, measurements, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

ASKED = ("review", "public_page", "edition", "open_set", "name", "face", "keep_original", "pain", "injury",
         "body_mass", "age")  # fmt: skip
"""Uses that the page asks about, in this order; the first is what sending a set is for."""
PRIVATE = ("pain", "injury", "body_mass", "age")
"""Of these: what may stand on the lifter's own page."""
NOT_FOR_MINORS = ("public_page", "edition", "open_set", "name", "face")
MOST_CLIPS = 6
STOP = (
    "Stop training for now and seek medical help before you lift again. Numbness, weakness, chest pain, fainting, "
    "pain that runs into an arm or leg, and trouble with bladder or bowel need a clinician, today. With chest "
    "pain, or if you fainted, call the emergency number."
)
"""Answered at once to words that speak of such things; nothing is diagnosed."""
SHORT_S, LEAST_FPS, LEAST_PX = 4.0, 23.0, 480
"""Below these a clip shows too little (common practice, no source)."""
VIEWS = ("side", "front", "rear", "foot end", "head end", "oblique")


class SubmitError(ValueError):
    """A set that cannot be taken: the text names the field and says what would do."""


@frozen(kw_only=True)
class Submission:
    """What a page sends of a set beside its clips."""

    context: Context
    uses: tuple[str, ...]
    mine: bool
    minor: bool
    guardian: str = ""
    words: str = ""


def red_flags(words: str) -> str:
    """Give what is answered at once to what somebody writes, "" when nothing calls for it."""
    return STOP if urgent(words) else ""


def submit(workspace: Workspace, link: Link, sent: Submission) -> str:
    """Keep a set that comes by a link, still without its clips; gives its id.

    Raises
    ------
    SubmitError
        When the sender may not send it, or a consent lacks its giver.
    links.LinkError
        When the link has taken as many sets as it may.
    """
    if not sent.mine:
        raise SubmitError(
            "Say that you are the person filmed or have that person's permission; without it nothing is taken."
        )
    if "review" not in sent.uses:
        raise SubmitError("Allow your coach to look at the set; without it there is nothing to send.")
    if sent.minor and not sent.guardian.strip():
        raise SubmitError("For somebody under 18 a parent or guardian sends the set; give their name.")
    unknown = [u for u in sent.uses if u not in ASKED]
    if unknown:
        raise SubmitError(f"There is no use {unknown[0]!r}; reload the page.")
    if sent.minor and (public := [u for u in sent.uses if u in NOT_FOR_MINORS]):
        raise SubmitError(f"Nothing of somebody under 18 becomes public; leave out {WORDINGS[public[0]]!r}.")
    set_id = new_id()
    context = evolve(sent.context, under_18=True if sent.minor else sent.context.under_18)
    with workspace.write() as connection:
        links.bind(connection, link, set_id)
        connection.execute(
            sets.insert().values(
                id=set_id, source="intake", received_at=now(), lift=context.lift, load_kg=context.load_kg,
                lifter_id=link.lifter_id or None, pasted_text=sent.words,
            )
        )  # fmt: skip
        write_context(connection, set_id, context)
        if link.lifter_id and sent.minor:
            connection.execute(lifters.update().where(lifters.c.id == link.lifter_id).values(minor=True))
        for use in sent.uses:
            connection.execute(
                consents.insert().values(
                    set_id=set_id, lifter_id=link.lifter_id or None, use=use, wording=WORDINGS[use],
                    given_at=now(), given_by="guardian" if sent.minor else "lifter",
                )
            )  # fmt: skip
        audit(connection, "set_sent", "set", set_id, {"link": link.id}, who="intake")
    return set_id


def clip_came(workspace: Workspace, link: Link, set_id: str, part: Path, name: str, view: str) -> str:
    """Take an uploaded file in as a clip of a set that came by the link; gives the clip's id.

    Raises
    ------
    SubmitError
        When the set is not this link's, or has as many clips as it may.
    intake.IntakeError, StoreError
        When it is no video, or the disk is full.
    """
    if set_id not in link.sets:
        raise SubmitError("This set did not come by this link; send it again from its page.")
    with workspace.read() as connection:
        if connection.execute(sa.select(sets.c.id).where(sets.c.id == set_id)).first() is None:
            raise SubmitError("This set is not here any more; ask your coach for a new link.")
        there = connection.execute(
            sa.select(sa.func.count()).select_from(clips).where(clips.c.set_id == set_id)
        ).scalar_one()
    if there >= MOST_CLIPS:
        raise SubmitError(f"{MOST_CLIPS} clips are as many as one set may have.")
    got = take_clip(workspace, part, name, source="intake", move=True, set_id=set_id)
    with workspace.write() as connection:
        if view in VIEWS:
            connection.execute(clips.update().where(clips.c.id == got.clip_id).values(view_said=view))
        if not there:
            connection.execute(sets.update().where(sets.c.id == set_id).values(main_clip_id=got.clip_id))
    return got.clip_id


def said_of(workspace: Workspace, link: Link, set_id: str) -> dict[str, Any]:
    """Give what the sender is told of a set: which clips arrived, what can be judged, what to film again.

    Raises
    ------
    SubmitError
        When the set is not this link's.
    """
    if set_id not in link.sets:
        raise SubmitError("This set did not come by this link.")
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(clips, measurements.c.summary)
            .join(
                measurements,
                sa.and_(measurements.c.clip_id == clips.c.id, measurements.c.is_current.is_(True)),
                isouter=True,
            )
            .where(clips.c.set_id == set_id)
            .order_by(clips.c.position)
        ).all()
    return {"clips": [_told(row) for row in rows]}


def _told(row: Any) -> dict[str, Any]:
    probe, summary = row.probe or {}, row.summary or {}
    told: list[str] = []
    if row.error:
        told.append(str(row.error))
    told += _of_clip(probe)
    judged = summary.get("judged") or {}
    first = probe.get("first_look") or {}
    told += first.get("again", ())
    looked = bool(row.proxy_sha256) or bool(row.error)
    return {
        "name": row.received_name, "looked": looked, "measured": bool(summary), "told": told,
        "can": judged.get("can"), "of": judged.get("of"), "without": _without(judged.get("film", ())),
        "view": summary.get("view_words", ""), "bar": summary.get("bar", ""),
        "first": {**first, "without": _without(first["without"])} if first else None,
    }  # fmt: skip


def _without(film: Sequence[dict[str, Any]]) -> list[str]:
    """Say in two sentences at most how to film for what this clip does not show."""
    out = []
    for one in list(film)[:2]:
        how, what = str(one["how"]), [str(w) for w in one["what"]]
        more = f" and {len(what) - 2} more" if len(what) > 2 else ""
        out.append(f"{how[:1].upper()}{how[1:]}, for: {'; '.join(w[:1].lower() + w[1:] for w in what[:2])}{more}.")
    return out


def _of_clip(probe: dict[str, Any]) -> list[str]:
    """Say at once what a first look at a clip shows to film otherwise."""
    told = []
    if 0 < float(probe.get("duration_s") or 0) < SHORT_S:
        told.append("The clip is very short; let it run from before the unrack to after the last rep.")
    gap = float((probe.get("frame_interval_s") or {}).get("median") or 0)
    if gap > 1 / LEAST_FPS:
        told.append(f"It holds {1 / gap:.0f} pictures a second; film with 60, or at least 30.")
    if 0 < min(int(probe.get("width_px") or 0), int(probe.get("height_px") or 0)) < LEAST_PX:
        told.append("The picture is small; send the file that the phone recorded, not one from a messenger.")
    if probe.get("truncated"):
        told.append("The file breaks off; send it again.")
    if probe.get("time_base_doubtful"):
        told.append("It may be slow motion or cut; send the clip as it was recorded.")
    return told

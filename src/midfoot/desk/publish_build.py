"""A set's page built beside its place: covered stills, covered video, page, print, captions.

What is shown comes from `policy` alone: nothing is rendered here that `shown_in` did not give.
"""

from __future__ import annotations

import hashlib
import secrets
import shutil
import threading
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import evolve, frozen
from sqlalchemy.engine import Connection

from midfoot import covered
from midfoot import review as reviews
from midfoot.desk import policy
from midfoot.desk.filming import closed, film_of, heads_of
from midfoot.desk.publish_gate import KINDS, OUTPUT, Blocker, Case, blockers, case_of
from midfoot.desk.reviewing import reviewed
from midfoot.publish import captions, look, review_print, site
from midfoot.publish.blur import Veil
from midfoot.records.heads import Heads
from midfoot.records.measures import Measurement
from midfoot.review_pictures import curves_of
from midfoot.reviewing import Reviewed
from midfoot.store import output_folder, write_whole
from midfoot.store.rows import edits_of, setting
from midfoot.store.tables import publications

if TYPE_CHECKING:
    from midfoot.store import Workspace

PLACES = {"lifter": "l", "public": "p"}
ADDRESS = "public_address"
"""Setting: where the folder `published` can be reached from outside, such as https://example.org/reviews/."""
TOKEN_BYTES = 24
"""192 bits: nobody comes upon a page by trying."""


class PublishError(ValueError):
    """A page that cannot go out: the text names what stands in the way."""


@frozen(kw_only=True)
class Building:
    """A page built and not yet out; `edits` is how many edits its review has.

    `wide` tells whether all but the lifter and the bar is covered in its pictures, `doubts` why heads alone would
    not do.
    """

    set_id: str
    kind: str
    token: str
    folder: Path
    edits: int
    made_from: str
    wide: bool = False
    doubts: str = ""


def build(
    workspace: Workspace,
    set_id: str,
    kind: str,
    *,
    wide: bool | None = None,
    tell: covered.Tell,
    stop: threading.Event | None = None,
) -> Building:
    """Build a set's page beside its place; `place` then puts it out.

    Parameters
    ----------
    wide : bool, optional
        Whether all but the lifter and the bar is covered; by default where covering heads leaves a doubt, and then
        always.

    Raises
    ------
    PublishError
        When something stands in the way: all of it is named.
    body.ModelsError, footage.FootageError, footage.Stopped, StoreError
        When faces cannot be looked for, the clip cannot be read, the work was stopped, or the disk is full.
    """
    if kind not in KINDS:
        raise PublishError(f"There is no page of the kind {kind!r}; take lifter or public.")
    against = blockers(workspace, set_id, kind)
    with workspace.read() as connection:
        case = case_of(connection, set_id)
        edits = len(edits_of(connection, set_id))
        address = address_of(connection)
        live = live_row(connection, set_id, kind)
    if case is None or against:
        raise PublishError(named(against))
    done = reviewed(workspace, set_id)
    film = film_of(workspace, done, case.sha256)
    heads = heads_of(workspace, set_id, film, tell=tell, stop=stop)
    kept = output_folder(workspace.review(set_id))
    token = live.token if live is not None else secrets.token_urlsafe(TOKEN_BYTES)
    folder = kept / f".site-{kind}-{secrets.token_hex(4)}"
    for old in kept.glob(f".site-{kind}-*"):
        shutil.rmtree(old, ignore_errors=True)
    output_folder(folder)
    where = f"{address}{PLACES[kind]}/{token}/" if address else ""
    veil = _write(done, case, kind, film, heads, wide, folder, where, tell, stop)
    return Building(
        set_id=set_id, kind=kind, token=token, folder=folder, edits=edits, made_from=key_of(done, case, kind),
        wide=veil.wide, doubts=veil.why,
    )  # fmt: skip


def _write(
    done: Reviewed,
    case: Case,
    kind: str,
    film: covered.Film,
    heads: Heads,
    wide: bool | None,
    folder: Path,
    address: str,
    tell: covered.Tell,
    stop: threading.Event | None,
) -> Veil:
    """Write every file of a page; gives who is covered in it."""
    face = kind == "lifter" or "face" in case.uses
    more = True if wide else None  # a doubt cannot be waved aside
    veil = covered.veil(done, heads, with_lifter=case.cover_lifter or not face, wide=more)
    outside = evolve(veil, with_lifter=closed(case))
    shown = shown_in(done, OUTPUT[kind], case.uses)
    spoken = shown_in(done, "captions", case.uses)
    measurement, review = shown.measurement, shown.review
    shots = covered.shots_of(shown, film, veil, tell=tell, stop=stop)
    stills, files = site.still_files(shots)
    for picture, name in ((covered.preview_of(shown, film, outside), site.PREVIEW),):
        if picture is not None:
            files[name] = site.preview_jpeg(picture, measurement)
    poster = covered.preview_of(shown, film, veil)
    if poster is not None:
        files[site.POSTER] = look.jpeg(poster, quality=80)
    curves = curves_of(measurement)
    chart = site.chart_svg(curves)
    if chart:
        files[site.CHART] = chart.encode()
    if kind == "lifter":
        printed = shown_in(done, "lifter_print", case.uses)
        files[site.PRINT] = review_print.review_pdf(printed.measurement, printed.review, shots, curves=curves)
    covered.write_video(spoken, film, veil, folder / site.VIDEO, tell=tell, stop=stop)
    files[site.CAPTIONS] = captions.vtt(captions.cues_of(spoken.script)).encode()
    files[site.STYLE], files[site.ICON] = site.style_css().encode(), site.icon_svg().encode()
    files[site.PAGE] = site.page_html(
        kind, measurement, review, stills, video=True, captions=True, chart=bool(chart), address=address
    ).encode()
    for name, content in files.items():
        with write_whole(folder / name) as beside:
            beside.write_bytes(content)
    return veil


def shown_in(done: Reviewed, output: str, uses: Iterable[str]) -> Reviewed:
    """Give a review with all that it was made from as it may go to an output: this is what is rendered."""
    ticked = frozenset(uses)
    review = policy.review_for(done.review, output, ticked)
    script = reviews.script_of(
        policy.review_for(done.review, "script", ticked), reviews.moment_words(done.measurement)
    )
    return Reviewed(
        measurement=bare(done.measurement, output, ticked), review=review, script=script, edits=(), before=()
    )


def bare(measurement: Measurement, output: str, uses: Iterable[str]) -> Measurement:
    """Give the measurement without what was said that may not go there, and without the file's name and hash."""
    data = measurement.data
    info = evolve(data.clip, name="", sha256="", location_data=False)
    asked = evolve(data.asked, context_sha256=None, stature_m=None, rpe=None, rir=None)
    return evolve(
        measurement,
        context=policy.said_in(measurement.context, output, uses),
        data=evolve(data, clip=info, asked=asked),
    )


def key_of(done: Reviewed, case: Case, kind: str) -> str:
    """Give the key of what a page shows, so that it can be told when it is behind the review."""
    shown = shown_in(done, OUTPUT[kind], case.uses)
    plain = (
        repr(shown.review),
        repr(shown.script),
        sorted(case.uses),
        case.cover_lifter,
        case.sha256,
        covered.VERSION,
    )
    return hashlib.sha256(repr(plain).encode()).hexdigest()


def live_row(connection: Connection, set_id: str, kind: str) -> Any:
    """Give the row of a set's page that is out, None without one."""
    return connection.execute(
        sa.select(publications).where(
            publications.c.set_id == set_id, publications.c.kind == kind, publications.c.revoked_at.is_(None)
        )
    ).first()


def address_of(connection: Connection) -> str:
    """Give the address of the folder `published` with a slash at its end; "" when none is set."""
    said = str(setting(connection, ADDRESS, "") or "").strip()
    return said if not said or said.endswith("/") else f"{said}/"


def named(against: Iterable[Blocker]) -> str:
    """Say in a few sentences what stands in the way."""
    names = [f"{b.words}." for b in against] or ["There is no such set."]
    more = f" And {len(names) - 6} more." if len(names) > 6 else ""
    return f"The page cannot go out. {' '.join(names[:6])}{more}"

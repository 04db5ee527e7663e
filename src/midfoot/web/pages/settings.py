"""The coach's settings: units, rules, messages, own files, who may come in, what stays how long."""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from midfoot.rules import RulesError, load, names
from midfoot.store.columns import now
from midfoot.store.retention import ORIGINAL_DAYS, UNUSED_DAYS, collect, due
from midfoot.store.rows import audit, set_setting, setting
from midfoot.store.tables import sessions
from midfoot.web import own_files
from midfoot.web.deps import Desk, Form, Page, text_of
from midfoot.web.problems import Problem, not_found
from midfoot.web.sessions import PASSWORD_LENGTH, end_other_sessions, has_password, set_password
from midfoot.web.words import size

router = APIRouter(include_in_schema=False)
TEXTS = {"coach_name": 80, "hello": 40, "public_address": 300, "intake_address": 300, "intake_instance": 600}
"""Settings that are a line of text, and how long it may be."""
ADDRESSES = ("public_address", "intake_address", "intake_instance")
TIMES = {"keep_unused_days": (1, 3650), "keep_originals_months": (1, 240)}
"""How long things stay, and from what to what that may be set."""


@router.get("/settings")
def settings(request: Request, desk: Desk, page: Page, done: str = "") -> Response:
    """The page; `done` says what was just kept."""
    with desk.read() as connection:
        values = {key: str(setting(connection, key, "") or "") for key in TEXTS}
        values["rules"] = str(setting(connection, "rules", "") or "")
        days = setting(connection, "keep_unused_days", None) or UNUSED_DAYS
        months = setting(connection, "keep_originals_months", None) or ORIGINAL_DAYS // 30
        watch = bool(setting(connection, "watch", True))
        waiting = due(connection, now())
        paired = connection.execute(
            sa.select(sessions.c.who, sessions.c.created_at)
            .where(sessions.c.revoked_at.is_(None), sessions.c.expires_at > now())
            .order_by(sessions.c.created_at.desc())
        ).all()
    return page.render(
        request, "settings.html.j2",
        {
            "values": values, "watch": watch, "inbox": str(desk.inbox), "workspace": str(desk.path),
            "rules": [(name, load(name).cited) for name in names()], "files": own_files.FILES,
            "own": {f.id for f in own_files.FILES if (desk.library / f.path).is_file()},
            "password": has_password(desk), "password_length": PASSWORD_LENGTH, "paired": paired,
            "unused_days": days, "original_months": months, "due": waiting, "done": done[:80],
        },
    )  # fmt: skip


@router.post("/settings")
def keep(desk: Desk, form: Form) -> Response:
    """Keep the lines of text, the rule set and the watching."""
    rules = text_of(form, "rules", limit=60)
    if rules:
        try:
            load(rules)
        except RulesError as error:
            raise Problem(422, str(error), "Choose one of the list.") from error
    for key in ADDRESSES:
        address = text_of(form, key, limit=TEXTS[key])
        if address and not address.startswith(("http://", "https://")):
            raise Problem(422, f"{address} is no address.", "Write it whole, with https:// at its head.")
    times = {key: _whole(text_of(form, key, limit=6), key) for key in TIMES if text_of(form, key)}
    with desk.write() as connection:
        for key, value in times.items():
            set_setting(connection, key, value)
        for key, limit in TEXTS.items():
            set_setting(connection, key, text_of(form, key, limit=limit))
        set_setting(connection, "rules", rules)
        set_setting(connection, "watch", text_of(form, "watch") == "yes")
        audit(connection, "settings_changed")
    return _back("Kept.")


@router.post("/settings/unit")
def unit(desk: Desk, form: Form) -> Response:
    """Show loads in kg or lb from now on, and go back to where that was asked."""
    wanted = text_of(form, "unit")
    if wanted not in ("kg", "lb"):
        raise Problem(422, "The unit is kg or lb.", "Choose one of them.")
    with desk.write() as connection:
        set_setting(connection, "unit", wanted)
    back = text_of(form, "back")
    return RedirectResponse(back if back.startswith("/") and not back.startswith("//") else "/", status_code=303)


@router.post("/settings/password")
def password(request: Request, desk: Desk, form: Form) -> Response:
    """Set the password of the coach's network, or take it away."""
    wanted = "" if text_of(form, "remove") else text_of(form, "password", limit=200)
    if not wanted and not text_of(form, "remove"):
        raise Problem(422, "No password was given.", f"Write one of {PASSWORD_LENGTH} characters or more.")
    try:
        set_password(desk, wanted)
    except ValueError as error:
        raise Problem(422, str(error), "Write a longer one.") from error
    end_other_sessions(desk, request.scope["midfoot.session"])
    with desk.write() as connection:
        audit(connection, "password_set" if wanted else "password_removed")
    return _back("The password is set; other browsers must come in anew." if wanted else "The password is gone.")


@router.post("/settings/sessions")
def end_others(request: Request, desk: Desk) -> Response:
    """Let nobody stay in but this browser."""
    ended = end_other_sessions(desk, request.scope["midfoot.session"])
    return _back(f"{ended} other browsers are out." if ended != 1 else "One other browser is out.")


@router.post("/settings/clean")
def clean(desk: Desk) -> Response:
    """Delete what nothing points at any more."""
    freed = collect(desk)
    return _back(f"{size(freed.bytes)} freed." if freed.contents else "There was nothing to clean.")


@router.get("/settings/files/{file_id}")
def own_file(request: Request, file_id: str, desk: Desk, page: Page) -> Response:
    """One own file, beside the text that comes with midfoot."""
    file = _file(file_id)
    return _file_page(request, page, desk.library, file, own_files.own(desk.library, file), "", "")


@router.post("/settings/files/{file_id}")
def keep_file(request: Request, file_id: str, desk: Desk, page: Page, form: Form) -> Response:
    """Keep an own file when it holds; else say where not, and lose nothing of what was typed."""
    file, text = _file(file_id), text_of(form, "text", limit=own_files.LARGEST)
    try:
        own_files.keep(desk.library, file, text)
    except ValueError as error:
        return _file_page(request, page, desk.library, file, text, str(error), "")
    with desk.write() as connection:
        audit(connection, "own_file_kept", "file", file.id)
    said = "Kept; the next draft uses it." if text else "Your own file is gone; the text of midfoot counts again."
    return _file_page(request, page, desk.library, file, own_files.own(desk.library, file), "", said)


def _whole(text: str, key: str) -> int:
    least, most = TIMES[key]
    if not text.isdecimal() or not least <= int(text) <= most:
        raise Problem(422, f"{text} is not taken here.", f"Write a whole number from {least} to {most}.")
    return int(text)


def _file(file_id: str) -> own_files.OwnFile:
    file = own_files.file_of(file_id)
    if file is None:
        raise not_found("file")
    return file


def _file_page(
    request: Request, page: Page, library: Path, file: own_files.OwnFile, text: str, wrong: str, done: str
) -> Response:
    return page.render(
        request, "own_file.html.j2",
        {"file": file, "text": text, "bundled": own_files.bundled(file), "wrong": wrong, "done": done,
         "path": str(library / file.path)}, status=422 if wrong else 200,
    )  # fmt: skip


def _back(done: str) -> Response:
    from urllib.parse import quote

    return RedirectResponse(f"/settings?done={quote(done)}", status_code=303)

"""`midfoot inbox`: clips and words into a workspace's inbox from the command line, and what is in it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import App, Parameter

if TYPE_CHECKING:
    from midfoot.store import Workspace

Lift = Literal["squat", "bench", "deadlift"]
inbox = App(
    name="inbox",
    help="Clips and words into the inbox, and what is in it.\n\n"
    "Example: midfoot inbox add anna.mov --text message.txt",
    help_format="plaintext",
)


@inbox.command
def add(
    paths: Annotated[tuple[Path, ...], Parameter(name="PATH")],
    /,
    *,
    text: Path | None = None,
    lifter: str | None = None,
    lift: Lift | None = None,
    one_set: Annotated[bool, Parameter(negative=())] = False,
    workspace: Path | None = None,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Take clips into the inbox; they are looked at and measured by the workers of serve or worker.

    Example: midfoot inbox add anna1.mov anna2.mov --text message.txt --lifter "Anna Berg"

    Parameters
    ----------
    paths
        Clips, or folders with clips in them.
    text
        File with what the lifter wrote; lift, load, pain and so on are read from it and wait for your word.
    lifter
        Name of the lifter of all of them; made when there is none of that name.
    lift
        Which lift it is, of all of them.
    one_set
        They are views of one set.
    workspace
        The folder of the workspace; the usual one without it.
    json
        Print as JSON.
    """
    import json as json_module
    import sys

    from midfoot.cli.failures import UseError
    from midfoot.desk.intake import IntakeError, give_text, take_clip
    from midfoot.desk.who import WhoError
    from midfoot.store import Workspace

    files = _files(paths)
    words = _text(text) if text is not None else ""
    rows: list[dict[str, Any]] = []
    new: list[str] = []
    with Workspace.create(workspace) as opened:
        for file in files:
            try:
                taken = take_clip(
                    opened, file, file.name, source="cli", lifter=lifter, lift=lift,
                    set_id=new[0] if one_set and new else None,
                )  # fmt: skip
            except WhoError as error:
                raise UseError(f"--lifter: {error}") from None
            except IntakeError as error:
                rows.append({"file": str(file), "refused": str(error)})
                continue
            rows.append({"file": str(file), "set": taken.set_id, "clip": taken.clip_id, "already": taken.already})
            if not taken.already and taken.set_id not in new:
                new.append(taken.set_id)
        told = give_text(opened, new, words) if words and new else ""
    if json:
        print(json_module.dumps({"clips": rows, "text": told}, indent=1))
    else:
        for row in rows:
            print(_line(row), file=sys.stderr if "refused" in row else sys.stdout)
        if told:
            print(told)
    return 1 if any("refused" in row for row in rows) else 0


def _files(paths: tuple[Path, ...]) -> list[Path]:
    from midfoot.cli.failures import UseError

    found: list[Path] = []
    for path in paths:
        if path.is_dir():
            within = sorted(p for p in path.rglob("*") if p.is_file() and not p.name.startswith("."))
            if not within:
                raise UseError(f"{path} holds no files; give clips, or a folder with clips in it.")
            found += within
        elif path.is_file():
            found.append(path)
        else:
            raise UseError(f"There is no file {path}; check the path.")
    if not found:
        raise UseError("Name at least one clip, such as midfoot inbox add set.mp4.")
    return found


def _text(path: Path) -> str:
    from midfoot.cli.failures import UseError

    try:
        return path.read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        raise UseError(f"{path} cannot be read as text; give a plain text file with --text.") from None


def _line(row: dict[str, Any]) -> str:
    if "refused" in row:
        return str(row["refused"])
    name = Path(row["file"]).name
    return f"{name}: was here already, set {row['set']}" if row["already"] else f"{name}: set {row['set']}"


@inbox.command
def link(
    *,
    lifter: str | None = None,
    days: int | None = None,
    address: str = "http://127.0.0.1:8421",
    fetch: Annotated[bool, Parameter(negative=())] = False,
    workspace: Path | None = None,
) -> int:
    """Make a link by which a lifter sends sets, or by which a desk fetches them from this instance.

    Example: midfoot inbox link --lifter "Anna Berg" --address https://send.example.org

    Parameters
    ----------
    lifter
        Whose sets come by it; anybody's without it.
    days
        So long it is good for: 14 without it, 400 for a desk that fetches.
    address
        Where strangers reach this workspace.
    fetch
        For the desk that fetches from here, and not for lifters.
    workspace
        The folder of the workspace; the usual one without it.
    """
    from midfoot.cli.failures import UseError
    from midfoot.desk import links
    from midfoot.desk.who import lifter_named
    from midfoot.store import Workspace

    scope = links.FETCH if fetch else links.SEND
    days = days or (links.FETCH_DAYS if fetch else links.DAYS)
    with Workspace.create(workspace) as opened:
        lifter_id = None
        if lifter and not fetch:
            with opened.write() as connection:
                lifter_id = lifter_named(connection, lifter)
        try:
            _, token = links.make(opened, scope, lifter_id=lifter_id, days=days)
        except links.LinkError as error:
            raise UseError(f"--days: {error}") from None
    print(f"{address.rstrip('/')}/{scope}/{token}")
    return 0


@inbox.command(name="fetch")
def fetch_(*, address: str = "", workspace: Path | None = None) -> int:
    """Fetch sets and answers that wait on your public instance; they are deleted there once they are here.

    Example: midfoot inbox fetch --address https://send.example.org/fetch/TOKEN

    Parameters
    ----------
    address
        What midfoot inbox link --fetch printed there; without it the one under Settings.
    workspace
        The folder of the workspace; the usual one without it.
    """
    from midfoot.cli.failures import CannotSay
    from midfoot.cli.show import Show
    from midfoot.desk.fetching import fetch_all
    from midfoot.desk.instance import HandingError
    from midfoot.store import Workspace

    with Workspace.create(workspace) as opened, Show() as show:
        try:
            done = fetch_all(opened, tell=show.progress, address=address)
        except HandingError as error:
            raise CannotSay(str(error)) from None
    step = done.open_sets
    print(f"{done.sets} set{'' if done.sets == 1 else 's'} and {step.answers} answers fetched.")
    if step.up or step.down:
        print(f"Pages of open sets: {step.up} put up, {step.down} taken down.")
    return 0


@inbox.command(name="list")
def list_(
    *,
    all: Annotated[bool, Parameter(negative=())] = False,
    workspace: Path | None = None,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """List the sets of the inbox, the newest first.

    Example: midfoot inbox list

    Parameters
    ----------
    all
        Archived sets too.
    workspace
        The folder of the workspace; the usual one without it.
    json
        Print as JSON.
    """
    import json as json_module

    from midfoot.store import Workspace

    with Workspace.open(workspace) as opened:
        rows = listed(opened, archived=all)
    if json:
        print(json_module.dumps(rows, indent=1))
        return 0
    if not rows:
        print("The inbox is empty; midfoot inbox add CLIP puts one in.")
    for row in rows:
        print(
            f"{row['received'][:16].replace('T', ' ')}  {row['state']:9} {row['lifter'] or 'nobody named':20} "
            f"{row['lift'] or 'lift not said':13} {row['load'] or '-':10} {', '.join(row['files'])}"
            + (f"\n                  {row['error']}" if row["error"] else "")
        )
    return 0


def listed(workspace: Workspace, *, archived: bool) -> list[dict[str, Any]]:
    """Give the sets as plain rows."""
    import sqlalchemy as sa

    from midfoot.store.tables import clips, lifters, sets
    from midfoot.units import load_words

    query = (
        sa.select(sets, lifters.c.name.label("lifter"))
        .select_from(sets.outerjoin(lifters, lifters.c.id == sets.c.lifter_id))
        .order_by(sets.c.received_at.desc(), sets.c.id)
    )
    if not archived:
        query = query.where(sets.c.archived_at.is_(None))
    with workspace.read() as connection:
        rows = connection.execute(query).all()
        files = connection.execute(
            sa.select(clips.c.set_id, clips.c.received_name, clips.c.error).order_by(clips.c.position)
        ).all()
    of: dict[str, list[Any]] = {}
    for file in files:
        of.setdefault(file.set_id, []).append(file)
    return [
        {
            "set": row.id, "received": row.received_at.astimezone().isoformat(timespec="seconds"),
            "state": row.state, "lifter": row.lifter or (row.context or {}).get("lifter") or "", "lift": row.lift,
            "load": load_words(row.load_kg, (row.context or {}).get("load_unit") or "kg") if row.load_kg else "",
            "confirmed": row.context_confirmed, "files": [f.received_name for f in of.get(row.id, [])],
            "error": next((f.error for f in of.get(row.id, []) if f.error), ""),
        }
        for row in rows
    ]  # fmt: skip

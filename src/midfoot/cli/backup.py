"""`midfoot backup` and `midfoot restore`: copies of a workspace, and putting one back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

NOT_FIRST = 8
"""So many lines of what is wrong are shown; the rest is counted."""


def backup(
    to: Path,
    /,
    *,
    workspace: Path | None = None,
    keep: int = 10,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Copy the workspace: consistent while the desk is in use, each clip only once however often you do it.

    Example: midfoot backup /media/stick/midfoot

    Parameters
    ----------
    to
        A folder outside the workspace that holds the copies, best on another disk; or a new file ending in .tar.
    workspace
        The workspace; the usual one without it.
    keep
        So many copies stay in the folder, the newest.
    json
        Print what was done as JSON.
    """
    import json as js

    from attrs import asdict

    from midfoot.cli.failures import UseError
    from midfoot.cli.show import Show
    from midfoot.store import Workspace
    from midfoot.store.backup import back_up

    if keep < 1:
        raise UseError(f"--keep: expected 1 or more copies, got {keep}.")
    with Workspace.open(workspace) as opened, Show() as show:
        done = back_up(opened, to, keep=keep, tell=show.progress)
        show.clear()
        if json:
            print(js.dumps({**asdict(done), "path": str(done.path)}, indent=1))
        else:
            show.say(
                f"{done.path}: {done.contents} contents ({done.new_contents} new), {done.files} files, "
                f"{done.bytes / 1e6:.1f} MB written."
            )
            for line in done.bad[:NOT_FIRST]:
                show.say(f"! Not copied: {line}; midfoot check --deep says more.")
            if len(done.bad) > NOT_FIRST:
                show.say(f"! And {len(done.bad) - NOT_FIRST} more.")
    return 1 if done.bad else 0


def restore(
    source: Path,
    /,
    *,
    workspace: Path | None = None,
    at: str | None = None,
    replace: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Put a copy of the workspace back; every byte is held against its hash before anything takes its place.

    Who was erased after the copy was made is erased again.

    Example: midfoot restore /media/stick/midfoot --workspace ~/midfoot-again

    Parameters
    ----------
    source
        The folder of copies, one copy in it, or the .tar file.
    workspace
        Where to put it: a folder that is not there or empty; the usual place without it.
    at
        Which copy, by the beginning of its name, such as 2031-05-24; the latest without it.
    replace
        Move the workspace that stands there aside first; nothing is deleted.
    """
    from midfoot.cli.show import Show
    from midfoot.desk.keeping import put_back
    from midfoot.store import default_path

    with Show() as show:
        done = put_back(source, workspace or default_path(), at=at, replace=replace, tell=show.progress)
        show.clear()
        show.say(
            f"{done.restored.path}: the copy of {done.restored.made_at[:16].replace('T', ' ')} UTC is back, "
            f"{done.restored.contents} contents and {done.restored.files} files, each held against its hash."
        )
        if done.restored.aside is not None:
            show.say(f"What stood there before lies in {done.restored.aside}.")
        if done.erased_again:
            some = "1 lifter was" if done.erased_again == 1 else f"{done.erased_again} lifters were"
            show.say(f"{some} erased after that copy was made, and now again.")
        for line in done.restored.bad[:NOT_FIRST]:
            show.say(f"! The copy lacks: {line}.")
    return 0

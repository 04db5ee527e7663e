"""`midfoot models`: the pose network's files."""

from __future__ import annotations

from typing import Annotated, Literal

from cyclopts import Parameter


def models(
    what: Literal["list", "fetch", "verify"] = "list",
    /,
    *,
    heavy: Annotated[bool, Parameter(negative=())] = False,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Fetch, verify and list the pose network's files; measuring fetches them by itself the first time.

    Example: midfoot models fetch

    Parameters
    ----------
    what
        list (default), fetch or verify.
    heavy
        With fetch: also get the heavy landmark network, where it can be had.
    json
        Print as JSON.
    """
    import json as json_module
    import sys

    from midfoot import body

    if what == "fetch":
        body.fetch(heavy=heavy, say=lambda words: print(words, file=sys.stderr, flush=True))
    rows = body.listing()
    if json:
        table = [{"name": r.name, "path": str(r.path), "needed": r.needed, "state": r.state} for r in rows]
        print(json_module.dumps(table, indent=1))
    else:
        for row in rows:
            need = "needed" if row.needed else "optional"
            print(f"{row.name:28} {need:9} {row.state:8} {row.path}")
    if what == "verify":
        body.verify()
    return 0

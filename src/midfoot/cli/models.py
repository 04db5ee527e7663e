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

    from midfoot import body

    if what == "fetch":
        body.fetch_models(heavy=heavy)
    rows = body.model_files()
    good = all(row.good for row in rows if row.needed)
    if json:
        print(json_module.dumps([row.as_dict() for row in rows], indent=1))
    else:
        for row in rows:
            print(f"{row.name:32} {row.words:12} {row.path}")
    return 0 if good or what == "list" else 1

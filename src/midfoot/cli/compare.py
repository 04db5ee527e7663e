"""`midfoot compare`: the same measures of two sets, and what really changed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter


def compare(
    first: Path,
    second: Path,
    /,
    *,
    out: Path | None = None,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Hold two measured sets of one lift against each other: what really changed, which predictions held.

    Example: midfoot compare last-week/ today/

    Parameters
    ----------
    first
        What midfoot measure wrote of the earlier set; its review says what was foretold.
    second
        Of the later set.
    out
        Folder for compare.html and compare.json; the second set's own without it.
    json
        Print compare.json instead of the table.
    """
    import json as js

    from rich.console import Console

    from midfoot.cli.compare_show import lines
    from midfoot.comparing import compare_folders, document_of, write_comparison
    from midfoot.store import output_folder

    done = compare_folders(first, second)
    folder = output_folder(out) if out is not None else second
    files = write_comparison(done, folder)
    if json:
        print(js.dumps(document_of(done.comparison), indent=1, ensure_ascii=False))
        return 0
    console = Console(highlight=False)
    for line in lines(done.comparison):
        console.print(line, markup=False, soft_wrap=True)
    console.print(f"{folder}/{', '.join(files)}", markup=False, soft_wrap=True)
    return 0

"""`midfoot mechanics`: what the position costs the joints, from a measured folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter


def mechanics(
    folder: Path,
    /,
    *,
    body_mass: str | None = None,
    stature: str | None = None,
    sex: Literal["m", "f"] | None = None,
    load: str | None = None,
    table: Literal["de_leva", "winter"] = "de_leva",
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Work out moment arms, joint moments, work and power of a measured set, and what-if geometry.

    Example: midfoot mechanics set/ --body-mass 83kg --stature 178cm --sex m

    Parameters
    ----------
    folder
        What midfoot measure wrote.
    body_mass
        What the lifter weighs: 83kg or 183lb. The context may have said it; without it the body's own
        share is left out.
    stature
        How tall the lifter is: 178cm or 70in. May stand in the measurement already.
    sex
        Which half of the segment table: m or f. Without it m is taken, and said.
    load
        What is on the bar, where the measurement does not say: 140kg or 315lb.
    table
        Segment table: de_leva (1996) or winter (Dempster).
    json
        Print mechanics.json instead of the table.
    """
    import json as text

    from rich.console import Console

    from midfoot.cli.mechanics_show import page, table_lines, work_out
    from midfoot.store import write_whole

    found, document = work_out(folder, body_mass, stature, sex, load, table)
    body = text.dumps(found, indent=1, allow_nan=False)
    with write_whole(folder / "mechanics.json") as beside:
        beside.write_text(body + "\n", "utf-8")
    with write_whole(folder / "mechanics.html") as beside:
        beside.write_text(page(found, document, folder), "utf-8")
    out = Console(highlight=False)
    if json:
        print(body)
        return 0
    for line in table_lines(found):
        out.print(line, markup=False, soft_wrap=True)
    out.print(f"{folder}/mechanics.html, mechanics.json", markup=False, soft_wrap=True)
    return 0

"""`midfoot mechanics`: what the position costs the joints, from a measured folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

if TYPE_CHECKING:
    from midfoot.publish import Picture


def mechanics(
    folder: Path,
    /,
    *,
    body_mass: str | None = None,
    stature: str | None = None,
    sex: Literal["m", "f"] | None = None,
    load: str | None = None,
    table: Literal["de_leva", "winter"] = "de_leva",
    clip: Path | None = None,
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
    clip
        The clip that was measured, to draw the moment arms on its frames; found by its name where it lies in
        or beside the folder.
    json
        Print mechanics.json instead of the table.
    """
    import json as text

    from rich.console import Console

    from midfoot.mechanics_set import Told, drawn_arms, work_out
    from midfoot.mechanics_words import reasons, sentences, table_lines, what_if_rows
    from midfoot.publish import mechanics_html
    from midfoot.review_pictures import clip_of
    from midfoot.store import read_measurement, write_whole

    told = Told.read(body_mass, stature, sex, load)
    measurement = read_measurement(folder)
    worked = work_out(measurement, told, table)
    source = clip_of(folder, measurement, clip)
    found = worked.found
    body = text.dumps(found, indent=1, allow_nan=False)
    with write_whole(folder / "mechanics.json") as beside:
        beside.write_text(body + "\n", "utf-8")
    stills = _stills(drawn_arms(measurement, worked.reps, source), folder) if source is not None else []
    missing = (
        "" if stills or source is not None
        else f"The clip ({measurement.data.clip.name}) does not lie beside this folder; give it with --clip "
        "and the arms are drawn on its frames."
    )  # fmt: skip
    page = mechanics_html(found, sentences(found), reasons(found), what_if_rows(found), stills, no_stills=missing)
    with write_whole(folder / "mechanics.html") as beside:
        beside.write_text(page, "utf-8")
    out = Console(highlight=False)
    if json:
        print(body)
        return 0
    for line in table_lines(found):
        out.print(line, markup=False, soft_wrap=True)
    if missing:
        out.print(missing, markup=False, soft_wrap=True)
    pictures = f", stills/rep*-arms-*.jpg ({len(stills)})" if stills else ""
    out.print(f"{folder}/mechanics.html, mechanics.json{pictures}", markup=False, soft_wrap=True)
    return 0


def _stills(drawn: list[tuple[str, str, Picture]], folder: Path) -> list[tuple[str, Picture]]:
    """Write the pictures into the folder; gives what each shows, with the picture."""
    from midfoot.publish import jpeg
    from midfoot.store import StoreError, output_folder, write_whole

    place = output_folder(folder / "stills")
    for old in place.glob("rep*-arms-*.jpg"):
        old.unlink()
    for name, _, picture in drawn:
        try:
            coded = jpeg(picture, quality=90)
        except ValueError as error:
            raise StoreError(str(error)) from None
        with write_whole(place / name) as beside:
            beside.write_bytes(coded)
    return [(words, picture) for _, words, picture in drawn]

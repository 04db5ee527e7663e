"""`midfoot demo`: the main job on the bundled sets, the review of each, and a filled workspace."""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

if TYPE_CHECKING:
    import threading

    from midfoot.cli.show import Show
    from midfoot.records.context import Context

WORKSPACE = "workspace"
"""Within the demo's folder."""


def demo(
    *,
    out: Path = Path("demo"),
    video: bool = True,
    desk: bool = True,
    serve: Annotated[bool, Parameter(negative=())] = False,
    port: int | None = None,
) -> int:
    """Measure and review the bundled demo sets, one per lift, fill a workspace with them, and say where to look.

    Example: midfoot demo --out demo

    Parameters
    ----------
    out
        Folder for the results, one folder a set inside it, and the workspace.
    video
        Also encode the annotated videos.
    desk
        Also fill the workspace, in DIR/workspace: six invented lifters, older sets, two published reviews.
    serve
        Open the desk on that workspace; where an earlier demo filled it, nothing is measured again.
    port
        Where the desk answers, with --serve.
    """
    from midfoot.cli.serve import PORT
    from midfoot.cli.serve import serve as open_desk
    from midfoot.cli.show import Show
    from midfoot.cli.stopping import stoppable

    place = out / WORKSPACE
    if not (serve and (place / "midfoot.sqlite3").is_file()):
        with (
            resources.as_file(resources.files("midfoot").joinpath("demo")) as bundled,
            stoppable() as stop,
            Show() as show,
        ):
            measured = _sets(bundled, out, show, stop, video=video)
            if desk or serve:
                _fill(place, measured, show, stop)
            show.say("\nLook at:")
            for _, folder, _ in measured.values():
                for page in ("report.html", "coach.html", "review.html"):
                    show.say(f"  {folder / page}")
            if desk and not serve:
                where = "" if out == Path("demo") else f" --out {out}"
                show.say(f"The desk, filled with these and others: midfoot demo --serve{where}")
    return open_desk(workspace=place, port=port or PORT) if serve else 0


def _sets(
    bundled: Path, out: Path, show: Show, stop: threading.Event, *, video: bool
) -> dict[str, tuple[Path, Path, Context]]:
    """Measure and review every bundled set; gives clip, folder and what was said by name."""
    from midfoot.cli.context import asked_from
    from midfoot.cli.one_set import measure_into
    from midfoot.desk.context_file import read_context
    from midfoot.pipeline import Request
    from midfoot.review_pictures import Source, reading_of, write_pages
    from midfoot.reviewing import Wanted, review_folder, write_words

    measured: dict[str, tuple[Path, Path, Context]] = {}
    for context in sorted(bundled.glob("*.toml")):
        clip = context.with_suffix(".mp4")
        said = read_context(context)
        asked = asked_from(said)
        show.say(f"\n{said.title or clip.stem}")
        request = Request(clip=clip, asked=asked, context=said)
        folder = measure_into(out / clip.stem, request, show, stop, video=video)
        done = review_folder(Wanted(folder=folder, clip=clip))
        write_words(done, folder)
        source = Source(path=clip, reading=reading_of(done.measurement))
        write_pages(done, folder, source, moving=video, tell=show.progress, stop=stop)
        show.clear()
        measured[clip.stem] = (clip, folder, said)
    return measured


def _fill(place: Path, measured: dict[str, tuple[Path, Path, Context]], show: Show, stop: threading.Event) -> None:
    from midfoot.desk import demo as made

    show.say("\nFilling the workspace")
    with made.fresh(place) as workspace:
        for trouble in made.fill(workspace, measured, tell=show.progress, stop=stop):
            show.say(f"! {trouble}")
        show.clear()
        show.say(f"{place}: {made.counted(workspace)}")

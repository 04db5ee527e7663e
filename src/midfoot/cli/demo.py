"""`midfoot demo`: the main job on the bundled sets, and the review of each."""

from __future__ import annotations

from importlib import resources
from pathlib import Path


def demo(*, out: Path = Path("demo"), video: bool = True) -> int:
    """Measure and review the bundled demo sets, one per lift, and say where to look.

    Example: midfoot demo --out demo

    Parameters
    ----------
    out
        Folder for the results, one folder a set inside it.
    video
        Also encode the annotated videos.
    """
    from midfoot.cli.context import asked_from
    from midfoot.cli.context_file import read_context
    from midfoot.cli.one_set import measure_into
    from midfoot.cli.show import Show
    from midfoot.cli.stopping import stoppable
    from midfoot.pipeline import Request
    from midfoot.review_pictures import Source, reading_of, write_pages
    from midfoot.reviewing import Wanted, review_folder, write_words

    pages = []
    with (
        resources.as_file(resources.files("midfoot").joinpath("demo")) as bundled,
        stoppable() as stop,
        Show() as show,
    ):
        for context in sorted(bundled.glob("*.toml")):
            clip = context.with_suffix(".mp4")
            said = read_context(context)
            asked = asked_from(said)
            show.say(f"\n{said.title or clip.stem}")
            request = Request(clip=clip, asked=asked, context=said)
            folder = measure_into(out / clip.stem, request, show, stop, video=video)
            done = review_folder(Wanted(folder=folder, clip=clip))
            write_words(done, folder)
            source = Source(path=clip, reading=reading_of(done.measurement), behind_s=0.0, clean=True)
            write_pages(done, folder, source, moving=video, tell=show.progress, stop=stop)
            show.clear()
            pages += [folder / "report.html", folder / "coach.html", folder / "review.html"]
        show.say("\nLook at:")
        for page in pages:
            show.say(f"  {page}")
    return 0

"""`midfoot review`: drafts or rebuilds the review of a measured set."""

from __future__ import annotations

import json as js
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

if TYPE_CHECKING:
    from midfoot.records.review import Edit
    from midfoot.reviewing import Reviewed


def review(
    folder: Path,
    /,
    *,
    context: Path | None = None,
    edits: Path | None = None,
    observe: Annotated[tuple[str, ...], Parameter(negative=())] = (),
    library: Path | None = None,
    last: Path | None = None,
    also: Annotated[tuple[Path, ...], Parameter(negative=())] = (),
    clip: Path | None = None,
    keep_wording: str | None = None,
    video: bool = True,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Draft the review of a measured set, or rebuild it with the edits made so far.

    Example: midfoot review set/ --last set-of-last-week/

    Parameters
    ----------
    folder
        What midfoot measure wrote.
    context
        TOML file with what the lifter said, in place of the one beside the measurement.
    edits
        JSON file with edits to add: a list, or a table with the list under "edits".
    observe
        Adds what you saw: OBSERVATION@REP:SECONDS, such as breath_lost@3:14.2; may be repeated.
    library
        Folder with the coach's own wording (TOML), which comes before the program's.
    last
        Folder of this lifter's last review: none of its sentences comes again, what was accepted stays out.
    also
        Folder of another clip of the same set: what this one does not show is taken from it; may be repeated.
        Kept for the next time.
    clip
        The clip itself, where it no longer lies beside the folder; for stills and the video. Kept for
        the next time.
    keep_wording
        Part whose words are used from now on: PART, or PART:on_air for what is spoken; goes into --library.
    video
        Also encode the video of the review.
    json
        Print review.json instead of the summary.
    """
    from midfoot.cli.review_show import summary
    from midfoot.cli.show import Show
    from midfoot.cli.stopping import stoppable
    from midfoot.desk.context_file import read_context
    from midfoot.review_pictures import source_of, write_pages
    from midfoot.reviewing import Wanted, review_folder, write_words

    wanted = Wanted(
        folder=folder,
        context=read_context(context) if context is not None else None,
        edits=(*_edits(edits), *_observed(folder, observe, library)),
        library=library,
        last=last,
        also=also,
        clip=clip,
    )
    with stoppable() as stop, Show(quiet=json) as show:
        done = review_folder(wanted)
        kept = done.clip if done.clip is not None and done.clip.is_file() else None
        source = source_of(folder, done.measurement, clip or kept)
        if keep_wording is not None:
            words = _kept(done, library, keep_wording)
            if not json:
                show.say(f"From now on: {words}")
        files = write_words(done, folder)
        if json:
            print((folder / "review.json").read_text("utf-8"), end="", flush=True)
        else:
            for line in summary(done):
                show.say(line)
        files += write_pages(done, folder, source, moving=video, tell=show.progress, stop=stop)
        show.clear()
        if not json:
            if source is None:
                show.say("No stills and no video: the clip is not beside the folder; name it with --clip.")
            show.say(f"{folder}/{', '.join(files)}")
    return 0


def _observed(folder: Path, said: tuple[str, ...], library: Path | None) -> tuple[Edit, ...]:
    """Read observations such as breath_lost@3:14.2; raises UseError when one has another form."""
    from midfoot.cli.failures import UseError
    from midfoot.findings.vocabulary import VocabularyError
    from midfoot.own_words import observed
    from midfoot.store import read_folder

    if not said:
        return ()
    lift = read_folder(folder)[0]["asked"]["lift"]
    out = []
    for text in said:
        name, _, place = text.partition("@")
        rep, _, second = place.partition(":")
        try:
            out.append(observed(lift, name, int(rep), float(second), library))
        except ValueError as error:
            if isinstance(error, VocabularyError):
                raise
            raise UseError(
                f"--observe is written OBSERVATION@REP:SECONDS, such as breath_lost@3:14.2; got {text!r}."
            ) from None
    return tuple(out)


def _kept(done: Reviewed, library: Path | None, wanted: str) -> str:
    """Keep a wording for good; raises UseError without a folder for it or with a form that is none."""
    from midfoot.cli.failures import UseError
    from midfoot.own_words import keep_wording

    if library is None:
        raise UseError("--keep-wording needs --library, the folder of your own wording.")
    part, to = wanted.removesuffix(":on_air"), "on_air" if wanted.endswith(":on_air") else "lifter"
    return keep_wording(done, library, part, to)


def _edits(file: Path | None) -> tuple[Edit, ...]:
    """Read a file of edits; raises UseError when it is none."""
    from midfoot.cli.failures import UseError
    from midfoot.store import edits_from_json

    if file is None:
        return ()
    try:
        document = js.loads(file.read_text("utf-8"))
    except OSError:
        raise UseError(f"There is no file of edits {file}; check --edits.") from None
    except ValueError as error:
        raise UseError(f"{file.name} is not JSON ({error}); correct it or leave --edits out.") from None
    rows = document.get("edits") if isinstance(document, dict) else document
    try:
        return edits_from_json(rows)
    except ValueError as error:
        raise UseError(f"{file.name}: {error}; correct it or leave --edits out.") from None

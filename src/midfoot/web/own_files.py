"""The coach's own files: wording, vocabulary and thresholds as TOML, edited in place, kept only when they hold."""

from __future__ import annotations

import shutil
import tempfile
import tomllib
from collections.abc import Callable
from importlib import resources
from pathlib import Path

from attrs import frozen

from midfoot.store import write_whole

LARGEST = 400_000
LIFTS = ("squat", "bench", "deadlift")


@frozen(kw_only=True)
class OwnFile:
    """One file that a coach may write.

    Attributes
    ----------
    id : str
        As it stands in the address.
    title, says : str
    path : str
        Beneath the library folder.
    package, name : str
        Where the text that comes with midfoot lies; without a name all of the library.
    """

    id: str
    title: str
    says: str
    path: str
    package: str
    name: str


FILES: tuple[OwnFile, ...] = (
    OwnFile(id="wording", title="Wording",
            says="Greetings, claims, explanations and cues, for the page and for the voice; yours come first.",
            path="wording.toml", package="midfoot.review.library", name=""),
    *(OwnFile(id=f"vocabulary-{lift}", title=f"Observations for the {name}",
              says="What no camera measures: each with its key, the claim and the cue.",
              path=f"vocabulary/{lift}.toml", package="midfoot.findings.vocabulary", name=f"{lift}.toml")
      for lift, name in (("squat", "squat"), ("bench", "bench press"), ("deadlift", "deadlift"))),
    OwnFile(id="thresholds", title="Thresholds of findings",
            says="From which size on a finding is raised; a table for each one that is to differ.",
            path="thresholds.toml", package="midfoot.findings", name="thresholds.toml"),
)  # fmt: skip


def file_of(file_id: str) -> OwnFile | None:
    """Give a file by its id."""
    return next((f for f in FILES if f.id == file_id), None)


def bundled(file: OwnFile) -> str:
    """Give the text that comes with midfoot: the form to follow."""
    names = (file.name,) if file.name else tuple(f"{part}.toml" for part in ("general", *LIFTS))
    text = "\n".join(resources.files(file.package).joinpath(name).read_text("utf-8") for name in names)
    return _floors(text) if file.id == "thresholds" else text


def _floors(text: str) -> str:
    """Give midfoot's thresholds in the form of an own file: what may differ, the unit in a comment."""
    lines = ["# floor: the size from which on it counts; natural: how far good reps differ by themselves."]
    for name, entry in tomllib.loads(text).items():
        lines += ["", f"[{name}]", f"floor = {entry['floor']:g}  # {entry['unit']}"]
        if "natural" in entry:
            lines.append(f"natural = {entry['natural']:g}")
    return "\n".join(lines) + "\n"


def own(library: Path, file: OwnFile) -> str:
    """Give the coach's own text, "" where there is none."""
    path = library / file.path
    return path.read_text("utf-8", errors="replace") if path.is_file() else ""


def keep(library: Path, file: OwnFile, text: str) -> None:
    """Keep a text when it holds beside the other own files; an empty one takes the file away.

    Raises
    ------
    ValueError
        When it does not hold: one sentence that says where. The file that was there stays.
    """
    text = text.replace("\r\n", "\n")
    path = library / file.path
    if not text.strip():
        path.unlink(missing_ok=True)
        return
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / "library"
        if library.is_dir():
            shutil.copytree(library, trial, ignore=lambda _, names: [n for n in names if n.startswith(".")])
        (trial / file.path).parent.mkdir(parents=True, exist_ok=True)
        (trial / file.path).write_text(text, "utf-8")
        try:
            _check(file)(trial)
        except ValueError as error:
            raise ValueError(str(error).replace(f"{trial}/", "")) from None
    path.parent.mkdir(parents=True, exist_ok=True)
    with write_whole(path) as beside:
        beside.write_text(text, "utf-8")


def _check(file: OwnFile) -> Callable[[Path], object]:
    if file.id == "wording":
        from midfoot.review import load_library

        return load_library
    if file.id.startswith("vocabulary"):
        from midfoot.findings.vocabulary import vocabulary

        lift = file.name.removesuffix(".toml")
        return lambda trial: vocabulary(lift, trial / "vocabulary")
    from midfoot.findings import read_thresholds

    return lambda trial: read_thresholds(trial / file.path)

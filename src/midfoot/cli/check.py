"""`midfoot check`: what is installed, and what would fail."""

from __future__ import annotations

import importlib.metadata
import json as json_module
import re
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Annotated

from attrs import asdict, frozen
from cyclopts import Parameter

ENCODERS = ("libx264",)
DECODERS = ("h264", "hevc", "vp9", "libdav1d")
ROOM_MB = 500
OF_WORKSPACE = ("workspace", "cleaned", "wrong", "left over")


@frozen
class Checked:
    """One thing that was looked at."""

    what: str
    good: bool
    found: str
    remedy: str = ""


def check(
    *,
    deep: Annotated[bool, Parameter(negative=())] = False,
    workspace: Path | None = None,
    clean: Annotated[bool, Parameter(negative=())] = False,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Look at what is installed, versions, what would fail, and the remedy.

    Example: midfoot check --deep

    Parameters
    ----------
    deep
        Look a workspace through instead: the database, every clip's hash, every reference both ways, every folder.
    workspace
        Which; the usual one without it.
    clean
        With --deep: then take away what is left over and belongs to nothing.
    json
        Print as JSON.
    """
    if deep or workspace is not None or clean:
        rows = _workspace(workspace, clean=clean)
    else:
        rows = [_python(), *_libraries(), _one_opencv(), *_codecs(), *_models(), _room()]
    if json:
        print(json_module.dumps([asdict(row) for row in rows], indent=1))
    else:
        for row in rows:
            mark = "ok  " if row.good else "FAIL"
            wide = 10 if row.what in OF_WORKSPACE else 34
            print(
                f"{mark} {row.what:{wide}} {row.found}"
                + (f"  -> {row.remedy}" if row.remedy and not row.good else "")
            )
    return 0 if all(row.good for row in rows) else 1


def _workspace(path: Path | None, *, clean: bool) -> list[Checked]:
    """Give one row for all that is well, and one for each trouble; what is only left over fails nothing."""
    from midfoot.cli.show import Show
    from midfoot.store import Workspace
    from midfoot.store.deep import counted, look_through
    from midfoot.store.retention import collect

    with Workspace.open(path) as opened, Show() as show:
        freed = collect(opened) if clean else None
        if clean:
            opened.write_anew()
        found = look_through(opened, tell=show.progress)
        many = counted(opened)
        where = str(opened.path)
    rows = [
        Checked(
            "workspace", True,
            f"{where}: {many['lifters']} lifters, {many['sets']} sets, {many['contents']} contents, "
            f"{many['bytes'] / 1e6:.1f} MB",
        )
    ]  # fmt: skip
    if freed is not None:
        rows.append(Checked("cleaned", True, f"{freed.contents} contents, {freed.bytes / 1e6:.1f} MB freed"))
    for trouble in found:
        if trouble.kind == "wrong":
            rows.append(Checked("wrong", False, trouble.what, trouble.remedy))
        else:
            rows.append(Checked("left over", True, trouble.what, trouble.remedy))
    return rows


def _python() -> Checked:
    version = ".".join(str(v) for v in sys.version_info[:3])
    return Checked("Python", sys.version_info >= (3, 11), version, "install Python 3.11 or newer")


def _needed() -> tuple[str, ...]:
    """Names of what the package itself says that it needs."""
    wanted = importlib.metadata.requires("midfoot") or []
    plain = [w for w in wanted if "extra ==" not in w]
    return tuple(re.split(r"[ ;<>=!~\[]", w, maxsplit=1)[0] for w in plain)


def _libraries() -> list[Checked]:
    rows = []
    for name in _needed():
        try:
            rows.append(Checked(name, True, importlib.metadata.version(name)))
        except importlib.metadata.PackageNotFoundError:
            rows.append(Checked(name, False, "missing", f"pip install {name}"))
    return rows


def _one_opencv() -> Checked:
    found = sorted(
        {
            str(d.metadata["Name"]).lower()
            for d in importlib.metadata.distributions()
            if str(d.metadata["Name"] or "").lower().startswith("opencv-")
        }
    )
    return Checked(
        "one OpenCV only",
        found == ["opencv-python-headless"],
        ", ".join(found) or "none",
        "pip uninstall the others, then pip install --force-reinstall opencv-python-headless",
    )


def _codecs() -> list[Checked]:
    import av.codec

    rows = []
    for names, mode, what in ((DECODERS, "r", "decode"), (ENCODERS, "w", "encode")):
        for name in names:
            try:
                av.codec.Codec(name, mode)
                rows.append(Checked(f"{what} {name}", True, "there"))
            except (av.codec.codec.UnknownCodecError, ValueError):
                rows.append(Checked(f"{what} {name}", False, "missing", "pip install --force-reinstall av"))
    return rows


def _models() -> list[Checked]:
    from midfoot import body

    return [
        Checked(
            row.name,
            row.state == "good" or (row.state == "missing" and not row.needed),
            row.state,
            "midfoot models fetch",
        )
        for row in body.listing()
    ]


def _room() -> Checked:
    free = shutil.disk_usage(Path(tempfile.gettempdir())).free / 1e6
    return Checked("room for temporary files", free > ROOM_MB, f"{free:.0f} MB free", "free some disk space")

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


@frozen
class Checked:
    """One thing that was looked at."""

    what: str
    good: bool
    found: str
    remedy: str = ""


def check(*, json: Annotated[bool, Parameter(negative=())] = False) -> int:
    """Look at what is installed, versions, what would fail, and the remedy.

    Example: midfoot check

    Parameters
    ----------
    json
        Print as JSON.
    """
    rows = [_python(), *_libraries(), _one_opencv(), *_codecs(), *_models(), _room()]
    if json:
        print(json_module.dumps([asdict(row) for row in rows], indent=1))
    else:
        for row in rows:
            mark = "ok  " if row.good else "FAIL"
            print(f"{mark} {row.what:34} {row.found}" + (f"  -> {row.remedy}" if not row.good else ""))
    return 0 if all(row.good for row in rows) else 1


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

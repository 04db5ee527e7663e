"""The fingerprint of everything that makes the network, to be found again in the packaged file."""

from __future__ import annotations

import hashlib
from pathlib import Path

SOURCES = ("scene.py", "atlas.py", "draw.py", "net.py", "train.py", "photographs.json")
HERE = Path(__file__).parent


def recipe(seed: int) -> str:
    """SHA-256 over the training sources (no blank and comment lines), the list of photographs and the seed."""
    digest = hashlib.sha256()
    for name in SOURCES:
        for line in (HERE / name).read_text(encoding="utf-8").splitlines():
            if line.strip() and not line.lstrip().startswith("#"):
                digest.update(line.rstrip().encode() + b"\n")
    digest.update(f"seed={seed}".encode())
    return digest.hexdigest()

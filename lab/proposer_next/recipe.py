"""The fingerprint of everything that makes this network."""

from __future__ import annotations

from pathlib import Path

from proposer import recipe as packaged


def recipe(seed: int) -> str:
    """SHA-256 over these training sources, those taken over from the packaged network's, and the seed."""
    return packaged.recipe(seed, Path(__file__).parent)

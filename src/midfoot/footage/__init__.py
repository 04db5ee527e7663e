"""Footage: what a clip is, and every frame of it, upright and with its own timestamp.

Assumes files are hostile until decoded: every failure ends in a `FootageError` that says what to do.
Rule for the next author: rotation, mirroring, reduction and the clock are applied here and nowhere else.
"""

from midfoot.footage.errors import FootageError
from midfoot.footage.frames import frames, frames_at
from midfoot.footage.probe import probe
from midfoot.footage.proxy import Proxy, write_proxy
from midfoot.footage.sweep import Consumer, Stopped, beside, heeding, sweep
from midfoot.footage.watch import Watch, Watched

VERSION = "1"
"""Raised when the same file would give other frames or times."""

__all__ = [
    "VERSION",
    "Consumer",
    "FootageError",
    "Proxy",
    "Stopped",
    "Watch",
    "Watched",
    "beside",
    "frames",
    "frames_at",
    "heeding",
    "probe",
    "sweep",
    "write_proxy",
]

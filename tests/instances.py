"""A public instance and the desk that asks it, as two workspaces; and nobody who listens to what work tells."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from midfoot.store import Workspace


def quiet(*_: object) -> None:
    """Nobody listens."""


@contextmanager
def instance_and_desk(folder: Path) -> Iterator[tuple[Workspace, Workspace]]:
    """Give both workspaces, made in `folder`."""
    with Workspace.create(folder / "instance") as instance, Workspace.create(folder / "desk") as desk:
        yield instance, desk

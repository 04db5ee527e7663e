"""A fresh workspace and clients of its desk."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_client import client_of
from starlette.testclient import TestClient

from midfoot.store.workspace import Workspace


@pytest.fixture
def desk_workspace(tmp_path: Path) -> Iterator[Workspace]:
    """An empty workspace."""
    with Workspace.create(tmp_path / "workspace") as workspace:
        yield workspace


@pytest.fixture
def client(desk_workspace: Workspace) -> Iterator[TestClient]:
    """A browser that is let in."""
    with client_of(desk_workspace) as client:
        yield client


@pytest.fixture
def stranger(desk_workspace: Workspace) -> Iterator[TestClient]:
    """A browser that is not."""
    with client_of(desk_workspace, inside=False) as client:
        yield client

"""Clients of the desk of an empty workspace."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from desk_client import client_of
from starlette.testclient import TestClient

from midfoot.store import Workspace


@pytest.fixture
def client(workspace: Workspace) -> Iterator[TestClient]:
    """A browser that is let in."""
    with client_of(workspace) as client:
        yield client


@pytest.fixture
def stranger(workspace: Workspace) -> Iterator[TestClient]:
    """A browser that is not."""
    with client_of(workspace, inside=False) as client:
        yield client

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from midfoot.store import Workspace


@pytest.fixture
def workspace(tmp_path: Path) -> Iterator[Workspace]:
    with Workspace.create(tmp_path / "desk") as opened:
        yield opened

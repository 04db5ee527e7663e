"""Shared by all tests: where the shared footage is, and how hypothesis runs."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from midfoot.store import Workspace

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
sys.path.insert(0, str(ROOT))

settings.register_profile(
    "all", derandomize=True, deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("all")


@pytest.fixture(scope="session")
def shared_clips() -> Path:
    """The shared footage beside the project; tests that need it skip where it is absent."""
    folder = ROOT.parent / "shared" / "clips"
    if not folder.is_dir():
        pytest.skip("the shared footage (../shared/clips) is not on this machine")
    return folder


@pytest.fixture(scope="session")
def real_clips() -> Path:
    """Real clips of loaded bars, looked at locally only."""
    folder = os.environ.get("MIDFOOT_REAL_CLIPS", "")
    if not folder or not Path(folder).is_dir():
        pytest.skip("MIDFOOT_REAL_CLIPS names no folder: the real clips are not on this machine")
    return Path(folder)


@pytest.fixture(scope="session")
def empty_workspace(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a workspace with nothing in it, to be copied: migrations run once for all tests."""
    from midfoot.store import Workspace

    folder = tmp_path_factory.mktemp("empty") / "workspace"
    Workspace.create(folder).close()
    return folder


@pytest.fixture
def workspace(empty_workspace: Path, tmp_path: Path) -> Iterator[Workspace]:
    """An open workspace with nothing in it."""
    from midfoot.store import Workspace

    shutil.copytree(empty_workspace, tmp_path / "workspace")
    with Workspace.open(tmp_path / "workspace") as opened:
        yield opened

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


@pytest.fixture(scope="session")
def demo_workspace(empty_workspace: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workspace]:
    """A workspace with the bundled sets looked at and measured; shared by all tests, so nobody changes it.

    `own_demo` is a copy that may be changed.
    """
    from desk_sets import fill_demo

    from midfoot.store import Workspace

    folder = tmp_path_factory.mktemp("demo") / "workspace"
    shutil.copytree(empty_workspace, folder)
    with Workspace.open(folder) as opened:
        fill_demo(opened)
        yield opened


@pytest.fixture
def own_demo(demo_workspace: Workspace, tmp_path: Path) -> Iterator[Workspace]:
    """A copy of the demo's workspace that a test may change."""
    from midfoot.store import Workspace

    with demo_workspace.write():  # nobody writes while it is copied
        shutil.copytree(demo_workspace.path, tmp_path / "demo")
    with Workspace.open(tmp_path / "demo") as opened:
        yield opened

"""Shared by all tests: where the shared footage is, and how hypothesis runs."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

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

"""A headless Chromium from Debian; tests skip with a reason where there is none."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="session")
def browsers() -> Iterator[Any]:
    """What starts browsers: there can be only one in a process."""
    if not CHROMIUM.exists():
        pytest.skip("Debian's Chromium is not installed (apt-get install chromium)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright.chromium


@pytest.fixture(scope="session")
def chromium(browsers: Any) -> Iterator[Any]:
    """One browser for all page tests."""
    browser = browsers.launch(executable_path=str(CHROMIUM), args=FLAGS)
    yield browser
    browser.close()


@pytest.fixture(scope="module")
def empty_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a desk over an empty workspace."""
    from served import served

    from midfoot.store.workspace import Workspace

    with (
        Workspace.create(tmp_path_factory.mktemp("desk") / "workspace") as workspace,
        served(workspace) as address,
    ):
        yield address

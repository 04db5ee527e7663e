"""Write generated pages into a folder of docs/."""

from __future__ import annotations

from pathlib import Path

DOCS = Path(__file__).resolve().parent.parent / "docs"


def write_pages(folder: str, found: dict[str, str]) -> None:
    """Write every page (text by file name), and take away those that are no more."""
    into = DOCS / folder
    into.mkdir(parents=True, exist_ok=True)
    for old in into.glob("*.md"):
        if old.name not in found:
            old.unlink()
    for name, text in found.items():
        (into / name).write_text(text, "utf-8")

"""Write the pages about findings: `python -m lab.gen_findings` after a definition or thresholds.toml changes."""

from __future__ import annotations

from pathlib import Path

from midfoot.findings.pages import pages

FOLDER = Path(__file__).resolve().parent.parent / "docs" / "findings"


def main() -> None:
    """Write every page, and take away those that are no more."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    found = pages()
    for old in FOLDER.glob("*.md"):
        if old.name not in found:
            old.unlink()
    for name, text in found.items():
        (FOLDER / name).write_text(text, "utf-8")


if __name__ == "__main__":
    main()

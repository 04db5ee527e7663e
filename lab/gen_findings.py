"""Write the pages about findings: `python -m lab.gen_findings` after a definition or thresholds.toml changes."""

from __future__ import annotations

from lab.pages_out import write_pages
from midfoot.findings.pages import pages

if __name__ == "__main__":
    write_pages("findings", pages())

"""The command line: one file per verb, each a thin shell over the pipeline."""

from __future__ import annotations

import sys


def main(argv: list[str] | None = None) -> None:
    """Run the command line and leave with 0, 1 (could not do it) or 2 (wrong use)."""
    from midfoot.cli.app import run

    sys.exit(run(sys.argv[1:] if argv is None else argv))

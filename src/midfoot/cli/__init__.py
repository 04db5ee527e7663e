"""The command line: one file per verb, each a thin shell over the pipeline."""

from __future__ import annotations

import sys


def main(argv: list[str] | None = None) -> None:
    """Run the command line and leave with 0, 1 (could not do it) or 2 (wrong use)."""
    try:
        from midfoot.cli.app import run
    except KeyboardInterrupt:  # Ctrl-C while Python still reads the program
        sys.exit("midfoot: Stopped; nothing was begun.")
    sys.exit(run(sys.argv[1:] if argv is None else argv))

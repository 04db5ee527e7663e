"""Write the pages about the measures: `python -m lab.gen_measures` after a definition or views.toml changes."""

from __future__ import annotations

from lab.pages_out import write_pages
from midfoot.measures import pages

if __name__ == "__main__":
    write_pages("measures", pages())

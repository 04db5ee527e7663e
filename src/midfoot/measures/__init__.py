"""Measures: what is computed per rep and per set, each with its error, its basis, or the reason why not.

Rule for the next author: a measure is a pure function in its lift's file with its page beside it in the catalogue;
views.toml says which view gives it; nothing registers itself on import.
"""

from midfoot.measures.measure import measure, over_set, parameters, velocity_curve, velocity_over_clip
from midfoot.measures.pages import pages

VERSION = "6"

__all__ = ["VERSION", "measure", "over_set", "pages", "parameters", "velocity_curve", "velocity_over_clip"]

"""Strength: estimated maximum, points, body-mass classes, attempts, plates, weeks to the competition.

Pure functions over records; what is data (coefficients, tables, classes, shares) stands in the TOML files beside
them, with source and year.
"""

from midfoot.strength.attempts import attempts
from midfoot.strength.base import StrengthError
from midfoot.strength.calendar import weeks_to
from midfoot.strength.classes import class_of, federations
from midfoot.strength.one_rm import for_the_lifter, next_range_kg, one_rm
from midfoot.strength.plates import PlateSet, loaded, plate_set, plate_sets
from midfoot.strength.points import all_points, points
from midfoot.strength.profile import profile
from midfoot.strength.rpe import RpeTable, rpe_table

VERSION = "1"

__all__ = [
    "VERSION",
    "PlateSet",
    "RpeTable",
    "StrengthError",
    "all_points",
    "attempts",
    "class_of",
    "federations",
    "for_the_lifter",
    "loaded",
    "next_range_kg",
    "one_rm",
    "plate_set",
    "plate_sets",
    "points",
    "profile",
    "rpe_table",
    "weeks_to",
]

"""A lifter over time: two sets held against each other, predictions against what came of them. Pure."""

from midfoot.history.compare import CompareError, compare
from midfoot.history.course import numbers_of, why_not_together
from midfoot.history.predictions import LOAD_SHARE, RPE_STEP, Foretold, follow, why_not_alike

__all__ = [
    "LOAD_SHARE", "RPE_STEP", "CompareError", "Foretold", "compare", "follow", "numbers_of", "why_not_alike",
    "why_not_together",
]  # fmt: skip

"""A lifter over time: two sets held against each other, predictions against what came of them. Pure."""

from midfoot.history.compare import CompareError, compare
from midfoot.history.course import numbers_of, why_not_together
from midfoot.history.predictions import Foretold, follow

__all__ = ["CompareError", "Foretold", "compare", "follow", "numbers_of", "why_not_together"]

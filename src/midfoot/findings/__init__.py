"""What was seen in a set: measured findings, and the vocabulary for what only a coach sees."""

from midfoot.findings.engine import find, parameters
from midfoot.findings.registry import FINDINGS, definition, findings_of
from midfoot.findings.thresholds import Limit, Limits, ThresholdsError, defaults, limits_from, read_thresholds

VERSION = "5"

__all__ = [
    "FINDINGS",
    "VERSION",
    "Limit",
    "Limits",
    "ThresholdsError",
    "defaults",
    "definition",
    "find",
    "findings_of",
    "limits_from",
    "parameters",
    "read_thresholds",
]

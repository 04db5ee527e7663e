"""Reps: phases of the set, the moments of every rep by the rule of bands, outcomes, and what a person gives.

Rule for the next author: reps are found from heights alone by one segmentation (rest, extreme, rest; see
`heights`), the body only judges; every threshold is a share of the set's own range or of the track's own noise
where it can be, and carries its reason where it stands.
"""

from midfoot.records.reps import RepSet
from midfoot.reps.find import find_reps
from midfoot.reps.given import GivenError, GivenRep, GivenReps, read_given

VERSION = "3"

__all__ = ["VERSION", "GivenError", "GivenRep", "GivenReps", "RepSet", "find_reps", "read_given"]

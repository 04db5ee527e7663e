"""The body: who the lifter is, and where his joints are over time, with what is hidden said to be hidden.

Assumes upright frames with their own timestamps. Rule for the next author: a joint that the network only
imagines never leaves this stage as seen; the network's heat-map peak decides, not its `visibility`.
"""

from midfoot.body.lifter import LifterChoice, choose_lifter
from midfoot.body.marked import with_marks
from midfoot.body.models import ModelFiles, ModelsError, ensure_models, fetch, listing, verify
from midfoot.body.people import PeopleScout
from midfoot.body.pose import EVERY_S, LifterPose, not_seen

VERSION = "2"
"""Goes up when the same clip would give other landmarks."""

__all__ = [
    "EVERY_S",
    "VERSION",
    "LifterChoice",
    "LifterPose",
    "ModelFiles",
    "ModelsError",
    "PeopleScout",
    "choose_lifter",
    "ensure_models",
    "fetch",
    "listing",
    "not_seen",
    "verify",
    "with_marks",
]

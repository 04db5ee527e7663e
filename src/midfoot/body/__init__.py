"""The body: who the lifter is, and where his joints are over time, with what is hidden said to be hidden.

Assumes upright frames with their own timestamps. Rule for the next author: a joint that the network only
imagines never leaves this stage as seen; the network's heat-map peak decides, not its `visibility`.
"""

from midfoot.body.models import ModelFiles, ModelsError, ensure_models, fetch, listing, verify
from midfoot.body.people import PeopleScout

__all__ = ["ModelFiles", "ModelsError", "PeopleScout", "ensure_models", "fetch", "listing", "verify"]

VERSION = "1"
"""Goes up when the same clip would give other landmarks."""

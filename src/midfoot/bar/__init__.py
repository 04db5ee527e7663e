"""The bar: found without a click, followed to a fraction of a pixel, and put into millimetres.

Rule for the next author: three answers are right (found, unsure with candidates, not found with the reason); a
confident wrong track is the one failure that counts double.
"""

from midfoot.bar.coarse import Coarse
from midfoot.bar.far import BothEnds
from midfoot.bar.follow import Follower
from midfoot.bar.hands import track_from_hands
from midfoot.bar.link import link
from midfoot.bar.nothing import nothing
from midfoot.bar.path import bar_path
from midfoot.bar.scout import Scout
from midfoot.bar.shaft import Shaft
from midfoot.bar.tilt import Tilt, TiltScout
from midfoot.bar.view import view_and_scale

VERSION = "12"
"""Goes up when the same clip would give another track or path."""

__all__ = [
    "VERSION",
    "BothEnds",
    "Coarse",
    "Follower",
    "Scout",
    "Shaft",
    "Tilt",
    "TiltScout",
    "bar_path",
    "link",
    "nothing",
    "track_from_hands",
    "view_and_scale",
]

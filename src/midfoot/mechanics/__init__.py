"""Mechanics: a planar body scaled to the lifter, what its joints carry, work and power, and what-if geometry.

Rule for the next author: this stage gets places in metres (`records.mechanics.Places`) and knows nothing of
pictures.
"""

from midfoot.mechanics.dynamics import G_M_S2, Body, forces, ground_force, joint_moment, joint_powers, net_load
from midfoot.mechanics.lengths import apart, joined, misplaced, seen_lengths
from midfoot.mechanics.lifter import sources_of_lengths, tables, the_lifter
from midfoot.mechanics.loads import mechanics_of
from midfoot.mechanics.what_if import TRIED, predictions, what_if

__all__ = [
    "G_M_S2", "TRIED", "Body", "apart", "forces", "ground_force", "joined", "joint_moment", "joint_powers",
    "mechanics_of", "misplaced", "net_load", "predictions", "seen_lengths", "sources_of_lengths",
    "tables", "the_lifter", "what_if",
]  # fmt: skip

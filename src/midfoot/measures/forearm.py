"""How the forearm stands under the bar at the touch of a bench press.

The near plate stands before the wrist and often before the elbow, and a wrist that is seen lies at a depth that is
only guessed. But the hand holds the bar, and where the bar is the plate tells to the millimetre: so the forearm is
read from the elbow to the bar in the hand.
"""

from __future__ import annotations

import math

from midfoot.measures.definition import Answer, Unseen
from midfoot.measures.scene import RepScene
from midfoot.measures.uncertain import lean_deg

FOREARM_MM = (120.0, 400.0)
"""No forearm is longer (0.146 of stature, Drillis & Contini 1966, is 292 mm at 2.0 m); one turned toward the
camera looks shorter, and under the lower limit has no direction to speak of."""
HAND_MM, IN_HAND_SD_MM = 80.0, 25.0
"""From the wrist to a bar in the palm (half a hand; a hand is 0.108 of stature, Drillis & Contini 1966), and how
far a bent wrist puts it beside the forearm's own line (common practice, no source)."""


def forearm_angle(rep: RepScene) -> Answer:
    """Lean of the near forearm at the touch, toward the feet positive."""
    joints = rep.scene.joints
    at = rep.t("low_start")
    elbow = joints.at("elbow", at, "touch")
    if (
        rep.scene.data.track.source == "plate"
        and rep.scene.data.path is not None
        and not joints.optics.lens.distant
    ):
        forward, up = (p.plus("bar in the hand", IN_HAND_SD_MM) for p in (rep.bar.forward(at), rep.bar.up(at)))
        hand, longest, basis = (forward, up), FOREARM_MM[1] + HAND_MM, f"{rep.bar.basis} in the hand"
    else:
        hand, longest, basis = joints.at("wrist", at, "touch"), FOREARM_MM[1], "wrist"
    length = math.hypot(hand[0].value - elbow[0].value, hand[1].value - elbow[1].value)
    if not joints.optics.lens.distant and not FOREARM_MM[0] <= length <= longest:
        raise Unseen(f"the near forearm would be {length:.0f} mm long: elbow or wrist is misplaced", joints.remedy)
    return Answer(lean_deg(hand[0] - elbow[0], hand[1] - elbow[1]), f"{joints.side} elbow and {basis}")

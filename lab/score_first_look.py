"""What a sender is told of a clip at once, held against what the measuring finds in it later.

    python -m lab.score_first_look CLIP=MEASURED_FOLDER ... > table.md

Each clip gets a first look with what was asked of its measured folder; the table says for both where the camera
stood, what hides or spoils, and how much can be judged. The first look's count is the most that the view gives.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from midfoot.desk.at_once import said_of
from midfoot.desk.glance import judged
from midfoot.glimpse import glimpse
from midfoot.measures.views import VIEW_WORDS
from midfoot.records.measures import Measurement
from midfoot.store import read_measurement

HEAD = (
    "| clip | at once | later | yaw at once | yaw later | judged, at most | judged later | of the bar later"
    " | to film again, at once | warned of later | CPU, s |"
)


def main(argv: list[str]) -> int:
    """Print the table."""
    print(HEAD)
    print("| --- " * 11 + "|")
    for pair in argv:
        clip, _, folder = pair.partition("=")
        print(_row(Path(clip), read_measurement(Path(folder))), flush=True)
    return 0


def _row(clip: Path, measured: Measurement) -> str:
    data, started = measured.data, time.process_time()
    seen = glimpse(clip, data.asked)
    spent = time.process_time() - started
    said, later = said_of(seen), judged(measured)
    view = seen.view
    cells = [
        clip.stem.replace("_", " "),
        VIEW_WORDS[view.view_class] if view is not None else "open",
        VIEW_WORDS[data.view.view_class],
        f"{view.yaw_deg.value:.0f} ± {view.yaw_deg.sd:.0f}" if view is not None else "",
        f"{data.view.yaw_deg.value:.0f} ± {data.view.yaw_deg.sd:.0f}",
        f"{said['can']} of {said['of']}" if said["can"] is not None else "open",
        f"{later['can']} of {later['of']}",
        f"{data.track.status}, {data.track.source}",
        "; ".join([*seen.hidden, *(line.partition(":")[0].lower() for line in said["again"])]),
        ", ".join(w.id for w in measured.warnings if w.id != "plate_diameter_assumed"),
        f"{spent:.1f}",
    ]
    return "| " + " | ".join(cells) + " |"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

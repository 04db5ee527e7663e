"""Run OpenCV's contrib trackers over frames that come down a pipe; needs numpy and opencv-contrib-python only.

Started by `lab.bench_trackers` with the Python of an environment of its own, because the contrib build and the one
midfoot uses cannot lie in one environment. Standard input: one line of JSON (size, box on the first frame, names),
then raw BGR frames. Standard output: one line of JSON with every tracker's box centres and CPU seconds.
"""

from __future__ import annotations

import json
import sys
import time
from typing import Any

import cv2
import numpy as np


def make(name: str) -> Any:
    """Make one tracker with the library's own settings."""
    if name == "MOSSE":
        return cv2.legacy.TrackerMOSSE_create()
    return getattr(cv2, f"Tracker{name}").create()


def main() -> None:
    asked = json.loads(sys.stdin.buffer.readline())
    size = asked["height"] * asked["width"] * 3
    box = tuple(int(v) for v in asked["box"])
    trackers = {name: make(name) for name in asked["trackers"]}
    found: dict[str, dict[str, Any]] = {name: {"xy": [], "cpu_s": 0.0} for name in trackers}
    first = True
    while len(raw := sys.stdin.buffer.read(size)) == size:
        picture = np.frombuffer(raw, np.uint8).reshape(asked["height"], asked["width"], 3)
        for name, tracker in trackers.items():
            begun = time.process_time()
            try:
                if first:
                    tracker.init(picture, box)
                    ok, now = True, box
                else:
                    ok, now = tracker.update(picture)
                    found[name]["cpu_s"] += time.process_time() - begun
            except cv2.error as error:
                # One of them gives up with an error of its own: it has no answer from here on.
                found[name]["error"] = str(error).strip()[:200]
                ok, now = False, box
            x, y, w, h = now
            found[name]["xy"].append([x + w / 2.0, y + h / 2.0] if ok else None)
        first = False
    print(json.dumps({"opencv": cv2.__version__, "trackers": found}))


if __name__ == "__main__":
    main()

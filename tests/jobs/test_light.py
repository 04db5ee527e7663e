"""What the pages import of queue and intake brings no decoder, no network and no signal processing with it."""

from __future__ import annotations

import subprocess
import sys

HEAVY = ("av", "cv2", "scipy", "onnxruntime", "ai_edge_litert", "altair", "typst", "midfoot.pipeline")
LIGHT = (
    "midfoot.jobs",
    "midfoot.jobs.worker",
    "midfoot.desk.intake",
    "midfoot.desk.watching",
    "midfoot.desk.daily",
)


def test_queue_and_intake_are_light() -> None:
    code = f"import sys, {', '.join(LIGHT)}; print([m for m in {HEAVY} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120)
    assert done.stdout.strip() == "[]"

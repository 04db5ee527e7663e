"""One clip measured into one folder with the terminal told: what `measure` and `demo` do alike."""

from __future__ import annotations

import json
import threading
from pathlib import Path

from midfoot import outputs, pipeline
from midfoot.cli.show import Show
from midfoot.store import to_json


def measure_into(
    out: Path, request: pipeline.Request, show: Show, stop: threading.Event, *, video: bool, as_json: bool = False
) -> Path:
    """Measure a set: numbers on disk and on the terminal first, then the pictures; gives the folder."""
    with outputs.results_folder(out, request.clip) as folder:
        measurement = pipeline.measure_clip(request, progress=show.progress, stop=stop)
        outputs.write_numbers(measurement, folder)
        show.clear()
        if as_json:
            print(json.dumps(to_json(measurement), indent=1, allow_nan=False), flush=True)
        else:
            show.table(measurement)
        outputs.write_pictures(
            measurement, request.clip, request.reading, folder, video=video, progress=show.progress, stop=stop
        )
        show.clear()
    return folder

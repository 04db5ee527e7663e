"""Reading a measured folder back: measurement.json and body.npz, checked before anything is made of them."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from typing import Any

import numpy as np

from midfoot.records.base import FloatArray
from midfoot.store.files import StoreError
from midfoot.store.measurement_json import SCHEMA_ID

ARRAYS = ("t_s", "xy_px", "sd_px", "status")


def read_folder(folder: Path) -> tuple[dict[str, Any], dict[str, FloatArray]]:
    """Read what `midfoot measure` left in a folder.

    Returns
    -------
    document, arrays
        measurement.json as it stands, and the arrays of body.npz: `t_s` (n,), `xy_px` (n, k, 2), `sd_px` (n, k),
        `status` (n, k) as words.

    Raises
    ------
    StoreError
        When it is no measured folder, or its files are damaged; the text says which and what to do.
    """
    again = "measure the clip again with midfoot measure CLIP --out DIR."
    if not folder.is_dir():
        raise StoreError(f"{folder} is not a folder; give the folder that midfoot measure wrote.")
    numbers, body = folder / "measurement.json", folder / "body.npz"
    for file in (numbers, body):
        if not file.is_file():
            raise StoreError(f"{folder} is not a measured folder: {file.name} is missing; {again}")
    try:
        document = json.loads(numbers.read_text("utf-8"))
    except (OSError, ValueError):
        raise StoreError(f"{numbers} cannot be read; {again}") from None
    if not isinstance(document, dict) or document.get("schema") != SCHEMA_ID:
        raise StoreError(f"{numbers} is not a measurement of the kind {SCHEMA_ID}; {again}")
    try:
        with np.load(body, allow_pickle=False) as file_:
            arrays = {name: np.asarray(file_[name]) for name in ARRAYS}
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        raise StoreError(f"{body} cannot be read; {again}") from None
    return document, arrays

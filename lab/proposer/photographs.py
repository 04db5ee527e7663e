"""Prepare the training photographs: `python -m proposer.photographs EXERCISES PACK.npz`.

EXERCISES is the folder of that name in a checkout of yuhonas/free-exercise-db (Unlicense). Takes the pictures that
photographs.json names, 640x427, and adds the lettering and the pasted pictures of the atlas, so that the machine
that trains needs no OpenCV. The pack is not part of this repository.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import cv2
import numpy as np

from . import atlas, scene

SIZE = (640, 427)
QUALITY = 68


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("exercises", type=Path)
    parser.add_argument("pack", type=Path)
    args = parser.parse_args()
    files = []
    for name in sorted(json.loads((Path(__file__).parent / "photographs.json").read_text())):
        exercise, number = name.rsplit("_", 1)
        picture = cv2.imread(str(args.exercises / exercise / number))
        small = cv2.resize(picture, SIZE, interpolation=cv2.INTER_AREA)
        files.append(cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1].ravel())
    letters = np.round(atlas.lettering(scene.LETTERINGS, 11) * 255).astype(np.uint8)
    pasted = np.round(atlas.sprites(scene.SPRITES, 12) * 255).astype(np.uint8)
    ends = np.cumsum([len(f) for f in files])
    np.savez_compressed(args.pack, files=np.concatenate(files), ends=ends, letters=letters, pasted=pasted)


if __name__ == "__main__":
    main()

"""Prepare the training photographs: `python -m proposer.photographs EXERCISES OUT`.

EXERCISES is the folder of that name in a checkout of yuhonas/free-exercise-db (Unlicense). Takes the first picture
of every exercise that photographs.json names, 640x427. The pictures are not part of this repository.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import cv2

SIZE = (640, 427)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("exercises", type=Path)
    parser.add_argument("out", type=Path)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for name in json.loads((Path(__file__).parent / "photographs.json").read_text()):
        picture = cv2.imread(str(args.exercises / name.removesuffix("_0.jpg") / "0.jpg"))
        small = cv2.resize(picture, SIZE, interpolation=cv2.INTER_AREA)
        cv2.imwrite(str(args.out / name), small, [cv2.IMWRITE_JPEG_QUALITY, 82])


if __name__ == "__main__":
    main()

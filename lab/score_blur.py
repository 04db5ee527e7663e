"""Are all faces covered? Held against a face detector not used by the program, and against marks by hand.

Two steps, because the detector needs torch and the program does not:

    python -m lab.score_blur cover CLIP... --out DIR [--measured DIR/OF/FOLDERS]
    LAB -m lab.score_blur faces DIR [--step 3]
    python -m lab.score_blur marks MARKS.toml DIR

`cover` finds the heads as publishing does and writes, frame by frame, what is covered with the lifter and without.
`faces` looks at every n-th frame with MTCNN (package `facenet-pytorch` with its own weights; it needs torch and
torchvision) and says how many frames hold a face of 24 px or more, in the size in which it is published, that is
not covered; those are written as PNG to be looked at. `marks` does the same for heads marked by hand: who stands
where in which frame, the lifter among them.
"""

from __future__ import annotations

import argparse
import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np

PUBLISHED_PX = 1280
LEAST_FACE_PX = 24.0
SURE = 0.9
COVERED = 0.6
"""Share of a face's box that must lie under covers."""


def cover(clips: list[Path], out: Path, measured: Path | None) -> None:
    """Write what publishing covers, one JSON a clip."""
    from midfoot import footage
    from midfoot.body.heads import HeadScout
    from midfoot.body.models import ensure_models
    from midfoot.body.pose import not_seen
    from midfoot.publish.blur import veil_of
    from midfoot.store import read_measurement

    models = ensure_models(faces=True)
    for clip in clips:
        name = clip.stem if clip.stem != "video" else clip.parent.name
        scout, times = HeadScout(models), []
        shape: tuple[int, ...] = ()
        for frame in footage.frames(clip):
            scout.see(frame)
            times.append(frame.t_s)
            shape = frame.luma.shape
        heads = scout.result()
        folder = measured / name if measured is not None else None
        known = folder is not None and (folder / "measurement.json").is_file()
        data = read_measurement(folder).data if known and folder is not None else None
        body, bar = (data.body, data.track) if data is not None else (not_seen("not measured"), None)
        veils = {who: veil_of(heads, body, with_lifter=who == "all", bar=bar) for who in ("all", "others")}
        rows = [{"t_s": t, **{who: v.circles(t) for who, v in veils.items()}} for t in times]
        document = {"clip": str(clip), "width_px": shape[1], "height_px": shape[0], "lifter_known": known,
                    "frames": rows}  # fmt: skip
        out.mkdir(parents=True, exist_ok=True)
        (out / f"{name}.json").write_text(json.dumps(document))
        print(f"{name}: {len(heads.tracks)} heads over {len(times)} frames", flush=True)


def share_covered(box: tuple[float, float, float, float], circles: list[list[float]]) -> float:
    """Give the share of a box (left, top, right, bottom) that lies under circles (x, y, radius)."""
    x, y = np.meshgrid(np.linspace(box[0], box[2], 24), np.linspace(box[1], box[3], 24))
    under = np.zeros(x.shape, bool)
    for cx, cy, radius in circles:
        under |= np.hypot(x - cx, y - cy) <= radius
    return float(under.mean())


def faces(folder: Path, step: int) -> None:
    """Hold the covers against MTCNN."""
    import cv2
    import torch
    from facenet_pytorch import MTCNN

    torch.set_num_threads(1)
    net = MTCNN(keep_all=True, min_face_size=20, thresholds=[0.6, 0.7, 0.7], device="cpu")
    for file in sorted(folder.glob("*.json")):
        document = json.loads(file.read_text())
        zoom = min(1.0, PUBLISHED_PX / max(document["width_px"], document["height_px"]))
        looked = found = 0
        bare: dict[str, int] = {"all": 0, "others": 0}
        for k, rgb in _frames(document, step):
            row = document["frames"][k]
            small = cv2.resize(rgb, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA) if zoom < 1 else rgb
            boxes, sure = net.detect(small)
            looked += 1
            good = [] if boxes is None else [b for b, s in zip(boxes, sure, strict=True) if s >= SURE]
            good = [b for b in good if min(b[2] - b[0], b[3] - b[1]) >= LEAST_FACE_PX]
            found += len(good)
            for who in bare:
                left = [b for b in good if share_covered(tuple(b / zoom), row[who]) < COVERED]
                bare[who] += bool(left)
                if left and (who == "all" or bare[who] % 10 == 1):
                    _keep(folder / "bare" / who / f"{file.stem}-{k:05d}.png", small, good, left, row[who], zoom)
        shares = {who: f"{100 * (1 - n / max(looked, 1)):.1f} %" for who, n in bare.items()}
        print(f"{file.stem}: {looked} frames, {found} faces; frames without a bare face: {shares}", flush=True)


def _frames(document: dict[str, Any], step: int) -> Any:
    """Decode every n-th frame, upright, without the program's own footage stage."""
    import av

    with av.open(document["clip"]) as container:
        for k, frame in enumerate(container.decode(container.streams.video[0])):
            if k % step == 0 and k < len(document["frames"]):
                rgb = frame.to_ndarray(format="rgb24")
                turns = round(getattr(frame, "rotation", 0) / 90) % 4
                yield k, np.ascontiguousarray(np.rot90(rgb, turns))


def _keep(path: Path, rgb: Any, good: list[Any], left: list[Any], circles: list[list[float]], zoom: float) -> None:
    import cv2

    picture = rgb.copy()
    for x, y, radius in circles:
        cv2.circle(picture, (round(x * zoom), round(y * zoom)), round(radius * zoom), (255, 200, 0), 1)
    for box in good:
        bare = any(box is b for b in left)
        cv2.rectangle(picture, *[tuple(int(v) for v in p) for p in (box[:2], box[2:])],
                      (255, 0, 0) if bare else (0, 255, 0), 2)  # fmt: skip
    path.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(path), picture[:, :, ::-1])


def marks(file: Path, folder: Path) -> None:
    """Hold the covers against heads marked by hand: `[[clip.head]]` with t_s, x_px, y_px, width_px and who."""
    told = tomllib.loads(file.read_text())
    total = missed = spared = lifters = 0
    for name, clip in told.items():
        document = json.loads((folder / f"{name}.json").read_text())
        zoom = min(1.0, PUBLISHED_PX / max(document["width_px"], document["height_px"]))
        times = np.array([row["t_s"] for row in document["frames"]])
        wrong = []
        for head in clip["head"]:
            row = document["frames"][int(np.argmin(np.abs(times - head["t_s"])))]
            half = head["width_px"] / 2
            box = (head["x_px"] - half, head["y_px"] - half, head["x_px"] + half, head["y_px"] + half)
            under = share_covered(box, row["others"])
            if head["who"] == "lifter":
                lifters += 1
                spared += under < 0.3
                if share_covered(box, row["all"]) < COVERED:
                    wrong.append((head["t_s"], "lifter bare by choice"))
            elif head["width_px"] * zoom >= LEAST_FACE_PX:
                total += 1
                missed += under < COVERED
                if under < COVERED:
                    wrong.append((head["t_s"], head["who"], round(under, 2)))
        print(f"{name}: {len(clip['head'])} heads marked; bare: {wrong or 'none'}")
    print(f"bystanders: {total - missed} of {total} covered; the lifter spared in {spared} of {lifters}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    steps = parser.add_subparsers(dest="step_name", required=True)
    one = steps.add_parser("cover")
    one.add_argument("clips", nargs="+", type=Path)
    one.add_argument("--out", type=Path, required=True)
    one.add_argument("--measured", type=Path)
    two = steps.add_parser("faces")
    two.add_argument("folder", type=Path)
    two.add_argument("--step", type=int, default=3)
    three = steps.add_parser("marks")
    three.add_argument("marks", type=Path)
    three.add_argument("folder", type=Path)
    told = parser.parse_args()
    if told.step_name == "cover":
        cover(told.clips, told.out, told.measured)
    elif told.step_name == "faces":
        faces(told.folder, told.step)
    else:
        marks(told.marks, told.folder)


if __name__ == "__main__":
    main()

"""Are bystanders' faces covered? Held against a face detector that the program does not use, and marks by hand.

    python -m lab.score_blur find CLIP... --out DIR [--again]
    python -m lab.score_blur show DIR --net YUNET.onnx [--measured DIR/OF/FOLDERS] [--step 6] [--only NAME...]
    python -m lab.score_blur marks MARKS.toml DIR [--measured DIR/OF/FOLDERS]

`find` looks for heads as publishing does, once a clip. `show` covers every n-th frame as publishing does, in the
size in which it is published, and lets YuNet look at what comes out (through OpenCV; its file
`yunet_n_640_640.onnx` is in the public repository ShiqiYu/libfacedetection.train, Apache-2.0, and not part of this
project). A frame is bad where it finds a face of 24 px or more that it also finds in the frame as filmed, that is
not the lifter's, and not mostly under a cover (blurred heads are faces to it too); those are written as PNG to be
looked at. It also tells what covering costs: the share of the picture, how often the lifter's face or the plate is
under a cover. `marks` does the same for heads marked by hand: who stands where in which frame.

Of the marked clips, those in `DEVELOPMENT` were looked at while thresholds were set; all others were not.
"""

from __future__ import annotations

import argparse
import json
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from midfoot.body.pose import not_seen
from midfoot.publish.blur import Veil, veil_of
from midfoot.records.heads import Heads, HeadTrack

DEVELOPMENT = ("R5a", "R5b", "R5c", "R7", "opencap_squat", "pasted-2", "pasted-4", "pasted-6")
PUBLISHED_PX = 1280
LEAST_FACE_PX = 24.0
SURE, SAME_SURE = 0.7, 0.5
"""Least score of a face in the covered frame, and of the same one in the frame as filmed."""
COVERED = 0.6
"""Share of a face's box that must lie under covers."""
OWN = 1.0
"""A face no farther from the lifter's head than this, in its radii, is his."""


def name_of(clip: Path) -> str:
    return clip.stem if clip.stem != "video" else clip.parent.name


def find(clips: list[Path], out: Path, again: bool) -> None:
    """Look for the heads of every clip, one JSON a clip."""
    from midfoot import footage
    from midfoot.body.heads import HeadScout
    from midfoot.body.models import ensure_models

    out.mkdir(parents=True, exist_ok=True)
    models = ensure_models(faces=True)
    for clip in clips:
        file = out / f"{name_of(clip)}.json"
        if file.is_file() and not again:
            continue
        scout, began, last_s = HeadScout(models), time.process_time(), 0.0
        for frame in footage.frames(clip):
            scout.see(frame)
            last_s = frame.t_s
        heads, took = scout.result(), time.process_time() - began
        tracks = [
            {"by": t.by, "rows": np.column_stack([t.t_s, t.xy_px, t.radius_px]).round(3).tolist(),
             "hips": t.hips_px.round(1).tolist(), "score": t.score,
             "seen": t.seen_s.round(3).tolist()}
            for t in heads.tracks
        ]  # fmt: skip
        span = [heads.from_s, heads.to_s, heads.width_px, heads.height_px]
        document = {"clip": str(clip), "span": span, "seconds": took, "tracks": tracks}
        file.write_text(json.dumps(document))
        print(f"{file.stem}: {len(tracks)} heads; {took:.1f} s of one core for {last_s:.1f} s", flush=True)


def heads_in(document: dict[str, Any]) -> Heads:
    tracks = []
    for told in document["tracks"]:
        rows, hips = np.array(told["rows"]).reshape(-1, 4), np.array(told["hips"]).reshape(-1, 2)
        tracks.append(
            HeadTrack(told["by"], rows[:, 0], rows[:, 1:3], rows[:, 3], hips, told["score"], told["seen"])
        )
    span = document["span"]
    return Heads(span[0], span[1], tuple(tracks), span[2], span[3])


def veil_in(document: dict[str, Any], name: str, measured: list[Path], **how: Any) -> tuple[Veil, Any]:
    """Give who is covered, by the measured folder of the clip where there is one, and the bar."""
    from midfoot.store import read_measurement

    folder = next((m / name for m in measured if (m / name / "measurement.json").is_file()), None)
    if folder is None:
        return veil_of(heads_in(document), not_seen("not measured"), with_lifter=False, **how), None
    data = read_measurement(folder).data
    return veil_of(heads_in(document), data.body, with_lifter=False, bar=data.track, **how), data.track


def frames_of(clip: str, step: int, wanted: set[int] | None = None) -> Iterator[tuple[int, float, Any]]:
    """Decode every n-th frame, upright, without the program's own footage stage."""
    import av

    with av.open(clip) as container:
        stream = container.streams.video[0]
        for k, frame in enumerate(container.decode(stream)):
            if (k % step == 0) if wanted is None else (k in wanted):
                rgb = frame.to_ndarray(format="rgb24")
                turns = round(getattr(frame, "rotation", 0) / 90) % 4
                yield k, float(frame.time or 0.0), np.ascontiguousarray(np.rot90(rgb, turns))


class Judge:
    """The detector that the program does not use."""

    def __init__(self, net: Path) -> None:
        self._net, self._made = str(net), {}  # type: ignore[var-annotated]

    def look(self, rgb: Any) -> list[tuple[float, float, float, float, float]]:
        """Give the faces in a picture: left, top, width, height, score."""
        size = (rgb.shape[1], rgb.shape[0])
        if size not in self._made:
            self._made[size] = cv2.FaceDetectorYN.create(self._net, "", size, SAME_SURE, 0.3, 500)
        _, rows = self._made[size].detect(np.ascontiguousarray(rgb[:, :, ::-1]))
        return [(*map(float, r[:4]), float(r[14])) for r in ([] if rows is None else rows)]


def show(folder: Path, net: Path, measured: list[Path], step: int, only: list[str]) -> None:
    """Hold covered frames against the detector."""
    judge = Judge(net)
    for file in sorted(folder.glob("*.json")):
        if only and file.stem not in only:
            continue
        document = json.loads(file.read_text())
        for how in (None, False):
            veil, bar = veil_in(document, file.stem, measured, wide=how)
            if how is False and not veil.doubts:
                continue
            print(f"{file.stem}, {'heads alone' if how is False else 'as published'}: "
                  f"{_shown(document, file, veil, bar, judge, step)}", flush=True)  # fmt: skip


def _shown(document: dict[str, Any], file: Path, veil: Veil, bar: Any, judge: Judge, step: int) -> str:
    looked = faces = bad = own_seen = own_lost = plates = plates_lost = 0
    shares, spent = [], 0.0
    for k, t_s, rgb in frames_of(document["clip"], step):
        zoom = min(1.0, PUBLISHED_PX / max(rgb.shape[:2]))
        small = cv2.resize(rgb, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA) if zoom < 1 else rgb
        if not veil.heads.from_s - 0.1 <= t_s <= veil.heads.to_s + 0.1:
            continue
        began = time.process_time()
        covered = veil.over(small, t_s, zoom)
        spent += time.process_time() - began
        looked += 1
        flat = _flat(veil, t_s, small.shape, zoom)
        shares.append(flat.mean())
        before, after = judge.look(small), judge.look(covered)
        own = veil.own.at(t_s)
        mine = [b for b in before if own is not None and b[4] >= SURE and _at(b, own, zoom)]
        own_seen += bool(mine)
        own_lost += bool(mine) and max(_under(flat, b) for b in mine) > 0.3
        others = [b for b in before if b[4] >= SURE and min(b[2:4]) >= LEAST_FACE_PX and b not in mine]
        faces += len(others)
        left = [
            a for a in after
            if a[4] >= SURE and min(a[2:4]) >= LEAST_FACE_PX and not (own is not None and _at(a, own, zoom))
            and any(_same(a, b) for b in before) and _under(flat, a) < COVERED
        ]  # fmt: skip
        bad += bool(left)
        plate = _plate(bar, t_s)
        if plate is not None:
            x, y, half = (v * zoom for v in plate)
            plates += 1
            plates_lost += _under(flat, (x - half, y - half, 2 * half, 2 * half, 1.0)) > 0.3
        if left and bad <= 40:
            for a in left:
                cv2.rectangle(
                    covered, (int(a[0]), int(a[1])), (int(a[0] + a[2]), int(a[1] + a[3])), (255, 0, 0), 2
                )
            path = file.parent / "bare" / f"{file.stem}-{'wide' if veil.wide else 'heads'}-{k:05d}.png"
            path.parent.mkdir(exist_ok=True)
            cv2.imwrite(str(path), covered[:, :, ::-1])
    good = 100 * (1 - bad / max(looked, 1))
    mode = "all but lifter and bar" if veil.wide else "heads"
    why = f"; doubts {len(veil.doubts)}: {veil.doubts[0].words}" if veil.doubts else ""
    return (
        f"{mode}, {looked} frames, {faces} bystanders' faces as filmed; {good:.1f} % of frames with no bare one; "
        f"{100 * float(np.mean(shares)):.1f} % of the picture covered; lifter's face under a cover {own_lost} of "
        f"{own_seen}, plate {plates_lost} of {plates}; {1000 * spent / max(looked, 1):.0f} ms a frame{why}"
    )


def _flat(veil: Veil, t_s: float, shape: tuple[int, ...], zoom: float) -> Any:
    """Give which pixels are covered."""
    flat: Any = np.zeros(shape[:2], np.uint8)
    outline = veil.outline(t_s)
    if outline is not None:
        flat[outline.mask(shape, zoom) < 0.5] = 1
    for x, y, radius in veil.circles(t_s):
        cv2.circle(flat, (round(x * zoom), round(y * zoom)), round(radius * zoom), 1, -1)
    return flat


def _under(flat: Any, box: tuple[float, ...]) -> float:
    x, y, width, height = (round(v) for v in box[:4])
    part = flat[max(y, 0) : max(y + height, 0), max(x, 0) : max(x + width, 0)]
    return float(part.mean()) if part.size else 0.0


def _at(box: tuple[float, ...], circle: tuple[float, float, float], zoom: float) -> bool:
    x, y = box[0] + box[2] / 2, box[1] + box[3] / 2
    return bool(np.hypot(x - circle[0] * zoom, y - circle[1] * zoom) <= OWN * circle[2] * zoom)


def _same(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    away = np.hypot(a[0] + a[2] / 2 - b[0] - b[2] / 2, a[1] + a[3] / 2 - b[1] - b[3] / 2)
    return bool(away <= 0.7 * max(a[2], b[2]) and 0.5 < a[2] / b[2] < 2)


def _plate(bar: Any, t_s: float) -> tuple[float, float, float] | None:
    if bar is None or bar.source != "plate" or not bar.diameter_px or not len(bar.t_s):
        return None
    row = int(np.argmin(np.abs(bar.t_s - t_s)))
    if abs(bar.t_s[row] - t_s) > 0.1 or not np.isfinite(bar.xy_px[row]).all():
        return None
    return float(bar.xy_px[row, 0]), float(bar.xy_px[row, 1]), 0.6 * bar.diameter_px.value / 2


def marks(file: Path, folder: Path, measured: list[Path]) -> None:
    """Hold the covers against heads marked by hand: `[[clip.head]]` with t_s, x_px, y_px, width_px and who."""
    told = tomllib.loads(file.read_text())
    sums = {True: [0, 0, 0, 0], False: [0, 0, 0, 0]}
    for name, clip in told.items():
        if not (folder / f"{name}.json").is_file():
            continue
        document = json.loads((folder / f"{name}.json").read_text())
        veil, _ = veil_in(document, name, measured)
        width, height = document["span"][2:4]
        zoom = min(1.0, PUBLISHED_PX / max(width, height))
        wrong, total = [], sums[name in DEVELOPMENT]
        for head in clip.get("head", ()):
            t_s = min(head["t_s"], veil.heads.to_s)
            side = head["width_px"] * zoom
            box = (head["x_px"] * zoom - side / 2, head["y_px"] * zoom - side / 2, side, side)
            under = _under(_flat(veil, t_s, (round(height * zoom), round(width * zoom)), zoom), box)
            if head["who"] == "lifter":
                total[2] += 1
                total[3] += under < 0.3
            elif side >= LEAST_FACE_PX:
                total[0] += 1
                total[1] += under >= COVERED
                if under < COVERED:
                    wrong.append((head["t_s"], head["who"], round(under, 2)))
        print(
            f"{name}: {'wide' if veil.wide else 'heads'}; {len(clip.get('head', ()))} marks; bare: {wrong or '-'}"
        )
    for developed, (total_n, good, lifters, spared) in sums.items():
        print(f"{'development' if developed else 'held out'}: bystanders {good} of {total_n} covered; the lifter "
              f"spared in {spared} of {lifters}")  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    steps = parser.add_subparsers(dest="step_name", required=True)
    one = steps.add_parser("find")
    one.add_argument("clips", nargs="+", type=Path)
    one.add_argument("--out", type=Path, required=True)
    one.add_argument("--again", action="store_true")
    two = steps.add_parser("show")
    two.add_argument("folder", type=Path)
    two.add_argument("--net", type=Path, required=True)
    two.add_argument("--step", type=int, default=6)
    two.add_argument("--only", nargs="*", default=[])
    three = steps.add_parser("marks")
    three.add_argument("marks", type=Path)
    three.add_argument("folder", type=Path)
    for step in (two, three):
        step.add_argument("--measured", type=Path, nargs="*", default=[])
    told = parser.parse_args()
    if told.step_name == "find":
        find(told.clips, told.out, told.again)
    elif told.step_name == "show":
        show(told.folder, told.net, told.measured, told.step, told.only)
    else:
        marks(told.marks, told.folder, told.measured)


if __name__ == "__main__":
    main()

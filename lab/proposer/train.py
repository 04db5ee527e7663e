# ruff: noqa: E501 - the text is part of the recipe's fingerprint: no change without training again
"""Train the proposer for a given time on drawn scenes: `python -m proposer.train PHOTOS OUT --seconds 500`.

PHOTOS is a folder with the open photographs that photographs.json names, all 640x427; every ninth is held out for the
figures printed at the end. Writes OUT/proposer.pt and OUT/sheet.jpg.
"""

from __future__ import annotations

import argparse
import copy
import hashlib
import json
import math
import time
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import torch
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from . import atlas, scene
from .draw import STRIDE, Painter
from .net import Net, loss


class Scenes(IterableDataset):  # type: ignore[type-arg]
    """Endless composed batches; batch k of seed s is always the same."""

    def __init__(self, seed: int, size: int) -> None:
        self.seed, self.size = seed, size

    def __iter__(self) -> Iterator[dict[str, torch.Tensor]]:
        info = get_worker_info()
        at, step = (info.id, info.num_workers) if info else (0, 1)
        while True:
            got = scene.batch(self.seed * 10_000_000 + at, self.size)
            yield {k: torch.from_numpy(v) for k, v in got.items()}
            at += step


def photographs(folder: Path) -> tuple[torch.Tensor, torch.Tensor]:
    """Read the folder: (n, 4, h, w) bytes to train on and to hold out; the fourth plane marks what is not judged.

    photographs.json names the pictures and, for each, discs (x, y, half-axis, aspect) that may be stored plates.
    """
    listed = json.loads((Path(__file__).parent / "photographs.json").read_text())
    planes = []
    for name, discs in sorted(listed.items()):
        rgb = cv2.cvtColor(cv2.imread(str(folder / name)), cv2.COLOR_BGR2RGB)
        unjudged = np.zeros(rgb.shape[:2], np.uint8)
        for x, y, a, aspect in discs:
            cv2.ellipse(unjudged, (x, y), (int(a * max(aspect, 0.3) * 1.2), int(a * 1.2)), 0, 0, 360, 255, -1)
        planes.append(np.dstack([rgb, unjudged]).transpose(2, 0, 1))
    stack = torch.from_numpy(np.stack(planes))
    held = torch.arange(len(planes)) % 9 == 0
    return stack[~held], stack[held]


def found(out: torch.Tensor, score: float) -> list[np.ndarray]:
    """Boxes (k, 5) x, y, major half-axis, aspect, score of each picture, largest of their neighbourhood only."""
    heat = torch.sigmoid(out[:, :1].float())
    peak = (heat >= torch.nn.functional.max_pool2d(heat, 5, 1, 2)) & (heat > score)
    rows = []
    for i in range(len(out)):
        y, x = torch.nonzero(peak[i, 0], as_tuple=True)
        o = out[i, :, y, x].float()
        cx, cy = (x + o[1]) * STRIDE + 1.5, (y + o[2]) * STRIDE + 1.5
        row = torch.stack([cx, cy, 32 * torch.exp(o[3]), o[4], heat[i, 0, y, x]], 1)
        rows.append(row[row[:, 4].argsort(descending=True)].cpu().numpy())
    return rows


def sheet(pictures: torch.Tensor, goal: dict[str, torch.Tensor], boxes: list[np.ndarray], path: Path) -> None:
    """Draw what was asked (white cross) and what was found (coloured circle and score) over drawn pictures."""
    tiles = []
    for i in range(min(len(pictures), 40)):
        tile = (pictures[i].permute(1, 2, 0).float().cpu().numpy()[:, :, ::-1] * 255).astype(np.uint8).copy()
        heat = goal["heat"][i].cpu().numpy()
        for y, x in zip(*np.nonzero(heat >= 1)):
            a = 32 * math.exp(goal["maps"][i, 2, y, x])
            at = (int(x) * STRIDE + 2, int(y) * STRIDE + 2)
            cv2.drawMarker(tile, at, (255, 255, 255), cv2.MARKER_CROSS, int(min(2 * a, 60)), 1)
        for x, y, a, aspect, s in boxes[i]:
            cv2.ellipse(tile, (int(x), int(y)), (max(int(a * aspect), 1), max(int(a), 1)), 0, 0, 360, (0, 220, 255), 2)
            cv2.putText(tile, f"{s:.2f}", (int(x), int(y)), 0, 0.45, (0, 255, 0), 1)
        tiles.append(tile)
    rows = [np.hstack(tiles[k : k + 8]) for k in range(0, len(tiles) - 7, 8)]
    if rows:
        cv2.imwrite(str(path), np.vstack(rows), [cv2.IMWRITE_JPEG_QUALITY, 80])


def figures(goal: dict[str, torch.Tensor], boxes: list[np.ndarray]) -> np.ndarray:
    """Count (asked, found, boxes, boxes on no disc) and sum relative errors (centre, |log size|, |aspect|)."""
    total = np.zeros(7)
    for i, rows in enumerate(boxes):
        ys, xs = np.nonzero((goal["heat"][i] >= 1).cpu().numpy())
        maps, judge = goal["maps"][i].cpu().numpy(), goal["judge"][i].cpu().numpy()
        used = np.zeros(len(rows), bool)
        for y, x in zip(ys, xs):
            total[0] += 1
            a, aspect = 32 * math.exp(maps[2, y, x]), maps[3, y, x]
            cx, cy = (x + maps[0, y, x]) * STRIDE + 1.5, (y + maps[1, y, x]) * STRIDE + 1.5
            if len(rows):
                gap = np.hypot(rows[:, 0] - cx, rows[:, 1] - cy) / a
                k = int(gap.argmin())
                used |= gap < 0.5
                if gap[k] < 0.5:
                    total[1] += 1
                    total[4:] += gap[k], abs(math.log(rows[k, 2] / a)), abs(rows[k, 3] - aspect)
        inside = np.clip((rows[:, :2] / STRIDE).astype(int), 0, judge.shape[0] - 1)
        judged = judge[inside[:, 1], inside[:, 0]] > 0 if len(rows) else np.zeros(0, bool)
        total[2] += len(rows)
        total[3] += (~used & judged).sum()
    return total


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photos", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seconds", type=float, default=500)
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=12)
    parser.add_argument("--rate", type=float, default=4e-3)
    parser.add_argument("--device", default="cuda")
    parser.add_argument("--fuse", action="store_true", help="compile the painting of a layer")
    parser.add_argument("--begin", type=Path, help="weights to begin with")
    parser.add_argument("--compiled", action="store_true", help="compile the network too")
    parser.add_argument("--planes", action="store_true", help="colour planes one after the other in memory")
    args = parser.parse_args()
    start = time.monotonic()
    cv2.setNumThreads(1)
    torch.manual_seed(args.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    device = torch.device(args.device)
    generator = torch.Generator(device).manual_seed(args.seed)
    photos, held = photographs(args.photos)
    letters = torch.from_numpy(atlas.lettering(scene.LETTERINGS, 11)).to(device)
    pasted = torch.from_numpy(atlas.sprites(scene.SPRITES, 12)).to(device)
    painter = Painter(photos.to(device), letters, pasted, fuse=args.fuse)
    layout = torch.contiguous_format if args.planes else torch.channels_last
    net = Net().to(device, memory_format=layout)
    forward = torch.compile(net) if args.compiled else net
    if args.begin:
        net.load_state_dict(torch.load(args.begin, map_location=device, weights_only=True)["net"])
    average = copy.deepcopy(net)
    decayed = [p for p in net.parameters() if p.dim() > 1]
    others = [p for p in net.parameters() if p.dim() <= 1]
    groups = [{"params": decayed, "weight_decay": 0.03}, {"params": others, "weight_decay": 0.0}]
    optimiser = torch.optim.AdamW(groups, lr=args.rate, betas=(0.9, 0.99))
    scenes = DataLoader(Scenes(args.seed, args.batch), batch_size=None, num_workers=args.workers,
                        prefetch_factor=4 if args.workers else None, pin_memory=device.type == "cuda")  # fmt: skip
    print(f"{len(photos)} photographs, {len(held)} held out, {sum(p.numel() for p in net.parameters())} parameters")
    args.out.mkdir(parents=True, exist_ok=True)
    step, shown = 0, torch.zeros(5, device=device)
    begun = time.monotonic()

    def picture(batch: dict[str, torch.Tensor], painter: Painter) -> tuple[torch.Tensor, dict[str, torch.Tensor]]:
        with torch.no_grad():
            moved = {k: v.to(device, non_blocking=True) for k, v in batch.items()}
            x, goal = painter(moved, generator)
            return x.contiguous(memory_format=layout), goal

    for batch in scenes:
        spent = (time.monotonic() - start) / args.seconds
        if spent >= 1:
            break
        x, goal = picture(batch, painter)
        warm = min(1.0, (step + 1) / 300)
        for group in optimiser.param_groups:
            group["lr"] = args.rate * warm * (0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * min(spent, 1))))
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            out = forward(x)
        total, parts = loss(out, goal)
        optimiser.zero_grad(set_to_none=True)
        total.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step += 1
        keep = min(0.999, 1 - 1 / (step + 1)) if step < 4000 else 0.9995
        with torch.no_grad():
            torch._foreach_lerp_(list(average.parameters()), list(net.parameters()), 1 - keep)
            for a, b in zip(average.buffers(), net.buffers(), strict=True):
                a.copy_(b if a.dtype == torch.long else torch.lerp(a, b, 1 - keep))
            shown += torch.stack([total.detach(), *parts.values()]).detach()
        if step in (1, 10, 50) or step % 250 == 0:
            since = 250 if step % 250 == 0 else 1
            print(step, f"{time.monotonic() - start:.0f} s", f"{(time.monotonic() - begun) / step * 1e3:.0f} ms/step",
                  [round(v, 4) for v in (shown / since).tolist()], flush=True)  # fmt: skip
            shown.zero_()
        if step % 1000 == 0:
            torch.save({"net": average.state_dict(), "facts": {}}, args.out / "proposer.pt")
    from .export import recipe

    facts = {"recipe_sha256": recipe(args.seed), "seed": args.seed, "steps": step, "batch": args.batch,
             "seconds": round(time.monotonic() - start),
             "begun_with": hashlib.sha256(args.begin.read_bytes()).hexdigest() if args.begin else ""}  # fmt: skip
    torch.save({"net": {k: v.cpu() for k, v in average.state_dict().items()}, "facts": facts}, args.out / "proposer.pt")
    average.eval()
    painter.photos = held.to(device)
    total = np.zeros(7)
    for k in range(12):
        batch = {n: torch.from_numpy(v) for n, v in scene.batch(987_654_321 + k, args.batch).items()}
        x, goal = picture(batch, painter)
        with torch.no_grad():
            boxes = found(average(x), 0.3)
        total += figures(goal, boxes)
        if k == 0:
            sheet(x, goal, boxes, args.out / "sheet.jpg")
    n = max(total[1], 1)
    print(f"held out: found {total[1] / total[0]:.3f} of {total[0]:.0f}, false {total[3] / max(total[2], 1):.3f} of "
          f"{total[2]:.0f}; centre {total[4] / n:.3f} R, size {total[5] / n:.3f}, aspect {total[6] / n:.3f}")  # fmt: skip
    print(facts)


if __name__ == "__main__":
    main()

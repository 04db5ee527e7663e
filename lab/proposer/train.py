# ruff: noqa: E501 - the text is part of the recipe's fingerprint: no change without training again
"""Train the proposer for a given time on drawn scenes: `python -m proposer.train PACK.npz OUT --seconds 480`.

PACK is what photographs.py makes; every ninth exercise is held out for the figures printed at the end. `--begin` takes
convolutions that `export.py --opened` took out of a packaged network. Writes OUT/proposer.pt and OUT/sheet.npz.
"""

from __future__ import annotations

import argparse
import copy
import hashlib
import io
import json
import math
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from . import scene
from .draw import STRIDE, Ground, Painter
from .net import Net, loss

MOST_PLATES = 10
"""Real plates of a photograph that are asked for, largest first; nothing near the others is judged."""


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


def _ground(pictures: list[np.ndarray], marks: list[dict[str, Any]]) -> Ground:
    """Put photographs and what is marked on them together.

    Marks are rows x, y, major half-axis, aspect: `plates` (real ones, looked at), `false` (the earlier network's
    finds that are none) and `unsure`, which are not judged; nor is anything near a plate, since what stands beside
    a marked plate is often another, nor anything but the marks on a picture with a `barbell`.
    """
    planes = []
    for rgb, mark in zip(pictures, marks, strict=True):
        unjudged = np.full(rgb.shape[:2], bool(mark.get("barbell")))
        for name, times in (("unsure", 1.2), ("plates", 2.2), ("false", 1.1)):
            for x, y, a, aspect in mark.get(name, []):
                reach = a * times
                top, left = max(int(y - reach), 0), max(int(x - reach), 0)
                part = unjudged[top : int(y + reach) + 2, left : int(x + reach) + 2]
                rows, columns = np.ogrid[: part.shape[0], : part.shape[1]]
                off = ((columns + left - x) / max(aspect, 0.3)) ** 2 + (rows + top - y) ** 2
                part[off < reach**2] = name != "false"
        planes.append(np.dstack([rgb, unjudged.astype(np.uint8) * 255]).transpose(2, 0, 1))
    plates = np.zeros((len(marks), MOST_PLATES, 5), np.float32)
    looks = np.zeros((len(marks), 16, 2), np.float32)
    counts, weights = np.zeros(len(marks), np.float32), np.ones(len(marks), np.float32)
    for i, mark in enumerate(marks):
        largest = sorted(mark.get("plates", []), key=lambda row: -row[2])
        for k, row in enumerate(largest[:MOST_PLATES]):
            plates[i, k] = (*row, 1.0)
        places = [row[:2] for row in (largest[:MOST_PLATES] + mark.get("false", []))[:16]]
        counts[i] = len(places)
        looks[i, : len(places)] = np.reshape(places, (-1, 2))
        weights[i] += 0.7 * ("barbell" in mark) + 0.7 * ("false" in mark)
    stack = torch.from_numpy(np.stack(planes))
    return Ground(stack, *(torch.from_numpy(v) for v in (plates, looks, counts, weights)))


def _jpeg(data: np.ndarray) -> np.ndarray:
    """Read a picture (h, w, 3) with what is there: Pillow, else torchvision."""
    try:
        from PIL import Image
    except ImportError:
        from torchvision.io import decode_jpeg

        return np.asarray(decode_jpeg(torch.from_numpy(data.copy())).permute(1, 2, 0).numpy())
    return np.asarray(Image.open(io.BytesIO(data.tobytes())).convert("RGB"))


def photographs(pack: Any, few: int = 0) -> tuple[Ground, Ground]:
    """Read the pack: photographs to train on and to hold out, every ninth exercise."""
    listed = sorted(json.loads((Path(__file__).parent / "photographs.json").read_text()).items())
    blob, ends = pack["files"], pack["ends"]
    exercises = sorted({name.rsplit("_", 1)[0] for name, _ in listed})
    aside = set(exercises[::9])
    kept: tuple[list[int], list[int]] = ([], [])
    for i, (name, _) in enumerate(listed):
        kept[name.rsplit("_", 1)[0] in aside].append(i)
    out = []
    for rows in kept:
        rows = rows[:few] if few else rows
        with ThreadPoolExecutor(8) as pool:
            pictures = list(pool.map(lambda i: _jpeg(blob[ends[i - 1] if i else 0 : ends[i]]), rows))
        out.append(_ground(pictures, [listed[i][1] for i in rows]))
    return out[0], out[1]


def settle(net: Net, convolutions: list[tuple[torch.Tensor, torch.Tensor]], pictures: torch.Tensor) -> None:
    """Take over the folded convolutions of a packaged network; the norms are set on `pictures` to change nothing.

    Outputs that the packaged network does not have keep their fresh weights.
    """
    left = iter(convolutions)
    hooks, wait = [], []

    def take(module: torch.nn.Module, _args: Any, out: torch.Tensor) -> torch.Tensor:
        weight, bias = (v.to(out.device) for v in next(left))
        with torch.no_grad():
            module.weight[: len(weight)] = weight
            if module.bias is not None:
                module.bias[: len(bias)] = bias
            else:
                wait.append(bias)
        return module._conv_forward(_args[0], module.weight, module.bias)

    def norm(module: torch.nn.Module, args: Any) -> None:
        var, mean = torch.var_mean(args[0], (0, 2, 3), correction=0)
        with torch.no_grad():
            module.running_mean.copy_(mean)
            module.running_var.copy_(var)
            module.weight.copy_(torch.sqrt(var + module.eps))
            module.bias.copy_(mean + wait.pop())

    for module in net.modules():
        if isinstance(module, torch.nn.Conv2d):
            hooks.append(module.register_forward_hook(take))
        elif isinstance(module, torch.nn.BatchNorm2d):
            hooks.append(module.register_forward_pre_hook(norm))
    net.eval()
    with torch.no_grad():
        net(pictures)
    for hook in hooks:
        hook.remove()
    assert next(left, None) is None
    net.train()


def found(out: torch.Tensor, score: float) -> list[np.ndarray]:
    """Boxes (k, 6) x, y, major half-axis, aspect, score, near of each picture, largest of their neighbourhood only."""
    heat = torch.sigmoid(out[:, :1].float())
    peak = (heat >= torch.nn.functional.max_pool2d(heat, 5, 1, 2)) & (heat > score)
    rows = []
    for i in range(len(out)):
        y, x = torch.nonzero(peak[i, 0], as_tuple=True)
        o = out[i, :, y, x].float()
        cx, cy = (x + o[1]) * STRIDE + 1.5, (y + o[2]) * STRIDE + 1.5
        row = torch.stack([cx, cy, 32 * torch.exp(o[3]), o[4], heat[i, 0, y, x], torch.sigmoid(o[5])], 1)
        rows.append(row[row[:, 4].argsort(descending=True)].cpu().numpy())
    return rows


def figures(goal: dict[str, torch.Tensor], boxes: list[np.ndarray]) -> np.ndarray:
    """Count (asked, found, boxes, boxes on no disc), sum relative errors (centre, |log size|, |aspect|), count ends
    (known, said right)."""
    total = np.zeros(9)
    for i, rows in enumerate(boxes):
        ys, xs = np.nonzero((goal["heat"][i] >= 1).cpu().numpy())
        maps, judge, near = (goal[k][i].cpu().numpy() for k in ("maps", "judge", "near"))
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
                    total[4:7] += gap[k], abs(math.log(rows[k, 2] / a)), abs(rows[k, 3] - aspect)
                    if near[y, x] >= 0:
                        total[7:] += 1, (rows[k, 5] > 0.5) == (near[y, x] > 0.5)
        inside = np.clip((rows[:, :2] / STRIDE).astype(int), 0, judge.shape[0] - 1)
        judged = judge[inside[:, 1], inside[:, 0]] > 0 if len(rows) else np.zeros(0, bool)
        total[2] += len(rows)
        total[3] += (~used & judged).sum()
    return total


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pack", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seconds", type=float, default=480)
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--few", type=int, default=0, help="photographs, to try the program")
    parser.add_argument("--tries", type=int, default=12, help="batches of held-out photographs")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=10)
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--device", default="cuda")
    parser.add_argument("--fuse", action="store_true", help="compile the painting of a layer")
    parser.add_argument("--begin", type=Path, help="checkpoint or opened package to begin with")
    parser.add_argument("--compiled", action="store_true", help="compile the network too")
    parser.add_argument("--planes", action="store_true", help="colour planes one after the other in memory")
    args = parser.parse_args()
    start = time.monotonic()
    torch.manual_seed(args.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    device = torch.device(args.device)
    generator = torch.Generator(device).manual_seed(args.seed)
    pack = np.load(args.pack)
    ground, held = photographs(pack, args.few)
    letters = (torch.from_numpy(pack["letters"]).float() / 255).to(device)
    pasted = (torch.from_numpy(pack["pasted"]).float() / 255).to(device)
    painter = Painter(ground.to(device), letters, pasted, fuse=args.fuse)
    layout = torch.contiguous_format if args.planes else torch.channels_last
    net = Net().to(device, memory_format=layout)
    if args.begin:
        begun = torch.load(args.begin, map_location=device, weights_only=True)
        drawn = {k: torch.from_numpy(v).to(device) for k, v in scene.batch(123_456_789, min(args.batch, 48)).items()}
        with torch.no_grad():
            pictures, _ = painter(drawn, generator)
        if "net" in begun:
            net.load_state_dict(begun["net"])
        else:
            settle(net, begun["convolutions"], pictures)
    forward = torch.compile(net) if args.compiled else net
    average = copy.deepcopy(net)
    decayed = [p for p in net.parameters() if p.dim() > 1]
    others = [p for p in net.parameters() if p.dim() <= 1]
    groups = [{"params": decayed, "weight_decay": 0.03}, {"params": others, "weight_decay": 0.0}]
    optimiser = torch.optim.AdamW(groups, lr=args.rate, betas=(0.9, 0.99))
    scenes = DataLoader(Scenes(args.seed, args.batch), batch_size=None, num_workers=args.workers,
                        prefetch_factor=4 if args.workers else None, pin_memory=device.type == "cuda")  # fmt: skip
    print(f"{time.monotonic() - start:.0f} s, {len(ground.weights)} photographs, {len(held.weights)} held out, {sum(p.numel() for p in net.parameters())} parameters")
    args.out.mkdir(parents=True, exist_ok=True)
    step, shown = 0, torch.zeros(6, device=device)
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
    from .recipe import recipe

    facts = {"recipe_sha256": recipe(args.seed), "seed": args.seed, "steps": step, "batch": args.batch,
             "seconds": round(time.monotonic() - start),
             "begun_with": hashlib.sha256(args.begin.read_bytes()).hexdigest() if args.begin else ""}  # fmt: skip
    torch.save({"net": {k: v.cpu() for k, v in average.state_dict().items()}, "facts": facts}, args.out / "proposer.pt")
    average.eval()
    painter.ground = held.to(device)
    total = np.zeros(9)
    for k in range(args.tries):
        batch = {n: torch.from_numpy(v) for n, v in scene.batch(987_654_321 + k, args.batch).items()}
        x, goal = picture(batch, painter)
        with torch.no_grad():
            boxes = found(average(x), 0.3)
        total += figures(goal, boxes)
        if k == 0:
            heat = goal["heat"].cpu().numpy()
            shown_px = (x[:40].cpu().permute(0, 2, 3, 1).contiguous() * 255).byte().numpy()
            np.savez_compressed(args.out / "sheet.npz", pictures=shown_px, heat=(heat[:40] * 255).astype(np.uint8),
                                boxes=np.concatenate([np.insert(b, 0, i, 1) for i, b in enumerate(boxes[:40])]))
    n = max(total[1], 1)
    print(f"held out: found {total[1] / total[0]:.3f} of {total[0]:.0f}, false {total[3] / max(total[2], 1):.3f} of "
          f"{total[2]:.0f}; centre {total[4] / n:.3f} R, size {total[5] / n:.3f}, aspect {total[6] / n:.3f}; "
          f"end right {total[8] / max(total[7], 1):.3f} of {total[7]:.0f}")  # fmt: skip
    print(facts)


if __name__ == "__main__":
    main()

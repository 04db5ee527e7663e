"""Clips with bystanders whose heads are known by construction: people out of still pictures, pasted into a clip.

    python -m lab.pasted_people CLIP STILLS_FOLDER --net YUNET.onnx --out DIR --seeds 1-6 [--seconds 8]

In each clip one to four people stand, walk by over the edges, or walk in and stop; some pass behind one of two
posts that are drawn over them. Each writes SEED.mp4 and its marks (as `lab/marked_heads.toml`) every half second,
for heads less than half hidden. Even seeds are for development, odd ones are held out: look only at the figures of
these.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from attrs import frozen

from lab.score_blur import Judge, frames_of
from midfoot.publish.encode import Encoder

STANDING = ("Axle_Deadlift_1", "Barbell_Full_Squat_0", "Barbell_Squat_0", "Deadlift_with_Chains_1", "Rack_Pulls_1",
            "Box_Squat_0", "Sumo_Deadlift_1", "Speed_Squats_1")  # fmt: skip
FACES_PX = (26, 60)
WIDE, UP, DOWN = 1.7, 0.9, 4.2
"""How much of a person is pasted, in widths of the face: to either side, above its middle, below."""


def cut_outs(folder: Path, judge: Judge) -> list[tuple[Any, Any, float]]:
    """Give upper bodies out of the stills: picture, how much of it shows (0..1), width of the face, px."""
    out = []
    for name in STANDING:
        files = sorted(folder.glob(f"{name}*.jpg"))
        rgb = cv2.cvtColor(cv2.imread(str(files[0])), cv2.COLOR_BGR2RGB) if files else None
        faces = judge.look(rgb) if rgb is not None else []
        if not faces or rgb is None:
            continue
        x, y, width, height, _ = max(faces, key=lambda f: f[4])
        middle = (x + width / 2, y + height / 2)
        side = (round(2 * WIDE * width), round((UP + DOWN) * width))
        move = np.array([[1, 0, WIDE * width - middle[0]], [0, 1, (UP + 0.1) * width - middle[1]]])
        part = cv2.warpAffine(rgb, move, side, borderMode=cv2.BORDER_REPLICATE)
        shows: Any = np.zeros(part.shape[:2], np.uint8)
        at = (round(WIDE * width), round((UP + 0.05) * width))
        cv2.ellipse(shows, at, (round(0.72 * width), round(0.95 * width)), 0, 0, 360, 255, -1)
        cv2.rectangle(
            shows, (round((WIDE - 0.45) * width), at[1]), (round((WIDE + 0.45) * width), side[1]), 255, -1
        )
        shoulders = (round(1.45 * width), round(3.6 * width))
        cv2.ellipse(shows, (at[0], round((UP + 4.3) * width)), shoulders, 0, 0, 360, 255, -1)
        out.append((part, cv2.GaussianBlur(shows, (0, 0), 0.05 * width).astype(np.float32) / 255, width))
    return out


def made(clip: str, seed: int, people: list[tuple[Any, Any, float]], folder: Path, seconds: float) -> str:
    """Write one clip; gives its marks."""
    import av

    rng = np.random.default_rng(seed)
    frames = frames_of(clip, 1)
    _, start_s, first = next(frames)
    height, width = first.shape[:2]
    cast = [_part(rng, who, people, width, height) for who in range(int(rng.integers(1, 5)))]
    posts = [(float(rng.uniform(0.05, 0.95)) * width, float(rng.uniform(0.012, 0.035)) * width) for _ in range(2)]
    lines: list[str] = []
    next_s = 0.25
    with av.open(str(folder / f"pasted-{seed}.mp4"), "w", format="mp4") as container:
        encoder = Encoder(container, (width, height))
        for _, at_s, rgb in frames:
            t_s = at_s - start_s
            if t_s > seconds:
                break
            picture = rgb.copy()
            places = [part.at(t_s, width, height) for part in cast]
            for part, (x, y) in zip(cast, places, strict=True):
                corner = (x - part.zoom * part.rgb.shape[1] / 2, y - UP * part.face_px)
                move = np.array([[part.zoom, 0, corner[0]], [0, part.zoom, corner[1]]])
                weight = cv2.warpAffine(part.shows, move, (width, height))[..., None]
                there = cv2.warpAffine(part.rgb, move, (width, height))
                picture = (picture * (1 - weight) + there * weight).astype(np.uint8)
            for middle, half in posts:
                picture[:, max(0, round(middle - half)) : max(0, round(middle + half))] = (96, 98, 104)
            encoder.put(picture, t_s)
            if t_s >= next_s:
                next_s += 0.5
                lines += [
                    f'[["pasted-{seed}".head]]\nt_s = {t_s:.3f}\nx_px = {x:.0f}\ny_px = {y:.0f}\n'
                    f'width_px = {part.face_px:.0f}\nwho = "pasted {part.who}"\n'
                    for k, (part, (x, y)) in enumerate(zip(cast, places, strict=True))
                    if _seen(part, x, y, width, posts, list(zip(cast, places, strict=True))[k + 1 :]) > 0.5
                ]
        encoder.end()
    return "\n".join(lines)


@frozen
class Part:
    """One person in a clip: what is pasted, how large, and how it goes about."""

    who: int
    rgb: Any
    shows: Any
    zoom: float
    face_px: float
    way: str
    home: tuple[float, float]
    edge: float
    speed: float
    since_s: float

    def at(self, t_s: float, width: int, height: int) -> tuple[float, float]:
        """Give the middle of the face at a moment, px."""
        x, y = self.home[0] + 0.004 * width * np.sin(1.7 * t_s + self.who), self.home[1]
        inward = float(np.sign(self.home[0] - self.edge))
        if self.way == "walks by":
            x = self.edge + inward * self.speed * (t_s + self.since_s)
        elif self.way == "walks and stops":
            x = self.edge + inward * min(abs(self.home[0] - self.edge), self.speed * t_s)
        return float(x), float(y + 0.002 * height * np.sin(6 * t_s + self.who))


def _part(rng: Any, who: int, people: list[tuple[Any, Any, float]], width: int, height: int) -> Part:
    rgb, shows, face = people[int(rng.integers(len(people)))]
    flip, zoom = bool(rng.integers(2)), float(rng.uniform(*FACES_PX)) / face
    side = -1 if rng.random() < 0.5 else 1
    home = width * (0.5 + side * float(rng.uniform(0.28, 0.46))), float(rng.uniform(0.15, 0.45)) * height
    way = str(rng.choice(["stands", "walks by", "walks and stops"]))
    return Part(
        who=who, rgb=np.ascontiguousarray(rgb[:, ::-1]) if flip else rgb, zoom=zoom, face_px=face * zoom, way=way,
        shows=np.ascontiguousarray(shows[:, ::-1]) if flip else shows, home=home,
        edge=-0.1 * width if side < 0 else 1.1 * width, speed=float(rng.uniform(0.1, 0.22)) * width,
        since_s=float(rng.uniform(0, 3)),
    )  # fmt: skip


def _seen(part: Part, x: float, y: float, width: int, posts: list[tuple[float, float]], later: list[Any]) -> float:
    """Give how much of a face's width is in the picture and not behind a post or somebody pasted over it."""
    left, right = max(x - part.face_px / 2, 0.0), min(x + part.face_px / 2, float(width))
    behind = [(middle - half, middle + half) for middle, half in posts]
    for other, (ox, oy) in later:
        reach = 1.45 * other.face_px
        if oy - other.face_px < y < oy + DOWN * other.face_px:
            behind.append((ox - reach, ox + reach))
    hidden = sum(max(0.0, min(right, b) - max(left, a)) for a, b in behind)
    return max(0.0, right - left - hidden) / part.face_px


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("clip")
    parser.add_argument("stills", type=Path)
    parser.add_argument("--net", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seeds", default="1-6")
    parser.add_argument("--seconds", type=float, default=8.0)
    told = parser.parse_args()
    told.out.mkdir(parents=True, exist_ok=True)
    people = cut_outs(told.stills, Judge(told.net))
    first, last = (int(v) for v in told.seeds.split("-"))
    for seed in range(first, last + 1):
        marks = made(told.clip, seed, people, told.out, told.seconds)
        (told.out / f"pasted-{seed}.toml").write_text(marks + "\n")
        print(f"pasted-{seed}: {marks.count('head]]')} marks", flush=True)


if __name__ == "__main__":
    main()

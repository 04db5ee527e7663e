"""A bank of bodies: a few dozen shapes of the open body, kept in one file, scaled to any stature.

Making the bank needs the package `anny`; using it does not. `python -m lab.render.bank FILE` makes it.
A body is scaled evenly, so its proportions are its shape's own at every stature.
"""

from __future__ import annotations

import os
import sys
from functools import lru_cache
from pathlib import Path

import numpy as np
from attrs import evolve
from scipy import sparse

from lab.render.body import Body

SHAPES = tuple(
    (gender, age, muscle, weight, 0.50 if gender < 0.5 else 0.55, proportions)
    for gender in (0.04, 0.94)
    for muscle, weight in ((0.6, 0.45), (0.75, 0.6), (0.9, 0.75), (0.8, 0.9))
    for age, proportions in ((0.58, 0.45), (0.68, 0.65))
)
"""Arguments of `body.load` for every shape."""
AS_LOADED = ("vertices_m", "heads_m")


def bank_file() -> Path:
    """Where the bank is kept: `MIDFOOT_BODIES`, else the cache folder."""
    told = os.environ.get("MIDFOOT_BODIES")
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return Path(told) if told else cache / "midfoot-lab" / "bodies.npz"


def make(path: Path) -> None:
    """Take every shape out of `anny` into one file."""
    from lab.render.body import load

    bodies = [load(*shape) for shape in SHAPES]
    first = bodies[0]
    assert first.keypoint_weights is not None
    path.parent.mkdir(parents=True, exist_ok=True)
    marks = first.keypoint_weights.tocsr()
    np.savez_compressed(
        path,
        vertices_m=np.stack([b.vertices_m for b in bodies]).astype("f4"),
        heads_m=np.stack([b.heads_m for b in bodies]).astype("f4"),
        faces=first.faces, bones=np.array(first.bones), parents=np.array(first.parents),
        keypoints=np.array(first.keypoints),
        **{f"skin_{k}": getattr(first.skin, k) for k in ("data", "indices", "indptr")},
        **{f"marks_{k}": getattr(marks, k) for k in ("data", "indices", "indptr")},
    )  # fmt: skip


@lru_cache(maxsize=2)
def _bank(path: Path) -> dict[str, np.ndarray]:
    if not path.exists():
        raise FileNotFoundError(
            f"{path}: no bank of bodies; make it with `python -m lab.render.bank` (needs anny)"
        )
    with np.load(path) as kept:
        return dict(kept)


@lru_cache(maxsize=4)
def body_of(shape: int, stature_m: float, path: Path | None = None) -> Body:
    """Give a shape's body at a stature."""
    kept = _bank(path or bank_file())
    vertices, heads = (kept[name][shape].astype(float) for name in AS_LOADED)
    count, bones = len(vertices), tuple(str(b) for b in kept["bones"])
    skin, marks = (
        sparse.csr_matrix((kept[f"{n}_data"], kept[f"{n}_indices"], kept[f"{n}_indptr"]), shape=size)
        for n, size in (("skin", (count, len(bones))), ("marks", (len(kept["keypoints"]), count)))
    )
    made = Body(
        bones=bones, parents=tuple(int(p) for p in kept["parents"]), heads_m=heads, vertices_m=vertices,
        faces=kept["faces"].astype(np.int32), skin=skin, keypoints=tuple(str(k) for k in kept["keypoints"]),
        keypoint_weights=marks,
    )  # fmt: skip
    by = stature_m / made.stature_m
    return evolve(made, vertices_m=vertices * by, heads_m=heads * by)


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else bank_file())

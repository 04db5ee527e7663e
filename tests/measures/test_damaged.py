"""Whatever is missing from a set, a measure is a number with errors or a reason: nothing fails, nothing is NaN."""

from __future__ import annotations

import numpy as np
from attrs import evolve
from hypothesis import Phase as Step
from hypothesis import given, settings
from hypothesis import strategies as st
from measures.figures import Plan, bencher, figure, oblique, puller, squatter

from midfoot.measures import measure
from midfoot.records.base import Value
from midfoot.records.measures import SetData
from midfoot.records.reps import OUTCOMES, Moment

FIGURES = {"squat": squatter(1.1), "bench": bencher(3.0, 20.0), "deadlift": puller(0.9)}
MOMENTS = ("start", "low_start", "low_end", "top_start", "top_end", "end")
WHOLE = {
    (lift, azimuth): figure((Plan(), Plan(dip=0.7)), lift, joints=joints, fps=30.0, camera=oblique(azimuth))[0]
    for lift, joints in FIGURES.items()
    for azimuth in (0.0, 30.0)
}


def damaged(data: SetData, seed: int, share: float) -> SetData:
    """Take away frames of the path, joints, moments; shift what is left of the moments."""
    rng = np.random.default_rng(seed)
    path, body = data.path, data.body
    gone = rng.random(len(path.t_s)) < share
    if rng.random() < 0.5:
        begin = rng.integers(0, len(gone))
        gone[begin : begin + rng.integers(0, 90)] = True
    state = body.state.copy()
    for k in range(state.shape[1]):
        if rng.random() < share:
            begin = rng.integers(0, len(state))
            state[begin : begin + rng.integers(1, len(state)), k] = 0
    state[rng.random(state.shape) < share / 3] = 0
    reps = []
    for rep in data.reps.reps:
        changes: dict[str, object] = {}
        for name in MOMENTS:
            moment = getattr(rep, name)
            if moment is None:
                continue
            if rng.random() < share / 2:
                changes[name] = None
            elif rng.random() < share:
                changes[name] = Moment(moment.t_s + float(rng.normal(0, 0.3)), 0.2)
        changes["outcome"] = str(rng.choice(["completed", *OUTCOMES]))
        changes["start_seen"] = bool(rng.random() > share)
        reps.append(evolve(rep, **changes))
    view = data.view
    if rng.random() < share:
        nothing = Value(float("nan"), float("nan"))
        view = evolve(view, distance_m=nothing, roll_deg=nothing, pitch_deg=nothing)
    if rng.random() < share / 2:
        view = evolve(view, facing="unknown", view_class="unknown", near_side=None)
    return evolve(
        data,
        view=view,
        scale=None if rng.random() < share / 3 else data.scale,
        path=evolve(
            path, up_mm=np.where(gone, np.nan, path.up_mm), forward_mm=np.where(gone, np.nan, path.forward_mm),
            seen=path.seen & ~gone,
        ),
        body=evolve(body, state=state, xy_px=np.where(state[:, :, None] > 0, body.xy_px, np.nan)),
        reps=evolve(data.reps, reps=tuple(reps)),
    )  # fmt: skip


@settings(max_examples=60, phases=[Step.explicit, Step.reuse, Step.generate])
@given(st.sampled_from(sorted(WHOLE)), st.integers(0, 10**6), st.floats(0.0, 1.0))
def test_nothing_fails_and_nothing_is_made_up(which: tuple[str, float], seed: int, share: float) -> None:
    found = measure(damaged(WHOLE[which], seed, share))
    for m in (*found.whole, *(m for row in found.reps for m in row)):
        if m.status in ("measured", "inferred"):
            assert np.isfinite([m.value, m.sd, m.sd_common]).all(), m
            assert m.sd >= 0, m
            assert m.sd_common >= 0, m
            assert m.basis, m
        else:
            assert m.value is None, m
            assert m.reason, m
    for d in found.drift:
        assert d.sd is None or np.isfinite(d.sd)

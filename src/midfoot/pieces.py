"""Clips that were cut: which pieces there are, and what was measured in each of them as one set.

Every piece has a camera, a scale and an origin of its own: nothing is compared across a cut that a moved camera
could have changed, unless the pieces agree in view and scale, and heights not even then.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from attrs import evolve, frozen

from midfoot import measures
from midfoot.records.bar import BarPath, BarTrack
from midfoot.records.base import Warned
from midfoot.records.body import BodyTrack
from midfoot.records.clip import Asked, ClipInfo, Reading
from midfoot.records.measures import Measure, Measured, SetData
from midfoot.records.reps import Phase, RepSet
from midfoot.reps import GivenError, GivenRep, GivenReps

LEAST_S = 1.0
"""A shorter piece shows no rep and is left aside."""
SCALE_SHARE = 0.05
"""Pieces whose scales differ by more are not one view of one set."""
AGAINST_SET = ("lockout_shortfall_mm", "low_height_change_mm", "depth_change_mm")
"""Heights against the set's highest or lowest: the origin of heights is each piece's own."""
SHORTEST_PHASE_S = 0.05


@frozen
class Piece:
    """One piece as it was measured: from and to (s, on the clip's clock), its data, what it warns of."""

    from_s: float
    to_s: float
    data: SetData
    warnings: tuple[Warned, ...] = ()


def readings(info: ClipInfo, reading: Reading) -> tuple[Reading, ...]:
    """Give how to read each piece of at least a second between the cuts of `info`, in order of time."""
    start = reading.from_s or 0.0
    edges = [start, *(c for c in info.cuts_s if c > start), start + info.duration_s]
    # a cut is the first frame of the new scene; the old one ends half an interval before it
    before = 0.5 * info.frame_interval_median_s
    return tuple(
        evolve(reading, from_s=a, to_s=b - before) for a, b in pairwise(edges) if b - before - a >= LEAST_S
    )


def shared_out(
    given: GivenReps, counts: Sequence[int], spans_s: Sequence[tuple[float, float]]
) -> tuple[GivenReps, ...]:
    """Give every piece its own part of the given reps, numbered from 1 within the piece.

    Parameters
    ----------
    given : numbers count the reps as measured over the whole clip.
    counts : reps measured in each piece.
    spans_s : from and to of each piece, s.

    Raises
    ------
    GivenError
        When a rep that was not measured is given without a time that lies in a piece.
    """
    past = np.cumsum(counts)
    shares: list[list[GivenRep]] = [[] for _ in counts]
    added = [0] * len(counts)
    for one in given.reps:
        if one.about_s is not None:  # known by its moment, whatever its number
            within = [k for k, (a, b) in enumerate(spans_s) if a <= one.about_s <= b]
            for place in within[:1]:
                shares[place].append(one)
            continue
        if one.n <= past[-1]:
            place = int(np.searchsorted(past, one.n))
            n = one.n - int(past[place] - counts[place])
        else:
            place = _piece_of(one, spans_s)
            added[place] += 1
            n = counts[place] + added[place]
        shares[place].append(evolve(one, n=n))
    return tuple(
        GivenReps(
            share,
            given.whole,
            tuple(m for m in given.missing if a <= sum(m) / 2 <= b),
            tuple(t for t in given.false_at if a <= t <= b),
        )
        for share, (a, b) in zip(shares, spans_s, strict=True)
    )


def _piece_of(one: GivenRep, spans_s: Sequence[tuple[float, float]]) -> int:
    names = ("start_s", "low_start_s", "low_end_s", "top_start_s", "top_end_s", "end_s")
    first = next((t for name in names if (t := getattr(one, name)) is not None), None)
    for place, (a, b) in enumerate(spans_s):
        if first is not None and a - LEAST_S / 2 <= first <= b + LEAST_S / 2:
            return place
    raise GivenError(f"Rep {one.n} lies in no measured piece of the cut clip; give its times.")


def joined(
    asked: Asked, info: ClipInfo, pieces: Sequence[Piece], span_s: tuple[float, float]
) -> tuple[SetData, Measured, tuple[Warned, ...]]:
    """Join what was measured in the pieces into one set.

    Parameters
    ----------
    asked : what was said of the set.
    info : of the whole clip, with its cuts.
    pieces : in order of time, at least one.
    span_s : from and to of all that was asked for, s on the clip's clock.

    Returns
    -------
    data : SetData
        View and scale are those of the piece with most reps; rows of all pieces, one after another.
    measured : Measured
        Every rep's measures from its own piece. What belongs to the set as a whole only where the pieces that
        hold reps agree in view and scale.
    warnings : of the pieces that hold reps (of all where none does), and where they do not agree.
    """
    pieces = _numbered(pieces)
    holding = [p for p in pieces if p.data.reps.reps]
    main = max(holding or pieces, key=lambda p: (len(p.data.reps.reps), int(p.data.track.seen.sum())))
    found = RepSet(
        tuple(r for p in pieces for r in p.data.reps.reps),
        _phases(pieces, span_s),
        tuple(w for p in holding or pieces for w in p.data.reps.warnings),
        main.data.reps.lift_fits,
    )
    track, path, lifter = _track(pieces, main), _path(pieces, main), _body(pieces, main)
    data = SetData(asked, info, main.data.view, main.data.scale, track, path, lifter, found)
    warnings = tuple(w for p in holding or pieces for w in p.warnings)
    each = [measures.measure(p.data) for p in holding]
    if len(each) == 1:
        return data, each[0], warnings
    rows = tuple(tuple(_own(m) for m in row) for one in each for row in one.reps)
    curves = tuple(c for one in each for c in one.curves)
    unlike = _unlike([p.data for p in holding])
    if not holding or unlike:
        apart = f"the pieces of the cut clip do not agree: {unlike}"
        whole = tuple(_untold(m, apart) for m in each[0].whole) if each else ()
        told = (
            Warned(
                "pieces_differ",
                f"The pieces of the cut clip do not agree ({unlike}): reps are not compared across the cuts.",
                "Send the set in one uncut piece, from one place.",
            ),
        )
        return data, Measured(rows, whole, curves=curves), warnings + (told if unlike else ())
    best, drift = measures.over_set(asked.lift, rows, found.reps, without=AGAINST_SET)
    cut = "the clip is cut, and how long the cut lasted is not known"
    whole = tuple(_untold(m, cut) if m.id == "set_time_s" else m for m in measures.measure(data).whole)
    return data, Measured(rows, whole, best, drift, curves), warnings


def _numbered(pieces: Sequence[Piece]) -> list[Piece]:
    out, n = [], 0
    for piece in pieces:
        reps = piece.data.reps
        new = tuple(evolve(rep, n=n + i) for i, rep in enumerate(reps.reps, start=1))
        n += len(new)
        out.append(evolve(piece, data=evolve(piece.data, reps=evolve(reps, reps=new))))
    return out


def _phases(pieces: Sequence[Piece], span_s: tuple[float, float]) -> tuple[Phase, ...]:
    """All pieces' phases in order; what lies in none is aside."""
    out: list[Phase] = []
    end = span_s[0]
    for phase in (ph for p in pieces for ph in p.data.reps.phases):
        if phase.start_s - end > SHORTEST_PHASE_S:
            out.append(Phase("aside", end, phase.start_s))
        out.append(phase)
        end = phase.end_s
    if span_s[1] - end > SHORTEST_PHASE_S:
        out.append(Phase("aside", end, span_s[1]))
    return tuple(out)


def _unlike(sets: Sequence[SetData]) -> str:
    """Say in what the pieces' views do not agree, "" when they do."""
    if not sets:
        return ""
    first = sets[0]
    for other in sets[1:]:
        if other.view.view_class != first.view.view_class or other.view.near_side != first.view.near_side:
            return "the camera stands elsewhere"
        if other.track.source != first.track.source:
            return "not the same part of the bar was followed"
        if first.scale is None or other.scale is None:
            return "the scale is not known in every piece"
        ratio = other.scale.mm_per_px.value / first.scale.mm_per_px.value
        if abs(math.log(ratio)) > math.log1p(SCALE_SHARE):
            return f"the scale differs by {abs(ratio - 1):.0%}"
    return ""


def _own(measure: Measure) -> Measure:
    if measure.id in AGAINST_SET and measure.value is not None:
        return evolve(measure, basis=f"{measure.basis}; against the reps of this piece of the cut clip")
    return measure


def _untold(measure: Measure, why: str) -> Measure:
    return evolve(measure, value=None, sd=None, sd_common=None, status="not_seen", basis="", reason=why)


def _track(pieces: Sequence[Piece], main: Piece) -> BarTrack:
    tracks = [p.data.track for p in pieces]
    names = ("t_s", "xy_px", "steady_px", "sd_px", "seen", "far_xy_px")
    arrays: dict[str, Any] = {name: np.concatenate([getattr(t, name) for t in tracks]) for name in names}
    candidates = tuple(c for t in tracks for c in t.candidates)
    return evolve(main.data.track, **arrays, candidates=candidates)


def _path(pieces: Sequence[Piece], main: Piece) -> BarPath | None:
    if main.data.path is None:
        return None
    names = ("forward_mm", "up_mm", "sd_forward_mm", "sd_up_mm")
    columns: dict[str, list[Any]] = {name: [] for name in ("t_s", "seen", *names)}
    for track, path in ((p.data.track, p.data.path) for p in pieces):
        unknown = np.full(len(track.t_s), np.nan)
        columns["t_s"].append(track.t_s)
        columns["seen"].append(path.seen if path is not None else np.zeros(len(track.t_s), bool))
        for name in names:
            columns[name].append(getattr(path, name) if path is not None else unknown)
    arrays: dict[str, Any] = {name: np.concatenate(parts) for name, parts in columns.items()}
    return evolve(main.data.path, **arrays)


def _body(pieces: Sequence[Piece], main: Piece) -> BodyTrack:
    bodies = [p.data.body for p in pieces if p.data.body.status == "seen"]
    if not bodies:
        return main.data.body
    names = ("t_s", "xy_px", "sd_px", "state", "peak", "depth_m", "world_m")
    arrays: dict[str, Any] = {name: np.concatenate([getattr(b, name) for b in bodies]) for name in names}
    first = main.data.body if main.data.body.status == "seen" else bodies[0]
    return evolve(first, **arrays)

"""Cut clips: which pieces there are, whose reps a person gave, and what is joined and what is not."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st
from sets import made_set

from midfoot import measures, pieces
from midfoot.measures.registry import rep_measures
from midfoot.pieces import AGAINST_SET, Piece, joined, readings, shared_out
from midfoot.records.base import Value, Warned
from midfoot.records.clip import Reading
from midfoot.records.measures import SetData
from midfoot.records.reps import Moment, Phase, Rep
from midfoot.reps import GivenError, GivenRep, GivenReps

INFO = made_set().clip
GAP_S = 2.0


def _later(data: SetData, by_s: float) -> SetData:
    """The same set `by_s` seconds later on the clip's clock."""

    def moved(moment: Moment | None) -> Moment | None:
        return None if moment is None else evolve(moment, t_s=moment.t_s + by_s)

    def rep(r: Rep) -> Rep:
        return evolve(r, **{n: moved(getattr(r, n)) for n in ("start", "low_start", "low_end", "end")})

    assert data.path is not None
    phases = tuple(Phase(p.kind, p.start_s + by_s, p.end_s + by_s) for p in data.reps.phases)
    return evolve(
        data,
        track=evolve(data.track, t_s=data.track.t_s + by_s),
        path=evolve(data.path, t_s=data.path.t_s + by_s),
        body=evolve(data.body, t_s=data.body.t_s + by_s),
        reps=evolve(data.reps, reps=tuple(rep(r) for r in data.reps.reps), phases=phases),
    )


def _scaled(data: SetData, factor: float) -> SetData:
    assert data.scale is not None
    value = data.scale.mm_per_px
    return evolve(data, scale=evolve(data.scale, mm_per_px=Value(value.value * factor, value.sd)))


def _two(first: SetData, second: SetData) -> tuple[Piece, Piece]:
    """Two pieces of 8 s, two seconds of something else between them."""
    return (
        Piece(0.0, 8.0, first, (Warned("plate_diameter_assumed", "Assumed.", "Say it."),)),
        Piece(
            8.0 + GAP_S, 16.0 + GAP_S, _later(second, 8.0 + GAP_S), (Warned("camera_moves", "Moves.", "Stand."),)
        ),
    )


def _same(a: float | None, b: float | None) -> bool:
    return a is b is None or (a is not None and b is not None and a == pytest.approx(b, rel=1e-6, abs=1e-9))


SPAN = (0.0, 19.0)
CUT = evolve(INFO, duration_s=19.0, cuts_s=(8.0, 10.0))


def test_pieces_of_a_second_or_more() -> None:
    """From each cut to the frame before the next one; shorter ones are left out."""
    info = evolve(INFO, duration_s=12.0, cuts_s=(3.0, 3.6, 9.0))

    found = readings(info, Reading(mirrored=True, real_speed=2.0))

    assert [r.from_s for r in found] == [0.0, 3.6, 9.0]
    assert [r.to_s for r in found] == pytest.approx([t - 1 / 60 for t in (3.0, 9.0, 12.0)])
    assert all(r.mirrored and r.real_speed == 2.0 for r in found)


def test_pieces_of_a_part() -> None:
    """With --from and --to only what was asked for is cut up."""
    info = evolve(INFO, duration_s=6.0, cuts_s=(33.0,))

    found = readings(info, Reading(from_s=30.0, to_s=36.0))

    assert [(r.from_s, round(r.to_s or 0, 2)) for r in found] == [(30.0, 2.98 + 30), (33.0, 35.98)]


@given(st.lists(st.floats(0.05, 59.9), max_size=8))
def test_pieces_never_overlap_and_never_hold_a_cut(cuts: list[float]) -> None:
    """Whatever the cuts are."""
    info = evolve(INFO, duration_s=60.0, cuts_s=tuple(sorted(set(cuts))))

    found = readings(info, Reading())

    for r in found:
        assert r.from_s is not None
        assert r.to_s is not None
        assert r.to_s - r.from_s >= pieces.LEAST_S
        assert not any(r.from_s < c <= r.to_s for c in info.cuts_s)
    assert all(a.to_s < b.from_s for a, b in pairwise(found))  # type: ignore[operator]


def test_joined_where_view_and_scale_agree() -> None:
    """Reps renumbered in time order; rows one after another; the rest aside; best rep and drift over all."""
    data, measured, warnings = joined(made_set().asked, CUT, _two(made_set(), _scaled(made_set(), 1.02)), SPAN)

    assert [r.n for r in data.reps.reps] == [1, 2, 3, 4]
    starts = [r.start.t_s for r in data.reps.reps if r.start is not None]
    assert starts == sorted(starts)
    assert len(data.track.t_s) == len(data.path.t_s) == 480  # type: ignore[union-attr]
    assert (np.diff(data.track.t_s) > 0).all()
    assert (np.diff(data.body.t_s) > 0).all()
    kinds = [(p.kind, round(p.start_s, 2), round(p.end_s, 2)) for p in data.reps.phases]
    assert ("aside", 18.0 - 3.4, 19.0) in kinds
    assert all(
        a.end_s <= b.start_s + 1e-9 for a, b in zip(data.reps.phases[:-1], data.reps.phases[1:], strict=True)
    )
    assert len(measured.reps) == 4
    assert measured.best_rep in (1, 2, 3, 4)
    assert [c.n for c in measured.curves] == [1, 2, 3, 4]
    assert {w.id for w in warnings} == {"plate_diameter_assumed", "camera_moves"}


def test_every_reps_measures_are_those_of_its_own_piece() -> None:
    """The same numbers as measured alone."""
    alone = measures.measure(made_set())

    _, measured, _ = joined(made_set().asked, CUT, _two(made_set(), made_set()), SPAN)

    for together, single in zip(measured.reps, (*alone.reps, *alone.reps), strict=True):
        for a, b in zip(together, single, strict=True):
            assert (a.id, a.status) == (b.id, b.status)
            assert _same(a.value, b.value), a.id
            assert _same(a.sd, b.sd), a.id


def test_heights_are_not_compared_across_a_cut() -> None:
    """What is measured against the set's highest or lowest stands against its piece, says so, and has no drift."""
    _, measured, _ = joined(made_set().asked, CUT, _two(made_set(), made_set()), SPAN)

    against = [m for row in measured.reps for m in row if m.id in AGAINST_SET and m.value is not None]
    assert against
    assert all(m.basis.endswith("against the reps of this piece of the cut clip") for m in against)
    assert {d.measure for d in measured.drift}.isdisjoint(AGAINST_SET)
    assert measured.drift
    assert set(AGAINST_SET) <= {m.id for lift in ("squat", "deadlift") for m in rep_measures(lift)}


def test_how_long_the_set_took_is_not_seen_in_a_cut_clip() -> None:
    """Velocity loss is: it rests on the reps alone."""
    _, measured, _ = joined(made_set().asked, CUT, _two(made_set(), made_set()), SPAN)
    whole = {m.id: m for m in measured.whole}

    assert whole["set_time_s"].status == "not_seen"
    assert "cut" in whole["set_time_s"].reason
    assert whole["velocity_loss_pct"].value == pytest.approx(
        next(m.value for m in measures.measure(made_set()).whole if m.id == "velocity_loss_pct"), abs=1.0
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: _scaled(d, 1.08), "the scale differs by 8%"),
        (lambda d: _scaled(d, 0.9), "the scale differs by 10%"),
        (lambda d: evolve(d, view=evolve(d.view, view_class="front_oblique")), "the camera stands elsewhere"),
        (lambda d: evolve(d, view=evolve(d.view, near_side="right")), "the camera stands elsewhere"),
        (lambda d: evolve(d, track=evolve(d.track, source="hands")), "not the same part of the bar"),
        (lambda d: evolve(d, scale=None), "the scale is not known"),
    ],
    ids=["larger", "smaller", "oblique", "other side", "hands", "no scale"],
)
def test_pieces_that_do_not_agree_are_not_compared(change, words: str) -> None:
    """Every rep keeps its own measures; nothing of the set; a warning says why."""
    data, measured, warnings = joined(made_set().asked, CUT, _two(made_set(), change(made_set())), SPAN)

    assert len(data.reps.reps) == len(measured.reps) == 4
    assert measured.best_rep is None
    assert measured.drift == ()
    assert measured.whole
    assert all(m.status == "not_seen" and words in m.reason for m in measured.whole)
    told = [w for w in warnings if w.id == "pieces_differ"]
    assert len(told) == 1
    assert words in told[0].text


@pytest.mark.parametrize("title_first", [True, False])
def test_a_title_beside_the_set_changes_nothing(title_first: bool) -> None:
    """The set's numbers are those of its piece, and the title's own failure to find a bar is not told."""
    nothing = made_set(seen=False)
    nothing = evolve(nothing, track=evolve(nothing.track, t_s=nothing.track.t_s))
    title = Piece(0.0, 8.0, nothing, (Warned("no_bar", "None.", "Tap."),))
    if title_first:
        both = (title, Piece(10.0, 18.0, _later(made_set(), 10.0), ()))
    else:
        late = evolve(nothing, track=evolve(nothing.track, t_s=nothing.track.t_s + 10.0))
        both = (Piece(0.0, 8.0, made_set(), ()), evolve(title, from_s=10.0, to_s=18.0, data=late))

    data, measured, warnings = joined(made_set().asked, CUT, both, SPAN)

    alone = measures.measure(made_set())
    assert (data.track.status, data.track.source) == ("found", "plate")
    for together, single in zip(measured.reps, alone.reps, strict=True):
        assert all(_same(a.value, b.value) for a, b in zip(together, single, strict=True))
    assert [m.id for m in measured.whole if m.value is not None] == [
        m.id for m in alone.whole if m.value is not None
    ]
    assert warnings == ()
    assert data.path is not None
    assert np.isnan(data.path.up_mm).sum() == 240
    assert not data.path.seen[np.isnan(data.path.up_mm)].any()
    assert data.body.status == "seen"


def test_nothing_in_any_piece() -> None:
    """No reps, no measures, and every piece's reasons."""
    nothing = made_set(seen=False)
    late = evolve(nothing, track=evolve(nothing.track, t_s=nothing.track.t_s + 10.0))
    both = (
        Piece(0.0, 8.0, nothing, (Warned("no_bar", "A.", "B."),)),
        Piece(10.0, 18.0, late, (Warned("x", "C.", ""),)),
    )

    data, measured, warnings = joined(nothing.asked, CUT, both, SPAN)

    assert (data.path, data.reps.reps, measured.reps) == (None, (), ())
    assert [w.id for w in warnings] == ["no_bar", "x"]
    assert [(p.kind, p.start_s, p.end_s) for p in data.reps.phases] == [("aside", 0.0, 19.0)]


def _given(n: int, start_s: float | None = None) -> GivenRep:
    return GivenRep(n=n, start_s=start_s)


def test_given_reps_go_to_the_piece_that_holds_them() -> None:
    """Numbers count over the whole clip; added reps go by their time."""
    spans = [(0.0, 8.0), (10.0, 18.0), (20.0, 25.0)]

    first, second, third = shared_out(
        GivenReps([_given(2), _given(3, 11.0), _given(5, 16.0), _given(6, 21.0)]), [2, 2, 0], spans
    )

    assert [(r.n, r.start_s) for r in first.reps] == [(2, None)]
    assert [(r.n, r.start_s) for r in second.reps] == [(1, 11.0), (3, 16.0)]
    assert [(r.n, r.start_s) for r in third.reps] == [(1, 21.0)]


def test_a_rep_known_by_its_moment_goes_to_the_piece_of_that_moment() -> None:
    """Its number is of another time; what is about no piece any more is left out."""
    said = [GivenRep(n=1, end_s=14.0, about_s=12.0), GivenRep(n=1, end_s=9.2, about_s=9.0)]
    first, second = shared_out(GivenReps(said), [2, 2], [(0.0, 8.0), (10.0, 18.0)])

    assert first.reps == ()
    assert second.reps == (said[0],)


def test_a_whole_list_empties_the_pieces_that_it_does_not_name() -> None:
    """`whole = true` holds in every piece."""
    first, second = shared_out(GivenReps([_given(1)], True), [2, 2], [(0.0, 8.0), (10.0, 18.0)])

    assert first.whole
    assert second.whole
    assert second.reps == ()


@pytest.mark.parametrize("start_s", [None, 9.0, 40.0])
def test_a_given_rep_that_lies_nowhere(start_s: float | None) -> None:
    """Neither measured nor with a time in a piece."""
    with pytest.raises(GivenError, match="Rep 5 lies in no measured piece"):
        shared_out(GivenReps([_given(5, start_s)]), [2, 2], [(0.0, 8.0), (10.0, 18.0)])

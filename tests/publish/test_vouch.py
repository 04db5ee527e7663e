"""Whether covering heads is enough: people do not come out of nothing."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve

from midfoot.body.pose import not_seen
from midfoot.publish.blur import Veil, veil_of
from midfoot.publish.sharp import Outline, Sharp
from midfoot.publish.vouch import COMES, GOES, THERE, UNSEEN, doubts, on_the_lifter
from midfoot.records.heads import Heads, HeadTrack

WIDTH, HEIGHT, LONG_S = 1280, 720, 10.0


def head(from_s: float, to_s: float, x: float = 600.0, y: float = 300.0, radius: float = 30.0, by: str = "face",
         to_x: float | None = None) -> HeadTrack:  # fmt: skip
    t_s = np.arange(from_s, to_s + 1e-9, 0.1)
    places = np.column_stack([np.linspace(x, x if to_x is None else to_x, len(t_s)), np.full(len(t_s), y)])
    return HeadTrack(by, t_s, places, np.full(len(t_s), radius))


def veil(*tracks: HeadTrack, wide: bool | None = None) -> Veil:
    return veil_of(Heads(0.0, LONG_S, tracks, WIDTH, HEIGHT), not_seen("test"), with_lifter=False, wide=wide)


def words(*tracks: HeadTrack) -> list[str]:
    return [d.words for d in veil(*tracks).doubts]


def test_who_is_there_from_first_to_last_leaves_no_doubt() -> None:
    assert words(head(0, LONG_S)) == []
    assert not veil(head(0, LONG_S)).wide


def test_nobody_leaves_no_doubt() -> None:
    assert words() == []


@pytest.mark.parametrize(("from_s", "to_s", "expected"), [(3, 10, [COMES]), (0, 6, [GOES]), (3, 6, [COMES, GOES])])
def test_who_begins_or_ends_amid_the_picture_was_missed(from_s: float, to_s: float, expected: list[str]) -> None:
    assert words(head(from_s, to_s)) == expected
    assert veil(head(from_s, to_s)).wide


def test_backwards_in_time_the_doubt_is_the_same_span() -> None:
    """Law: a clip played backwards is as doubtful, over the mirrored span."""
    (comes,), (goes,) = veil(head(3, 10)).doubts, veil(head(0, 7)).doubts
    assert (comes.from_s, comes.to_s) == pytest.approx((LONG_S - goes.to_s, LONG_S - goes.from_s))


def test_mirrored_pictures_leave_the_same_doubts() -> None:
    for x in (20.0, 200.0, 640.0, 1240.0):
        assert words(head(2, 8, x)) == words(head(2, 8, WIDTH - x))


def test_a_head_that_comes_in_and_goes_out_over_the_edge_leaves_none() -> None:
    assert words(head(3, 6, x=15.0, to_x=1265.0)) == []


def test_a_head_that_leaves_over_the_edge_after_coming_out_of_nothing_leaves_one() -> None:
    assert words(head(3, 6, x=500.0, to_x=1265.0)) == [COMES]


def test_another_cover_that_takes_over_at_the_place_is_no_loss() -> None:
    assert words(head(0, 5.5), head(5, LONG_S)) == []


def test_an_occluded_head_stays_covered_through_the_pause() -> None:
    """Somebody steps behind a plate for three seconds: one track, covered throughout, a little more widely."""
    first, second = head(0, 3), head(6, LONG_S)
    one = HeadTrack("face", *(np.concatenate([getattr(t, n) for t in (first, second)])
                              for n in ("t_s", "xy_px", "radius_px")))  # fmt: skip
    circles = [veil(one).circles(t) for t in np.arange(0, LONG_S, 0.2)]
    assert all(len(c) == 1 for c in circles)
    assert veil(one).circles(4.5)[0][2] > 30
    assert words(one) == []


def test_close_to_the_clips_ends_a_head_is_covered_where_it_will_be_and_was() -> None:
    found = veil(head(0.5, 9.5))
    assert found.doubts == ()
    assert all(len(found.circles(t)) == 1 for t in (0.0, 0.1, 0.5, 9.5, 9.9, 10.0))


def test_a_longer_pause_is_doubted() -> None:
    first, second = head(0, 2), head(8, LONG_S)
    one = HeadTrack("face", *(np.concatenate([getattr(t, n) for t in (first, second)])
                              for n in ("t_s", "xy_px", "radius_px")))  # fmt: skip
    assert sorted(words(one)) == sorted([GOES, COMES])


def test_a_head_that_was_carried_by_the_picture_alone_for_long_is_doubted_unless_a_body_has_it() -> None:
    one = evolve(head(0, LONG_S), seen_s=np.concatenate([np.arange(0, 3, 0.2), np.arange(6, LONG_S, 0.2)]))
    assert words(one) == [UNSEEN]
    assert words(evolve(one, score=0.7)) == [], "that may be a hand"
    assert words(one, head(0, LONG_S, x=606.0, by="body")) == []
    assert words(evolve(one, seen_s=np.arange(0, LONG_S, 1.5))) == []


def test_what_may_be_somebody_counts_where_no_other_cover_lies() -> None:
    someone = head(2, 4, x=605.0, by="perhaps")
    assert words(head(0, LONG_S), evolve(someone, hips_px=someone.xy_px + 100)) == []
    assert words(head(2, 4, by="perhaps")) == [], (
        "no body was seen under it: a lamp, a print; covered all the same"
    )


def test_what_may_be_somebody_is_covered_and_doubted() -> None:
    someone = head(2, 4, by="perhaps")
    found = veil(evolve(someone, hips_px=someone.xy_px + 100))
    assert [d.words for d in found.doubts] == [THERE]
    assert len(found.circles(3.0)) == 1


def test_what_lies_on_the_lifter_or_is_too_small_to_be_told_is_not_doubted() -> None:
    class Held(Sharp):
        def at(self, t_s: float, *, head: bool = True) -> Outline:
            return Outline(limbs=(((500.0, 300.0), (700.0, 300.0), 20.0),))

    track = head(3, 6)
    assert on_the_lifter(track, Held())
    assert doubts(Heads(0, LONG_S, (track,), WIDTH, HEIGHT), (), Held(), lambda _: []) == ()
    assert not on_the_lifter(head(3, 6, y=400.0), Held())
    beside = evolve(head(3, 6, y=335.0), score=0.72)  # 15 px off a limb, half a radius
    seen = Heads(0, LONG_S, (beside,), WIDTH, HEIGHT)
    assert doubts(seen, (), Held(), lambda _: []) == (), "a cover that slides along with him"
    sure = evolve(seen, tracks=(evolve(beside, score=0.95),))
    assert [d.words for d in doubts(sure, (), Held(), lambda _: [])] == [COMES, GOES]
    assert words(head(3, 6, radius=9.0)) == []


def test_the_coach_may_ask_for_more_and_the_reasons_are_said_with_their_time() -> None:
    assert veil(head(0, LONG_S), wide=True).wide
    assert "amid the picture (at 3.0 s)" in veil(head(3, 10)).why
    assert veil(head(0, LONG_S)).why == ""
    assert evolve(veil(head(3, 10)), wide=False).outline(4.0) is None

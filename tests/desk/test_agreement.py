"""Agreement with its interval and the size that parts kept from dropped: published values, brute force, laws."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import binomtest

from midfoot.desk.agreement import (
    FEWEST_CASES,
    Share,
    apart_by_chance,
    best_cut,
    between,
    propose,
    wilson,
    wrong_at,
)

SIZES = st.lists(st.integers(1, 400).map(lambda n: n / 4), min_size=1, max_size=24)


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_interval_is_the_published_one(count: int, of: int, low: float, high: float) -> None:
    """Newcombe 1998, Statistics in Medicine 17:857-872, table I, method 3 (from memory)."""
    assert wilson(count, of) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_is_that_of_another_program(case: tuple[int, int]) -> None:
    """scipy's own Wilson interval, its quantile at full precision."""
    count, of = case
    theirs = binomtest(count, of).proportion_ci(0.95, method="wilson")

    assert wilson(count, of) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@given(st.integers(1, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_of_the_rest_is_its_mirror(case: tuple[int, int]) -> None:
    """What holds of kept holds of dropped, turned about one half."""
    count, of = case
    low, high = wilson(count, of)

    assert wilson(of - count, of) == pytest.approx((1 - high, 1 - low), abs=1e-12)
    assert low <= count / of <= high


def test_a_share_of_nothing_says_nothing() -> None:
    """No case: no share, and anything may be; more than there are is misuse."""
    assert (Share(0, 0).value, Share(0, 0).low, Share(0, 0).high) == (None, 0.0, 1.0)
    with pytest.raises(ValueError, match="expected 0 to 3, got 4"):
        wilson(4, 3)


@given(SIZES, SIZES)
def test_no_size_at_all_does_better_than_the_cut(kept: list[float], dropped: list[float]) -> None:
    """Held against every size tried one by one; where none is given, all or nothing does as well."""
    cut = best_cut(kept, dropped)
    every = [wrong_at(c, kept, dropped) for c in (*kept, *dropped, 0.0, 1e9)]

    if cut is None:
        assert min(every) >= min(len(kept), len(dropped))
    else:
        assert cut.wrong == min(every) == wrong_at(cut.value, kept, dropped)
        assert cut.wrong < min(len(kept), len(dropped))


@given(SIZES, SIZES, st.randoms(use_true_random=False))
def test_the_order_of_sets_does_not_matter(kept: list[float], dropped: list[float], chance) -> None:
    """Cases may come in as they like."""
    mixed_kept, mixed_dropped = list(kept), list(dropped)
    chance.shuffle(mixed_kept)
    chance.shuffle(mixed_dropped)

    assert best_cut(mixed_kept, mixed_dropped, 20.0) == best_cut(kept, dropped, 20.0)
    assert propose(mixed_kept, mixed_dropped, present=20.0, least=2.0) == propose(
        kept, dropped, present=20.0, least=2.0
    )


@given(SIZES, SIZES, st.sampled_from([0.001, 0.5, 1000.0, 1 / 25.4]))
def test_another_unit_gives_the_same_size_in_that_unit(
    kept: list[float], dropped: list[float], scale: float
) -> None:
    """Millimetres, metres or inches: the same cases lie on the wrong side, and the cut is the same length."""
    plain = propose(kept, dropped, present=20.0, least=2.0)
    scaled = propose(
        [k * scale for k in kept], [d * scale for d in dropped], present=20.0 * scale, least=2.0 * scale
    )

    assert (scaled.why, scaled.wrong_now) == (plain.why, plain.wrong_now)
    assert (scaled.cut is None) == (plain.cut is None)
    if plain.cut is not None and scaled.cut is not None:
        assert scaled.cut.wrong == plain.cut.wrong
    if plain.size is not None and plain.cut is not None:
        # two gaps of one width and one distance may be told apart by the last bit: then both part as well
        assert scaled.size == pytest.approx(plain.size * scale) or wrong_at(
            scaled.size / scale, kept, dropped
        ) == pytest.approx(plain.cut.wrong)


@given(SIZES, SIZES)
def test_a_mirror_keeps_the_count(kept: list[float], dropped: list[float]) -> None:
    """Sizes turned about and the groups exchanged: as many cases on the wrong side, in the mirrored gap."""
    there, back = best_cut(kept, dropped), best_cut([-d for d in dropped], [-k for k in kept])

    assert (there is None) == (back is None)
    if there is not None and back is not None:
        assert back.wrong == there.wrong
        assert back.high - back.low == pytest.approx(there.high - there.low)


@given(SIZES, SIZES, st.floats(0.5, 120.0), st.floats(0.0, 90.0))
def test_nothing_below_what_clips_can_tell_is_proposed(
    kept: list[float], dropped: list[float], present: float, least: float
) -> None:
    """And nothing that leaves as many cases on the wrong side as now; with too few cases nothing at all."""
    found = propose(kept, dropped, present=present, least=least)

    if found.size is not None:
        assert found.size >= least
        assert wrong_at(found.size, kept, dropped) < found.wrong_now
        assert min(found.kept, found.dropped) >= FEWEST_CASES
    if min(len(kept), len(dropped)) < FEWEST_CASES:
        assert (found.size, found.why) == (None, "few")


def test_cases_that_a_size_parts_give_the_middle_of_the_gap() -> None:
    """Dropped up to 18, kept from 22: 20, whatever is in force; one of each kind stays on the wrong side."""
    dropped = [11.0, 12.0, 13.0, 14.0, 15.0, 16.0, 17.0, 18.0, 30.0]
    kept = [22.0, 23.0, 24.0, 25.0, 26.0, 27.0, 28.0, 29.0, 12.5]
    found = propose(kept, dropped, present=10.0, least=3.0)

    assert found.size == 20.0
    assert found.cut is not None
    assert (found.cut.kept_below, found.cut.dropped_above, found.wrong_now) == (1, 1, 9)
    # by hand: 66 of 81 pairs, (66 - 40.5 - 0.5) / sqrt(81 * 19 / 12) = 2.208 of the normal law, one-sided 0.0136
    assert found.by_chance == pytest.approx(0.0136, abs=2e-4)


def test_where_sizes_tell_nothing_none_is_proposed() -> None:
    """Kept and dropped lie among each other, or the wrong way about: no size is made of that."""
    same = [float(n) for n in range(10, 20)]

    assert propose(same, same, present=10.0, least=1.0).why == "alike"
    assert propose(same, [s + 50 for s in same], present=10.0, least=1.0).why == "alike"
    assert propose([30.0] * 9, [10.0] * 3, present=9.0, least=1.0).more_dropped == FEWEST_CASES - 3


def test_what_a_table_of_ranks_says_is_said() -> None:
    """Five and five without overlap lie so by chance once in 252 (10 over 5), counted by hand."""
    assert apart_by_chance([6, 7, 8, 9, 10], [1, 2, 3, 4, 5]) == pytest.approx(1 / 252)
    assert apart_by_chance([], [1.0]) == 1.0


@given(st.floats(0.01, 500.0), st.floats(0.001, 50.0))
def test_a_rounded_size_parts_the_same_cases(low: float, width: float) -> None:
    """It stays above the lower neighbour and at most at the upper one."""
    high = low + width
    assume(low < (low + high) / 2 <= high)

    assert low < between(low, high, (low + high) / 2) <= high

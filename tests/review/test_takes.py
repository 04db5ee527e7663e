"""Takes of a voice-over: sections taken again, deleted, and what stands in the picture meanwhile."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.records.base import RecordError
from midfoot.records.takes import Happened, Take
from midfoot.review.takes import section, shown, whole


def take(
    n: int, seconds: float, *, replaces: str = "", at: tuple[float, float] = (0, 0), events: tuple = ()
) -> Take:
    return Take(id=f"t{n}", n=n, duration_s=seconds, events=events, replaces=replaces, from_s=at[0], to_s=at[1])


def spans(takes: list[Take]) -> list[tuple[str, float, float]]:
    return [(s.take.id, s.from_s, s.to_s) for s in whole(takes)]


def test_a_section_taken_again_stands_in_its_place() -> None:
    ground, again = take(1, 60.0), take(2, 7.0, replaces="t1", at=(20.0, 30.0))
    assert spans([ground, again]) == [("t1", 0.0, 20.0), ("t2", 0.0, 7.0), ("t1", 30.0, 60.0)]
    assert spans([ground]) == [("t1", 0.0, 60.0)], "without it the section is as it was"
    assert spans([again]) == [], "a section has no place without its ground"


def test_a_section_of_a_section_and_one_over_both() -> None:
    ground, again = take(1, 60.0), take(2, 7.0, replaces="t1", at=(20.0, 30.0))
    assert section([ground, again], 22.0, 24.0) == ("t2", 2.0, 4.0)
    inner = take(3, 1.0, replaces="t2", at=(2.0, 4.0))
    assert [t for t, _, _ in spans([ground, again, inner])] == ["t1", "t2", "t3", "t2", "t1"]
    assert section([ground, again], 10.0, 24.0) == ("t1", 10.0, 30.0), "what was taken again goes as a whole"
    wide = take(4, 5.0, replaces="t1", at=(10.0, 30.0))
    assert spans([ground, again, inner, wide]) == [("t1", 0.0, 10.0), ("t4", 0.0, 5.0), ("t1", 30.0, 60.0)]
    assert section([], 0.0, 1.0) is None


def test_the_latest_whole_take_counts() -> None:
    assert spans([take(1, 60.0), take(2, 40.0)]) == [("t2", 0.0, 40.0)]


def test_what_stands_in_the_picture() -> None:
    events = (
        Happened(kind="seek", at_s=1.0, t_s=4.0),
        Happened(kind="play", at_s=2.0, t_s=4.0, rate=0.5),
        Happened(kind="layers", at_s=4.0, t_s=5.0, rate=0.5, layers=("path",)),
        Happened(kind="pause", at_s=6.0, t_s=6.0, rate=0.5),
        Happened(kind="line", at_s=8.0, t_s=6.0, line=2),
    )
    rows = shown(whole([take(1, 10.0, events=events)]))
    assert [(r.from_s, r.length_s, r.t_s, r.rate) for r in rows] == [
        (0.0, 1.0, 0.0, 0.0), (1.0, 1.0, 4.0, 0.0), (2.0, 2.0, 4.0, 0.5), (4.0, 2.0, 5.0, 0.5),
        (6.0, 2.0, 6.0, 0.0), (8.0, 2.0, 6.0, 0.0),
    ]  # fmt: skip
    assert rows[3].layers == ("path",)
    assert rows[-1].line == 2


def test_a_cut_in_the_middle_of_playing_goes_on_from_there() -> None:
    """The clip ran at half speed from 4.0 s on; three seconds later it stands at 5.5 s (by hand)."""
    events = (Happened(kind="play", at_s=2.0, t_s=4.0, rate=0.5),)
    ground = take(1, 10.0, events=events)
    rows = shown(whole([ground, take(2, 1.0, replaces="t1", at=(3.0, 5.0))]))
    assert rows[-1].from_s == pytest.approx(4.0)
    assert (rows[-1].t_s, rows[-1].rate) == (pytest.approx(5.5), 0.5)


@given(
    st.lists(st.tuples(st.floats(0.5, 30), st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=6),
    st.sets(st.integers(1, 6)),
)
def test_whatever_is_taken_again_or_deleted_the_whole_is_seamless(
    asked: list[tuple[float, float, float]], deleted: set[int]
) -> None:
    takes: list[Take] = []
    for n, (seconds, a, b) in enumerate(asked, 1):
        total = sum(s.length_s for s in whole(takes))
        where = section(takes, min(a, b) * total, max(a, b) * total) if takes else None
        new = take(n, seconds) if where is None else take(n, seconds, replaces=where[0], at=where[1:])
        takes.append(new)
        assert any(s.take is new for s in whole(takes)), "what was recorded last is heard"
    left = [t for t in takes if t.n not in deleted]
    rows = whole(left)
    assert all(0 <= s.from_s < s.to_s <= s.take.duration_s + 1e-9 for s in rows)
    assert all(s.take.n not in deleted for s in rows)
    pictures = shown(rows)
    at = 0.0
    for row in pictures:
        assert row.from_s == pytest.approx(at, abs=0.02)
        at = row.from_s + row.length_s
    assert at == pytest.approx(sum(s.length_s for s in rows), abs=0.02 * (len(rows) + 1))


@pytest.mark.parametrize("wrong", [{"rate": 0.0}, {"rate": 99.0}, {"at_s": -1.0}, {"layers": ("sound",)}])
def test_what_no_player_does_is_refused(wrong: dict) -> None:
    with pytest.raises(RecordError):
        Happened(**{"kind": "play", "at_s": 0.0, "t_s": 0.0, **wrong})

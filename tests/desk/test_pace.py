"""The sliding window: what a plain list of all times would say, whose uses count together, what is remembered."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.desk import pace
from midfoot.desk.pace import LIMITS, WINDOW_S, Limit, Pace, in_words


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.at = 1000.0

    def __call__(self) -> float:
        return self.at


@given(st.lists(st.floats(0.0, 900.0), max_size=60))
def test_never_more_than_so_many_in_any_hour_and_no_refusal_before(steps: list[float]) -> None:
    """Held against the plain rule: taken where fewer than 5 taken uses lie within the hour before."""
    clock, taken = Clock(), []
    counted = Pace(clock)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(LIMITS, "send", Limit(5, 10**9))
        for step in steps:
            clock.at += step
            wait = counted.take("send", link="a")
            within = [t for t in taken if clock.at - t < WINDOW_S]
            assert (wait == 0.0) == (len(within) < 5)
            if wait:
                assert wait == pytest.approx(within[-5] + WINDOW_S - clock.at)
            else:
                taken.append(clock.at)


def test_after_the_wait_that_was_said_it_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(LIMITS, "send", Limit(2, 10**9))
    clock = Clock()
    counted = Pace(clock)
    for at in (0.0, 1200.0, 100.0):
        clock.at += at
        wait = counted.take("send", link="a")
    assert wait == pytest.approx(2300.0), "the first of the two is out of the hour then"
    assert counted.take("send", link="b") == 0.0, "another link has a pace of its own"
    clock.at += wait - 0.001
    assert counted.take("send", link="a") > 0
    clock.at += 0.002
    assert counted.take("send", link="a") == 0.0


@pytest.mark.parametrize(
    ("one", "other", "together"),
    [
        ("203.0.113.7", "203.0.113.7", True),
        ("203.0.113.7", "203.0.113.8", False),
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),  # one household: RFC 6177, a site has a /64 or more
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("::ffff:203.0.113.7", "203.0.113.7", True),  # RFC 4291, 2.5.5.2
        ("127.0.0.1", "127.0.0.1", False),
        ("::1", "::1", False),
        ("testclient", "testclient", False),
    ],
)
def test_whose_uses_count_together(one: str, other: str, together: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Addresses of RFC 5737 and RFC 3849. This machine and what is no address count by link alone."""
    monkeypatch.setitem(LIMITS, "answer", Limit(10**9, 1))
    counted = Pace(Clock())
    assert counted.take("answer", link="page", address=one) == 0.0
    assert (counted.take("answer", link="page", address=other) > 0) == together


def test_one_that_is_refused_counts_nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """A link that was used up by somebody uses up nobody's address."""
    monkeypatch.setitem(LIMITS, "send", Limit(1, 2))
    counted = Pace(Clock())
    assert counted.take("send", link="a", address="203.0.113.7") == 0.0
    assert all(counted.take("send", link="a", address="203.0.113.7") for _ in range(5))
    assert counted.take("send", link="b", address="203.0.113.7") == 0.0
    assert counted.take("send", link="c", address="203.0.113.7") > 0


def test_nothing_is_remembered_beyond_what_is_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    """No address stands in it; two servers mark one differently; after the hour, and past a bound, it goes."""
    monkeypatch.setattr(pace, "MOST_KEYS", 20)
    clock = Clock()
    counted, another = Pace(clock), Pace(clock)
    for p in (counted, another):
        p.take("answer", address="203.0.113.7")
    assert "203.0.113.7" not in repr(vars(counted))
    assert b"\xcb\x00\x71\x07" not in repr(vars(counted)).encode()
    assert set(counted._times) & set(another._times) == set()
    for k in range(200):
        clock.at += 1
        counted.take("answer", address=f"198.51.100.{k}")
    assert len(counted._times) <= 20
    clock.at += WINDOW_S
    counted._forget(clock.at)
    assert counted._times == {}


def test_words() -> None:
    assert [in_words(s) for s in (0.2, 60.0, 61.0, 3599.0)] == ["1 minute", "1 minute", "2 minutes", "60 minutes"]

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from discs import LOOKS, holder, squats

from midfoot.bar.link_people import made_whole
from midfoot.records.body import People, PersonTrack

PLACE = np.stack([np.full(len(LOOKS), 600.0), 250 + squats(LOOKS, 170.0)], axis=1)


def part(start_s: float, end_s: float, *, person: int = 0, x: float = 0.0, body_px: float = 300.0) -> PersonTrack:
    """One person's track while he was followed."""
    use = (start_s - 1e-6 <= LOOKS) & (end_s + 1e-6 >= LOOKS)
    return holder(PLACE[use] + [x, 0.0], LOOKS[use], person=person, body_px=body_px).tracks[0]


def whole(*parts: PersonTrack) -> tuple[PersonTrack, ...]:
    people = made_whole(People(LOOKS, parts))
    assert people is not None
    return people.tracks


@pytest.mark.parametrize("second_s", [3.6, 4.1, 5.5], ids=["overlapping", "at once", "after a pause"])
def test_who_was_lost_and_found_again_is_one_person(second_s: float) -> None:
    first, second = part(0.0, 4.0, person=3), part(second_s, 11.0, person=5)
    (one,) = whole(second, first)
    assert one.id == 5
    assert one.t_s[0] == 0.0
    assert one.t_s[-1] == pytest.approx(11.0)
    assert (np.diff(one.t_s) > 0).all()
    truth = np.concatenate([t.xy_px for t in (first, second)])
    assert one.xy_px.shape[1:] == truth.shape[1:]
    assert len(one.peak) == len(one.presence) == len(one.region) == len(one.t_s)


@pytest.mark.parametrize(
    "other",
    [part(4.2, 11.0, person=1, x=400.0), part(1.0, 11.0, person=1), part(8.0, 11.0, person=1),
     part(4.2, 11.0, person=1, body_px=700.0)],
    ids=["elsewhere", "at the same time", "much later", "of another size"],
)  # fmt: skip
def test_others_stay_by_themselves(other: PersonTrack) -> None:
    assert len(whole(part(0.0, 4.0), other)) == 2


def test_moved_pictures_are_kept_where_all_parts_have_them() -> None:
    first, second = part(0.0, 4.0), part(4.1, 11.0, person=1)
    looked = [evolve(t, carried_px=np.ones((len(t.t_s), 3))) for t in (first, second)]
    assert len(whole(*looked)[0].carried_px) == len(whole(*looked)[0].t_s)
    assert len(whole(looked[0], second)[0].carried_px) == 0


def test_nobody() -> None:
    assert made_whole(None) is None
    assert whole() == ()

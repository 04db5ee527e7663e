"""Which clips a bench makes: shares, faults in half of the planted sets, a sweep that changes one thing."""

import collections

from lab.clip_jobs import FRONT_SIZES, VIEWS, mixed, planted_jobs, random_jobs, sweep_jobs


def test_planted_sets_have_a_fault_in_half_and_every_view():
    jobs = list(planted_jobs(range(1, 241)))
    assert 95 <= sum(bool(j.made.faults) for j in jobs) <= 145
    views = collections.Counter(j.view for j in jobs)
    assert set(views) == set(VIEWS)
    for job in jobs:
        low, high = VIEWS[job.view]
        assert low <= job.made.eye.yaw_deg <= high
        assert 3 <= len(job.made.reps) <= 4
        assert all(f.from_rep >= 2 for f in job.made.faults)
        if job.view == "front":
            assert all(f.kind in FRONT_SIZES for f in job.made.faults)


def test_every_second_clip_is_told_the_plate():
    told = [j.told_mm is not None for j in random_jobs(range(10), "phone")]
    assert told == [False, True] * 5


def test_the_first_half_of_a_mixed_run_holds_half_of_each_part():
    parts = [list(random_jobs(range(8), "phone")), list(random_jobs(range(4), "hard"))]
    half = mixed(parts)[:6]
    assert collections.Counter(j.name.split("-")[0] for j in half) == {"phone": 4, "hard": 2}


def test_a_sweep_films_the_usual_once():
    names = [j.name for j in sweep_jobs([3])]
    assert len(names) == len(set(names))
    assert sum("usual" in n for n in names) == 1
    assert not any("fps-30" in n or "yaw_deg-3-" in n for n in names)

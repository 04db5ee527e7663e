"""Moments given by a person: files read, refused with the place and the reason, and put over the measured ones."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_reps import Made, nobody, sampled

from midfoot.records.reps import RepSet
from midfoot.reps import GivenError, GivenRep, GivenReps, find_reps, read_given


def measured(given: GivenReps | None, lift: str = "squat") -> RepSet:
    made = Made().hold(1.5).rep().hold(1).rep().hold(1.5)
    path, info = sampled(made, noise_mm=0.5)
    return find_reps(path, nobody(), lift=lift, info=info, given=given)


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_toml_and_csv_say_the_same(tmp_path: Path) -> None:
    """Both forms give one record, sorted by number; empty cells say nothing; a byte-order mark does no harm."""
    toml = write(
        tmp_path, "reps.toml",
        '[[rep]]\nn = 2\nend_s = 9.5\n[[rep]]\nn = 1\nstart_s = 1\nlow_start_s = 2.5\noutcome = "missed"\n',
    )  # fmt: skip
    csv = write(tmp_path, "reps.csv", "\ufeffn, start_s,low_start_s,end_s,outcome\n2,,,9.5,\n\n1,1,2.5,,missed\n")

    expected = GivenReps([GivenRep(n=1, start_s=1.0, low_start_s=2.5, outcome="missed"), GivenRep(n=2, end_s=9.5)])
    assert read_given(toml) == expected
    assert read_given(csv) == expected


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("reps.toml", "[[rep]\n", "is not TOML"),
        ("reps.toml", "", r"expected at least one \[\[rep\]\]"),
        ("reps.toml", "[[rep]]\nstart_s = 1\n", "n, the rep's number, is missing"),
        ("reps.toml", "[[rep]]\nn = 0\n", "whole number from 1, got 0"),
        ("reps.toml", "[[rep]]\nn = 1.5\n", "whole number from 1, got 1.5"),
        ("reps.toml", '[[rep]]\nn = 1\nstart_s = "soon"\n', "start_s must be a time in seconds, got 'soon'"),
        ("reps.toml", "[[rep]]\nn = 1\nstart_s = nan\n", "must be a time in seconds"),
        ("reps.toml", "[[rep]]\nn = 1\nbegin = 2\n", "got 'begin'"),
        ("reps.toml", "[[rep]]\nn = 1\nstart_s = 4\nend_s = 2\n", r"end_s \(2\) lies before start_s \(4\)"),
        ("reps.toml", "[[rep]]\nn = 1\nlow_end_s = 4\ntop_end_s = 5\n", "not both"),
        ("reps.toml", '[[rep]]\nn = 1\noutcome = "good"\n', "outcome must be one of completed"),
        ("reps.toml", "[[rep]]\nn = 1\n[[rep]]\nn = 1\n", "Rep 1 is given twice"),
        ("reps.toml", "frames = 3\n", "got 'frames'"),
        ("reps.toml", "whole = 3\n[[rep]]\nn = 1\n", "whole must be true or false"),
        ("reps.csv", "start_s\n1\n", "must name the columns"),
        ("reps.csv", "n,start_s\n", "at least one rep below"),
        ("reps.csv", "n,start_s\n1,2,3\n", "line 2: more cells than columns"),
        ("reps.csv", "n,start_s\n1,x\n", "line 2: start_s must be a time"),
        ("reps.txt", "n\n1\n", "must end in .toml or .csv"),
    ],
)  # fmt: skip
def test_refused_with_place_and_reason(tmp_path: Path, name: str, text: str, says: str) -> None:
    """Misuse names field, expected and got."""
    with pytest.raises(GivenError, match=says):
        read_given(write(tmp_path, name, text))


def test_unreadable_file(tmp_path: Path) -> None:
    """A missing file or bytes that are no text are refused."""
    with pytest.raises(GivenError, match="cannot be read"):
        read_given(tmp_path / "none.toml")
    (tmp_path / "bytes.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(GivenError, match="cannot be read"):
        read_given(tmp_path / "bytes.csv")


def test_only_what_is_given_is_overridden() -> None:
    """The other moments of the rep and the other reps stay measured."""
    plain = measured(None)
    reps = measured(GivenReps([GivenRep(n=1, start_s=1.6, outcome="assisted")]))

    first = reps.reps[0]
    assert first.start is not None
    assert (first.start.t_s, first.start.why) == (1.6, "given")
    assert first.start.sd_s == pytest.approx(1 / 30 / 12**0.5, rel=0.01)
    assert first.outcome == "assisted"
    assert (first.low_start, first.low_end, first.end) == (
        plain.reps[0].low_start, plain.reps[0].low_end, plain.reps[0].end)  # fmt: skip
    assert reps.reps[1] == plain.reps[1]
    assert next(p for p in reps.phases if p.kind == "descent").start_s == 1.6


def test_added_and_whole() -> None:
    """A number beyond the last adds a rep; a whole list drops what it does not name."""
    added = measured(GivenReps([GivenRep(n=3, start_s=9.6, low_start_s=9.7, low_end_s=9.75, end_s=9.8)]))
    whole = measured(GivenReps([GivenRep(n=2, start_s=5.8)], whole=True))

    assert [r.n for r in added.reps] == [1, 2, 3]
    assert added.reps[2].outcome == "completed"
    assert added.reps[2].start_seen
    assert [r.n for r in whole.reps] == [1]
    assert whole.reps[0].end == measured(None).reps[1].end


@pytest.mark.parametrize(
    ("rep", "says"),
    [
        (GivenRep(n=1, start_s=400.0), "outside the clip"),
        (GivenRep(n=1, top_start_s=2.0), "not a moment of a squat"),
        (GivenRep(n=1, start_s=4.0), "would lie before start"),
        (GivenRep(n=2, start_s=3.0), "before rep 1 ends"),
    ],
)
def test_given_against_the_clip_and_the_measured(rep: GivenRep, says: str) -> None:
    """What contradicts the clip, the lift or a measured moment is refused, not bent."""
    with pytest.raises(GivenError, match=says):
        measured(GivenReps([rep]))


def test_a_rep_said_by_a_moment_inside_it_is_known_by_it_whatever_its_number() -> None:
    """Two reps were measured; what was said of "rep 7" about a moment of the second is about the second."""
    before = measured(None).reps
    second = before[1]
    assert second.start is not None
    assert second.low_end is not None
    inside = (second.start.t_s + second.low_end.t_s) / 2
    end_s = second.low_end.t_s + 0.9
    after = measured(GivenReps([GivenRep(n=7, end_s=end_s, about_s=inside)])).reps

    assert len(after) == 2
    assert after[0] == before[0]
    assert after[1].end is not None
    assert (after[1].end.t_s, after[1].end.why) == (end_s, "given")


def test_what_is_about_no_rep_any_more_is_left_out() -> None:
    """The part was cut, and the rep is not in it: nothing is added, nothing moved, nothing refused."""
    before = measured(None).reps
    after = measured(GivenReps([GivenRep(n=1, end_s=60.0, about_s=59.0)])).reps

    assert after == before


def test_two_words_about_one_rep_are_joined_the_later_counts() -> None:
    second = measured(None).reps[1]
    assert second.start is not None
    about = second.start.t_s + 0.5
    said = [
        GivenRep(n=2, start_s=second.start.t_s + 0.05, outcome="missed", about_s=about),
        GivenRep(n=2, outcome="assisted", about_s=about + 0.2),
    ]
    after = measured(GivenReps(said)).reps[1]

    assert after.outcome == "assisted"
    assert after.start is not None
    assert after.start.t_s == pytest.approx(second.start.t_s + 0.05)

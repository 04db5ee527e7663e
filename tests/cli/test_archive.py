"""`midfoot archive` as typed: a table, CSV and JSON of the same counts; filters; what makes no sense."""

from __future__ import annotations

import csv
import io
import json

import pytest
from cli.line import said
from desk_archive import fill
from desk_reviews import add_lifter, add_set, squat

from midfoot.desk.archive import Filters, overview
from midfoot.store import Workspace
from midfoot.store.tables import lifters


def test_table_csv_and_json_say_the_same(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    """Counts as the archive has them, with a filter and without."""
    fill(workspace, sets_n=120)
    where = ("--workspace", str(workspace.path))
    with workspace.read() as connection:
        over = overview(connection, Filters(lift="squat"))

    table = said(capsys, "archive", "--lift", "squat", *where)
    as_json = json.loads(said(capsys, "archive", "--lift", "squat", *where, "--json").out)
    rows = list(csv.DictReader(io.StringIO(said(capsys, "archive", "--lift", "squat", *where, "--csv").out)))

    assert table.status == 0
    assert table.out.startswith(f"{over.measured} measured sets")
    assert as_json["measured_sets"] == over.measured
    assert [r["finding"] for r in rows] == [f["finding"] for f in as_json["findings"]] == [
        f.finding for f in over.found
    ]  # fmt: skip
    first = over.found[0]
    assert first.title in table.out
    assert f"{first.seen.count}/{first.seen.of}" in table.out
    assert (int(rows[0]["kept"]), int(rows[0]["dropped"])) == (first.kept, first.dropped)
    assert float(rows[0]["agreed_low"]) == pytest.approx(first.agreed.low, abs=1e-4)


def test_every_case_of_a_lifter(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    """Sets that were measured before are taken in on the way; what a spreadsheet would run is made words."""
    add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=add_lifter(workspace, "Runa"))
    where = ("--workspace", str(workspace.path))
    plain = said(capsys, "archive", "--cases", "--lifter", "runa", *where)
    with workspace.write() as connection:
        connection.execute(lifters.update().values(name="=1+1"))
    rows = list(csv.DictReader(io.StringIO(said(capsys, "archive", "--cases", *where, "--csv").out)))

    assert "25 mm (sd 0.81)  open" in plain.out
    assert {r["finding"] for r in rows} == {"squat_bar_forward", "squat_soft_lockout"}
    assert {r["lifter"] for r in rows} == {"'=1+1"}


def test_what_makes_no_sense_is_said(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody of that name, two forms at once; nothing there is no failure."""
    where = ("--workspace", str(workspace.path))
    nobody = said(capsys, "archive", "--lifter", "Nobody", *where)
    both = said(capsys, "archive", "--csv", "--json", *where)
    empty = said(capsys, "archive", *where)

    assert (nobody.status, "nobody here is called" in nobody.err) == (2, True)
    assert (both.status, "one of --csv and --json" in both.err) == (2, True)
    assert (empty.status, empty.out) == (0, "0 measured sets, and nothing was found in them.\n")

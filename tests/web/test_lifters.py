"""Lifter pages: the list, the course of a measure, consents with wording, private fields."""

from __future__ import annotations

import io
import json
import re
import zipfile
from datetime import date, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from desk_client import PAGE
from desk_rows import put_lifter, put_set
from starlette.testclient import TestClient

from midfoot.store import Workspace
from midfoot.store.tables import audit, changes, consents, follow_ups, lifters, measurements, publications
from midfoot.web.words import rounded


def numbers(value: float, view: str = "side") -> dict[str, Any]:
    """What is kept of a set for its course."""
    level = {"value": value, "sd": 4.0, "unit": "mm", "reps": 3}
    return {"view": {"class": view, "yaw_deg": 0.0}, "scale_pct": 0.5, "best_rep": 1, "reps": 3,
            "levels": {"path_departure_mm": level}}  # fmt: skip


@pytest.fixture
def runa(workspace: Workspace) -> str:
    """A lifter with three squats, one of them filmed from the front."""
    with workspace.write() as connection:
        lifter_id = put_lifter(connection, "Runa <Vik>")
        for load, value, view, days in (
            (120.0, 31.0, "side", 30),
            (130.0, 12.0, "front", 20),
            (140.0, 45.0, "side", 1),
        ):
            _, clip_id = put_set(connection, lifter_id=lifter_id, load_kg=load, hours_ago=24 * days)
            connection.execute(
                sa.update(measurements)
                .where(measurements.c.clip_id == clip_id)
                .values(numbers=numbers(value, view))
            )
    return lifter_id


def test_the_list_says_who_sent_last_and_what_is_due(client: TestClient, runa: str) -> None:
    text = client.get("/lifters", headers=PAGE).text

    assert "Runa &lt;Vik&gt;" in text
    assert "1 day ago" in text
    assert client.get("/lifters?q=nobody", headers=PAGE).text.count("/lifters/" + runa) == 0


def test_a_measure_against_load_and_what_does_not_stand_beside_it(client: TestClient, runa: str) -> None:
    """Three points with their sd in the chart and the table; the one from the front is told apart."""
    text = client.get(f"/lifters/{runa}", headers=PAGE).text
    found = re.search(r'id="course-spec">(.*?)</script>', text, re.S)
    assert found
    rows = json.loads(found[1])["data"]["values"]

    assert [(r["load"], r["value"], r["low"], r["high"], r["apart"]) for r in rows] == [
        (120.0, 31.0, 27.0, 35.0, False), (130.0, 12.0, 8.0, 16.0, True), (140.0, 45.0, 41.0, 49.0, False),
    ]  # fmt: skip
    assert "filmed from the front and from the side" in text
    client.post("/settings/unit", data={"unit": "lb"})
    assert "264.6 lb" in client.get(f"/lifters/{runa}", headers=PAGE).text


def test_changes_stand_with_their_verdicts(client: TestClient, workspace: Workspace, runa: str) -> None:
    with workspace.write() as connection:
        set_id, _ = put_set(connection, lifter_id=runa)
        for part, state, verdict in (("a", "open", None), ("b", "held", "held")):
            change = connection.execute(
                sa.insert(changes).values(
                    set_id=set_id, lifter_id=runa, part_id=part, text=f"Change {part}", state=state
                )
            ).inserted_primary_key[0]
            connection.execute(
                sa.insert(follow_ups).values(
                    change_id=change, due_on=date.today() - timedelta(days=1), verdict=verdict,
                    detail={"why": "0.6 s more, foretold 0.5 s"} if verdict else None,
                )
            )  # fmt: skip

    text = client.get(f"/lifters/{runa}", headers=PAGE).text

    assert "follow-up due" in text
    assert "0.6 s more, foretold 0.5 s" in text


def test_private_fields_are_kept_and_a_bad_one_is_a_sentence(
    client: TestClient, workspace: Workspace, runa: str
) -> None:
    """70 in are 1.778 m (1 in = 25.4 mm exactly, NIST SP 811)."""
    form = {
        "name": "Runa",
        "stature": "70 in",
        "minor": "yes",
        "blur_lifter": "yes",
        "competition_on": "2031-05-24",
    }

    assert client.post(f"/lifters/{runa}", data=form).status_code == 303
    with workspace.read() as connection:
        card = connection.execute(sa.select(lifters)).one()
    assert card.stature_m == pytest.approx(1.778)
    assert (card.minor, card.blur_lifter, card.competition_on) == (True, True, date(2031, 5, 24))
    for wrong in ({"name": ""}, {"stature": "tall"}, {"competition_on": "soon"}, {"sex": "?"}):
        got = client.post(f"/lifters/{runa}", data=form | wrong)
        assert got.status_code == 422
        assert got.json()["error"]["remedy"]


def test_consents_need_their_wording_and_are_taken_back(
    client: TestClient, workspace: Workspace, runa: str
) -> None:
    address = f"/lifters/{runa}/consents"
    given = {"use": "public_page", "given_by": "lifter", "wording": "You may show it."}

    assert client.post(address, data=given | {"wording": ""}).status_code == 422
    assert client.post(address, data=given).status_code == 303
    with workspace.read() as connection:
        row = connection.execute(sa.select(consents)).one()
    assert (row.wording, row.revoked_at) == ("You may show it.", None)
    assert client.post(f"{address}/{row.id}/revoke").status_code == 303
    with workspace.read() as connection:
        assert connection.execute(sa.select(consents.c.revoked_at)).scalar_one() is not None
        told = set(connection.execute(sa.select(audit.c.what)).scalars())
    assert {"consent_given", "consent_revoked"} <= told
    assert "taken back" in client.get(f"/lifters/{runa}", headers=PAGE).text


def test_a_minors_consent_comes_from_the_guardian(client: TestClient, workspace: Workspace) -> None:
    with workspace.write() as connection:
        young = put_lifter(connection, "Kofi", minor=True)
    given = {"use": "edition", "given_by": "lifter", "wording": "ok"}

    assert client.post(f"/lifters/{young}/consents", data=given).status_code == 422
    assert client.post(f"/lifters/{young}/consents", data=given | {"given_by": "guardian"}).status_code == 303


def test_an_unknown_lifter_is_no_page(client: TestClient) -> None:
    assert client.get("/lifters/0123456789abcdef", headers=PAGE).status_code == 404


@pytest.mark.parametrize(
    ("value", "sd", "said"), [(18.34, 14.0, "18"), (18.34, 1.4, "18"), (0.4567, 0.02, "0.457"), (5.0, None, "5")]
)
def test_numbers_have_no_more_digits_than_their_sd_allows(value: float, sd: float | None, said: str) -> None:
    assert rounded(value, sd) == said


def test_everything_is_exported_as_one_zip(client: TestClient, runa: str) -> None:
    got = client.get(f"/lifters/{runa}/export.zip")

    assert got.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(got.content)) as packed:
        assert packed.testzip() is None
        assert json.loads(packed.read("export.json"))["lifter"]["name"] == "Runa <Vik>"


def test_erasing_asks_for_the_name(client: TestClient, workspace: Workspace, runa: str) -> None:
    """Another name erases nothing; the right one everything."""
    assert client.post(f"/lifters/{runa}/erase", data={"typed_name": "Runa"}).status_code == 422
    assert client.get(f"/lifters/{runa}").status_code == 200

    got = client.post(f"/lifters/{runa}/erase", data={"typed_name": "Runa <Vik>"}, headers=PAGE)

    assert got.status_code == 200
    assert "3 sets" in got.text
    assert client.get(f"/lifters/{runa}").status_code == 404
    with workspace.read() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(measurements)).scalar_one() == 0


@pytest.mark.parametrize("how", ["revoked", "minor"])
def test_a_public_page_goes_when_it_no_longer_may_be_there(
    client: TestClient, workspace: Workspace, runa: str, how: str
) -> None:
    """Taking the consent back, or learning that the lifter is a minor, takes the page back at once."""
    with workspace.write() as connection:
        consent = connection.execute(
            sa.insert(consents).values(lifter_id=runa, use="public_page", wording="Yes.")
        ).inserted_primary_key[0]
        set_id, _ = put_set(connection, lifter_id=runa)
        connection.execute(
            sa.insert(publications).values(
                set_id=set_id, kind="public", token="t", folder="published/p/t", audience={"uses": ["public_page"]}
            )
        )
    page = workspace.published / "p" / "t" / "index.html"
    page.parent.mkdir(parents=True)
    page.write_text("Runa")

    if how == "revoked":
        client.post(f"/lifters/{runa}/consents/{consent}/revoke")
    else:
        client.post(f"/lifters/{runa}", data={"name": "Runa", "minor": "yes"})

    with workspace.read() as connection:
        assert connection.execute(sa.select(publications.c.revoked_at)).scalar_one() is not None
    assert "Runa" not in page.read_text()

"""The desk's addresses of one set, asked in-process: what they give, and what they refuse with which words."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
from attrs import evolve
from desk_client import PAGE, client_of
from sets import made_measurement
from shown_sets import add_shown

from midfoot.desk.repair_rows import repairs_of
from midfoot.records.base import Value
from midfoot.records.context import Context
from midfoot.store import Workspace, tables

TIMES = np.arange(40) * 0.034


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A desk with a measured set and one that is not measured yet: client, workspace, and both pairs of ids."""
    with Workspace.create(tmp_path_factory.mktemp("desk") / "workspace") as workspace:
        yield (
            client_of(workspace),
            workspace,
            add_shown(workspace, made_measurement(), TIMES),
            add_shown(workspace, None, TIMES),
        )


def test_the_page_of_a_measured_set_has_player_numbers_and_review(desk: Any) -> None:
    client, _, (set_id, clip_id), _ = desk
    page = client.get(f"/sets/{set_id}", headers=PAGE)

    assert page.status_code == 200
    assert f'data-clip="{clip_id}"' in page.text
    assert "path departure" in page.text
    assert 'style="' not in page.text  # the policy refuses inline styles


def test_a_set_that_is_not_measured_shows_its_clip_and_says_so(desk: Any) -> None:
    client, _, _, (set_id, clip_id) = desk
    page = client.get(f"/sets/{set_id}", headers=PAGE)

    assert page.status_code == 200
    assert "Numbers stand here once the clip is measured" in page.text
    scene = client.get(f"/sets/{set_id}/scene.json")
    assert scene.status_code == 404
    assert "not measured yet" in scene.json()["error"]["says"]
    assert client.get(f"/clips/{clip_id}/frames.json").status_code == 200


def test_frames_are_the_timestamps_and_the_proxy_gives_ranges(desk: Any) -> None:
    client, _, (_, clip_id), _ = desk

    assert client.get(f"/clips/{clip_id}/frames.json").json()["pts_s"] == pytest.approx(TIMES.tolist(), abs=1e-4)
    part = client.get(f"/clips/{clip_id}/proxy.mp4", headers={"range": "bytes=0-99"})
    assert (part.status_code, len(part.content)) == (206, 100)
    assert client.get(f"/clips/{clip_id}/frame.jpg").status_code == 404


def test_scene_charts_mechanics_and_measurement(desk: Any) -> None:
    client, _, (set_id, clip_id), _ = desk

    assert client.get(f"/sets/{set_id}/scene.json").json()["grid"]["cells"][0]["n"] == 1
    charts = client.get(f"/sets/{set_id}/charts.json").json()
    assert {"specs", "titles", "set", "reps"} <= set(charts)
    mechanics = client.get(f"/sets/{set_id}/mechanics")
    assert mechanics.status_code == 200
    assert "--" not in mechanics.json()["html"]
    assert mechanics.json()["moments"][0]["rep"] == 1
    assert client.get(f"/clips/{clip_id}/measurement.json").json()["schema"] == "midfoot/measurement/1"
    assert client.get(f"/sets/{set_id}/numbers").text.count("<table") >= 1


def test_a_repair_is_kept_and_the_clip_queued_before_all_others(desk: Any) -> None:
    client, workspace, (set_id, clip_id), _ = desk
    sent = {"clip": clip_id, "kind": "bar_at", "body": {"x_px": 10, "y_px": 20, "at_s": 0.5}}
    first = client.post(f"/sets/{set_id}/repairs", json=sent)
    second = client.post(f"/sets/{set_id}/repairs", json={**sent, "kind": "plate", "body": {"mm": 420}})

    assert (first.status_code, second.status_code) == (201, 201)
    assert [r["words"] for r in second.json()["repairs"]] == [
        "The bar was pointed at at 0.50 s",
        "Largest plate: 420 mm",
    ]
    with workspace.read() as c:
        jobs = {
            j.id: j for j in c.execute(sa.select(tables.jobs).where(tables.jobs.c.key == f"measure:{clip_id}"))
        }
        assert jobs[first.json()["job"]].state == "cancelled"  # its result would be of older repairs
        assert jobs[second.json()["job"]].state == "queued"
        assert jobs[second.json()["job"]].priority == max(j.priority for j in jobs.values())

    back = client.post(f"/sets/{set_id}/repairs/undo", json={"clip": clip_id, "n": 2})
    assert [r["undone"] for r in back.json()["repairs"]] == [False, True]
    again = client.post(f"/sets/{set_id}/repairs/undo", json={"clip": clip_id, "n": 2})
    assert again.status_code == 409
    with workspace.read() as c:
        assert [(r.kind, r.undone) for r in repairs_of(c, clip_id)] == [("bar_at", False), ("plate", True)]


def test_a_lift_put_right_is_the_sets_lift_until_it_is_taken_back(workspace: Workspace) -> None:
    set_id, clip_id = add_shown(workspace, evolve(made_measurement(), context=Context(lift="squat")), TIMES)
    client = client_of(workspace)

    def lift() -> str:
        with workspace.read() as c:
            return str(c.execute(sa.select(tables.sets.c.lift).where(tables.sets.c.id == set_id)).scalar())

    sent = {"clip": clip_id, "kind": "lift", "body": {"lift": "deadlift"}}
    assert client.post(f"/sets/{set_id}/repairs", json=sent).status_code == 201
    assert lift() == "deadlift"
    client.post(f"/sets/{set_id}/repairs/undo", json={"clip": clip_id, "n": 1})
    assert lift() == "squat"


@pytest.mark.parametrize(
    ("sent", "status", "words"),
    [
        ({"kind": "plate", "body": {"mm": 9}}, 422, "100 to 500"),
        ({"kind": "colour", "body": {}}, 422, "no repair"),
        ({"kind": "bar_at", "body": {"x_px": "left"}}, 422, "x_px"),
        ({"clip": "ffff", "kind": "plate", "body": {"mm": 450}}, 404, "no clip of this set"),
        ({"kind": "plate", "body": 7}, 422, ""),
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_is_kept(
    desk: Any, sent: dict[str, Any], status: int, words: str
) -> None:
    client, workspace, _, (set_id, clip_id) = desk
    answer = client.post(f"/sets/{set_id}/repairs", json={"clip": clip_id, **sent})

    assert answer.status_code == status
    assert words in answer.json()["error"]["says"]
    with workspace.read() as c:
        assert repairs_of(c, clip_id) == ()


@pytest.mark.parametrize(
    "address", ["/sets/00", "/sets/00/scene.json", "/clips/00/proxy.mp4", "/clips/00/measurement.json"]
)
def test_what_is_not_there_is_said(desk: Any, address: str) -> None:
    assert desk[0].get(address).status_code == 404


def test_sets_filmed_from_different_sides_lend_each_other_no_way_forward(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    made = made_measurement()
    front = evolve(
        made, data=evolve(made.data, view=evolve(made.data.view, view_class="front", yaw_deg=Value(80, 2)))
    )
    with Workspace.create(tmp_path_factory.mktemp("two") / "workspace") as workspace:
        (first, _), (same, _), (other, _) = (add_shown(workspace, m, TIMES) for m in (made, made, front))
        client = client_of(workspace)
        alike = client.get(f"/sets/{first}/against/{same}").json()
        apart = client.get(f"/sets/{first}/against/{other}").json()

    assert alike["why"] == ""
    assert any(row["forward"] is not None for row in alike["reps"])
    assert apart["why"]
    assert {row["forward"] for row in apart["reps"]} == {None}
    assert [row["up"] for row in apart["reps"]] == [row["up"] for row in alike["reps"]]

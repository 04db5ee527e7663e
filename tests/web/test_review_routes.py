"""The review's routes: the state drawn with every answer, edits taken or refused in a sentence, both lengths."""

from __future__ import annotations

import re
from typing import Any

import pytest
from attrs import evolve
from desk_client import PAGE
from desk_reviews import SAID, add_lifter, add_set, measure, squat
from starlette.testclient import TestClient

from midfoot.store import Workspace
from midfoot.web.pages.review import panel

LOCKOUT = "change:squat_soft_lockout"


@pytest.fixture
def set_id(workspace: Workspace) -> str:
    return add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=add_lifter(workspace))


def sent(kind: str, part: str = LOCKOUT, name: str = "b/0", **more: Any) -> dict[str, Any]:
    return {"edits": [{"id": name, "kind": kind, "part": part, **more}]}


def test_the_page_of_a_set_holds_its_review(client: TestClient, set_id: str) -> None:
    """Cards with size, sd and what the clip can tell; what the lifter reads beside them; nothing unescaped."""
    page = client.get(f"/sets/{set_id}", headers=PAGE)

    assert page.status_code == 200
    assert "25.0 mm, sd 0.8, on rep 5" in page.text
    assert "the lifter reads" in page.text
    assert 'id="review-cards"' in page.text
    assert "review.js" in page.text
    assert "None" not in re.sub(r"<[^>]*>", " ", page.text)


def test_an_edit_answers_with_everything_drawn_again(client: TestClient, set_id: str) -> None:
    """The words of the preview are the coach's at once, in both lengths."""
    first = client.get(f"/sets/{set_id}/review/state").json()
    answer = client.post(f"/sets/{set_id}/edits", json=sent("reword", text="You stop <b>short</b>."))
    state = answer.json()

    assert answer.status_code == 200
    assert state["version"] == first["version"] + 1
    assert "You stop &lt;b&gt;short" in state["html"]["page"]
    assert "You stop &lt;b&gt;short" in state["html"]["cards"]
    assert len(state["unseen"]) == len(first["unseen"]) - 1
    spoken = client.post(
        f"/sets/{set_id}/edits", json=sent("reword", name="c/0", text="See it stop.", length="on_air")
    )
    assert "see it stop." in spoken.json()["html"]["script"].casefold()


def test_undo_and_redo_count_once_for_each_request(client: TestClient, set_id: str) -> None:
    """A page that got no answer sends the same request again."""
    client.post(f"/sets/{set_id}/edits", json=sent("drop", reason="not now"))
    client.post(f"/sets/{set_id}/edits", json=sent("note", name="c/0", text="the belt"))
    for _ in range(2):
        state = client.post(f"/sets/{set_id}/edits/undo", json={"name": "one"}).json()
    assert "dropped: not now" in state["html"]["cards"]
    assert "the belt" not in state["html"]["cards"]
    assert state["can_redo"]
    for _ in range(2):
        state = client.post(f"/sets/{set_id}/edits/redo", json={"name": "two"}).json()
    assert "the belt" in state["html"]["cards"]


@pytest.mark.parametrize(
    ("body", "status", "word"),
    [
        (sent("keep", "change:nothing"), 422, "no part"),
        (sent("drop"), 422, "reason"),
        (sent("reword", text="x" * 2001), 422, "2000"),
        ({"edits": []}, 422, "edits"),
        ({"edits": ["x"]}, 422, ""),
        ({"edits": [{"id": "a"}]}, 422, "kind"),
        ({}, 422, "edits"),
    ],
)
def test_what_makes_no_sense_is_refused_in_a_sentence(
    client: TestClient, set_id: str, body: dict[str, Any], status: int, word: str
) -> None:
    answer = client.post(f"/sets/{set_id}/edits", json=body)

    assert answer.status_code == status
    assert word in answer.json()["error"]["says"] + answer.json()["error"]["remedy"]
    assert client.get(f"/sets/{set_id}/review/state").json()["version"] == 0


def test_what_is_seen_goes_in_at_the_frame(client: TestClient, set_id: str) -> None:
    """By the vocabulary or in own words; a rep that is not there is refused."""
    state = client.post(
        f"/sets/{set_id}/observations", json={"rep": 2, "t_s": 5.0, "observation": "brace_late", "id": "q1"}
    ).json()
    assert "The trunk is braced only after the descent has begun" in state["html"]["cards"]
    again = client.post(
        f"/sets/{set_id}/observations", json={"rep": 2, "t_s": 5.0, "observation": "brace_late", "id": "q1"}
    ).json()
    assert again["version"] == state["version"]
    wrong = client.post(f"/sets/{set_id}/observations", json={"rep": 40, "t_s": 5.0, "words": "x"})
    assert (wrong.status_code, wrong.json()["error"]["says"]) == (422, "There is no rep 40 in this set.")


def test_a_key_and_a_wording_are_kept_for_later(client: TestClient, workspace: Workspace, set_id: str) -> None:
    state = client.post(f"/sets/{set_id}/keys", json={"observation": "brace_late", "key": "ö"}).json()
    assert 'data-key="ö"' in state["html"]["palette"]

    client.post(f"/sets/{set_id}/edits", json=sent("reword", text="Stand tall on every rep."))
    kept = client.post(f"/sets/{set_id}/wording", json={"part": LOCKOUT}).json()["kept"]
    assert (workspace.library / "wording.toml").read_text().count("Stand tall on every rep.") == 1
    assert client.post(f"/sets/{set_id}/wording/undo", json=kept).status_code == 200
    assert "Stand tall" not in (workspace.library / "wording.toml").read_text()
    assert client.post(f"/sets/{set_id}/wording/undo", json=kept).status_code == 409


def test_after_measuring_again_questions_are_answered_on_the_page(
    client: TestClient, workspace: Workspace, set_id: str
) -> None:
    """A rep more before the same moments: a list with a button for each answer."""
    client.post(f"/sets/{set_id}/observations", json={"rep": 5, "t_s": 13.0, "words": "The heel is light."})
    measure(workspace, set_id, squat(reps=6, short_mm=25.0, shift_s=-2.4), "k2")

    state = client.get(f"/sets/{set_id}/review/state").json()
    found = re.findall(r'data-answer="([^"]+)" data-edit="([^"]+)"', state["html"]["head"])
    assert found
    after = client.post(f"/sets/{set_id}/edits/answer", json={"choice": found[0][0], "edit": found[0][1]}).json()
    assert "Measured again" not in after["html"]["head"]
    stale = client.post(f"/sets/{set_id}/edits/answer", json={"choice": found[0][0], "edit": found[0][1]})
    assert stale.status_code == 422


def test_what_is_not_measured_yet_says_so_and_fills_later(client: TestClient, workspace: Workspace) -> None:
    set_id = add_set(workspace)

    assert "not measured yet" in client.get(f"/sets/{set_id}", headers=PAGE).text
    assert "not measured yet" in client.get(f"/sets/{set_id}/review/state").json()["why"]
    assert client.post(f"/sets/{set_id}/edits", json=sent("keep")).status_code == 404
    assert client.get(f"/sets/{set_id}/review", headers=PAGE).status_code == 404


def test_both_lengths_on_a_page_of_their_own(client: TestClient, set_id: str) -> None:
    page = client.get(f"/sets/{set_id}/review", headers=PAGE).text

    assert "The lifter&#39;s page" in page or "The lifter's page" in page
    assert "seconds is what is listened to" in page
    assert "data-goto" not in page


def test_what_safety_binds_is_on_the_page_where_it_binds(client: TestClient, workspace: Workspace) -> None:
    said = evolve(SAID, pain="left knee <i>", safeties=None)
    set_id = add_set(workspace, squat(reps=5), said)

    html = client.get(f"/sets/{set_id}/review/state").json()["html"]

    assert "left knee &lt;i&gt;" in html["head"]
    assert "a licensed clinician" in html["head"]
    assert html["cards"].count("Withheld here because of") == 2
    assert "To try." not in html["cards"]


def test_what_was_said_is_corrected_and_the_draft_follows(
    client: TestClient, workspace: Workspace, set_id: str
) -> None:
    """The form holds what the set's row knows; an effort that cannot be is refused in a sentence."""
    said = panel(workspace, set_id).values
    assert (said["lift"], said["load"]) == ("squat", "100 kg")

    wrong = client.post(f"/sets/{set_id}/context", json={"fields": {**said, "rpe": "11"}})
    assert (wrong.status_code, "5 to 10" in wrong.json()["error"]["says"]) == (422, True)
    assert client.post(f"/sets/{set_id}/context", json={"fields": {**said, "rpe": "9.5"}}).status_code == 200

    assert "That was close to your limit" in client.get(f"/sets/{set_id}/review/state").json()["html"]["cards"]

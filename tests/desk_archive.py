"""Rows of an archive made by a law: sets over two years, findings by chance, a coach with a mind of his own.

The coach drops what is small and keeps what is large: at `MIND` times the threshold he does either alike. What he
does is drawn; nothing of it is taken from the program.
"""

from __future__ import annotations

import math
import random
from datetime import UTC, datetime, timedelta
from typing import Any

from midfoot.findings import defaults, findings_of
from midfoot.store import Workspace
from midfoot.store.columns import new_id
from midfoot.store.tables import blobs, cases, clips, lifters, measurements, sets

MIND = 1.5
FIRST = ("Runa", "Mattis", "Teo", "Ines", "Jory", "Sanne", "Oda", "Ivo", "Lene", "Marek", "Asta", "Boris", "Cleo",
         "Dario", "Edda", "Falk", "Gro", "Hanno", "Ilse", "Jonte")  # fmt: skip
LAST = ("Tveit", "Holm", "Aldana", "Falk", "Penn", "Lind", "Brekke", "Moen", "Ruud", "Sandvik")
REASONS = ("not now", "not sure enough", "said already", "the camera is wrong here")
END = datetime(2031, 5, 24, 18, 0, tzinfo=UTC)


def fill(workspace: Workspace, *, sets_n: int = 400, lifters_n: int = 30, seed: int = 1) -> list[str]:
    """Fill a workspace; gives the ids of the sets, the latest first."""
    chance = random.Random(seed)
    people = [
        {"id": new_id(), "name": f"{FIRST[k % 20]} {LAST[(k * 7 + k // 20) % 10]}", "shown_name": FIRST[k % 20]}
        for k in range(lifters_n)
    ]
    rows: dict[str, list[dict[str, Any]]] = {"sets": [], "clips": [], "measurements": [], "cases": []}
    for k in range(sets_n):
        _one(rows, chance, people, k, sets_n)
    with workspace.write() as connection:
        connection.execute(blobs.insert().values(sha256="a" * 64, bytes=1))
        for table, made in ((lifters, people), (sets, rows["sets"]), (clips, rows["clips"]),
                            (measurements, rows["measurements"]), (cases, rows["cases"])):  # fmt: skip
            for start in range(0, len(made), 2000):
                connection.execute(table.insert(), made[start : start + 2000])
    return [s["id"] for s in rows["sets"]]


def _one(rows: dict[str, Any], chance: random.Random, people: list[Any], k: int, of: int) -> None:
    lift = chance.choice(("squat", "squat", "bench", "deadlift"))
    view = chance.choice(("side", "side", "side", "front_oblique", "front"))
    at = END - timedelta(days=700 * k / of)
    set_id, clip_id = new_id(), new_id()
    person = chance.choice(people)
    rows["sets"].append(
        {"id": set_id, "lifter_id": person["id"], "lift": lift, "load_kg": chance.randrange(16, 90) * 2.5,
         "received_at": at, "state": "ready", "main_clip_id": clip_id, "context_confirmed": True, "context": {}}
    )  # fmt: skip
    rows["clips"].append({"id": clip_id, "set_id": set_id, "sha256": "a" * 64, "received_name": f"{k}.mp4"})
    could = [f for f in findings_of(lift) if chance.random() < (0.9 if view == "side" else 0.5)]
    rows["measurements"].append(
        {"clip_id": clip_id, "input_key": f"{k:064d}", "folder": f"measured/{clip_id}/{k}", "is_current": True,
         "judged": " ".join(sorted(f.id for f in could)), "view": view}
    )  # fmt: skip
    for finding in chance.sample(could, min(len(could), chance.choice((1, 2, 2, 3, 4, 5)))):
        rows["cases"].append(_case(chance, finding, set_id, view, at, looked=chance.random() < 0.85))


def _case(chance: random.Random, finding: Any, set_id: str, view: str, at: datetime, *, looked: bool) -> Any:
    limit = defaults()[finding.signs[0].limit]
    times = limit.oblique if "oblique" in view else 1.0
    ratio = 0.6 + chance.expovariate(0.9)
    sd = 0.12 * limit.floor * times
    keeps = 1 / (1 + math.exp(-7 * (ratio - MIND)))
    decision, reason = "open", ""
    if looked and ratio >= 0.85:
        decision = "dropped"
        if chance.random() < keeps:
            decision = chance.choice(("kept", "kept", "kept", "reworded", "accepted"))
        reason = chance.choice(REASONS) if decision == "dropped" else ""
    return {
        "set_id": set_id, "part_id": f"change:{finding.id}", "finding": finding.id, "title": finding.title,
        "threshold": limit.id, "unit": limit.unit, "size": round(ratio * limit.floor * times, 3),
        "sd": round(sd, 3), "floor": limit.floor * times, "times_floor": times, "rep": chance.randrange(1, 6),
        "confidence": "sure" if ratio > 1.2 else "likely" if ratio >= 0.85 else "hint",
        "at_s": round(chance.uniform(2, 20), 2), "view": view, "decision": decision, "reason": reason,
        "decided_at": at if decision != "open" else None, "by": "measured", "raised": True,
    }  # fmt: skip

"""A measured folder reads back as the record that it was written from."""

from __future__ import annotations

import json

import numpy as np
import pytest
from attrs import evolve
from review.made import FAULTS, measured

from midfoot.records.base import Value
from midfoot.store import measurement_from, to_json


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_what_is_read_is_what_was_written(lift: str) -> None:
    """The document of the record read back is the document."""
    one = measured(lift, FAULTS[lift][:2])
    track = evolve(one.data.track, aspect=Value(0.8, 0.01), axis_deg=91.5)
    one = evolve(one, data=evolve(one.data, track=track))
    document = json.loads(json.dumps(to_json(one)))
    body = one.data.body
    words = np.array(["hidden", "inferred", "seen"])[body.state]
    arrays = {"t_s": body.t_s, "xy_px": body.xy_px, "sd_px": body.sd_px, "status": words}

    back = measurement_from(document, arrays, one.context)

    assert json.loads(json.dumps(to_json(back))) == document
    assert back.found == one.found
    assert (back.data.track.aspect, back.data.track.axis_deg) == (track.aspect, track.axis_deg)
    assert np.array_equal(back.data.body.state, body.state)
    assert back.data.path is not None
    assert one.data.path is not None
    assert back.data.path.up_mm == pytest.approx(one.data.path.up_mm, abs=1e-3)


def test_damage_is_an_error_that_names_the_field() -> None:
    """A missing part, a word that is none."""
    one = measured()
    body = one.data.body
    arrays = {"t_s": body.t_s, "xy_px": body.xy_px, "sd_px": body.sd_px,
              "status": np.array(["hidden", "inferred", "seen"])[body.state]}  # fmt: skip
    document = to_json(evolve(one))
    with pytest.raises(KeyError, match="phases"):
        measurement_from({k: v for k, v in document.items() if k != "phases"}, arrays)
    document["reps"][0]["outcome"] = "heroic"
    with pytest.raises(ValueError, match="heroic"):
        measurement_from(document, arrays)

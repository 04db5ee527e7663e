"""What the player did during a take, as JSON: checked before it is kept."""

from __future__ import annotations

from typing import Any

import cattrs
from attrs import asdict

from midfoot.records.base import RecordError
from midfoot.records.takes import Happened

MOST_EVENTS = 20_000


def events_to_json(events: tuple[Happened, ...]) -> list[dict[str, Any]]:
    """Write events; what is as usual is left out."""
    usual = asdict(Happened(kind="play", at_s=0.0, t_s=0.0))
    return [{k: v for k, v in asdict(e).items() if k in ("kind", "at_s", "t_s") or v != usual[k]} for e in events]


def events_from_json(rows: Any) -> tuple[Happened, ...]:
    """Read events.

    Raises
    ------
    RecordError
        When they break the form; the text says which and how.
    """
    if not isinstance(rows, list) or len(rows) > MOST_EVENTS:
        raise RecordError(f"events: expected a list of at most {MOST_EVENTS}")
    found = []
    for n, row in enumerate(rows, 1):
        try:
            found.append(_CONVERTER.structure(row, Happened))
        except (cattrs.BaseValidationError, TypeError, ValueError, KeyError) as error:
            why = error.exceptions[0] if isinstance(error, cattrs.BaseValidationError) else error
            raise RecordError(f"event {n}: {why}") from None
    return tuple(found)


_CONVERTER = cattrs.Converter(forbid_extra_keys=True)

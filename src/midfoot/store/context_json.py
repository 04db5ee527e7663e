"""context.json: what was said of a set, beside its measurement. Private: it never leaves the coach's folder."""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import Any

import cattrs

from midfoot.records.context import Context

CONTEXT_ID = "midfoot/context/1"


@cache
def _converter() -> cattrs.Converter:
    converter = cattrs.Converter(forbid_extra_keys=True)
    converter.register_unstructure_hook(date, lambda day: day.isoformat())
    converter.register_structure_hook(date, lambda text, _: date.fromisoformat(text))
    return converter


def context_to_json(context: Context) -> dict[str, Any]:
    """Turn a context into plain dicts, lists and numbers; days as 2031-05-24."""
    return {"schema": CONTEXT_ID, **_converter().unstructure(context)}


def context_from_json(document: dict[str, Any]) -> Context:
    """Read it back.

    Raises
    ------
    ValueError
        When it is no such document.
    """
    found = dict(document)
    if found.pop("schema", None) != CONTEXT_ID:
        raise ValueError(f"schema: expected {CONTEXT_ID}, got {document.get('schema')!r}")
    try:
        return _converter().structure(found, Context)
    except Exception as error:
        raise ValueError(f"the context cannot be read: {error}") from None

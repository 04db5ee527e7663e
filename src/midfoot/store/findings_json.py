"""Findings as they stand in measurement.json, and back: the part `findings`, and `held` and `notes` of `set`."""

from __future__ import annotations

from functools import cache
from typing import Any, TypeVar

import cattrs
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn, override

from midfoot.records.findings import Cause, Finding, Found, Held, Note

T = TypeVar("T")


@cache
def _converter() -> cattrs.Converter:
    converter = cattrs.Converter(detailed_validation=False)
    renamed = override(rename="for")
    converter.register_unstructure_hook(Cause, make_dict_unstructure_fn(Cause, converter, speaks_for=renamed))
    converter.register_structure_hook(Cause, make_dict_structure_fn(Cause, converter, speaks_for=renamed))
    converter.register_unstructure_hook(float, lambda number: round(number, 6))
    return converter


def _plain(value: Any) -> Any:
    """Tuples as lists, as a JSON reader gives them."""
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    return [_plain(v) for v in value] if isinstance(value, (list, tuple)) else value


def finding_to_json(finding: Finding) -> dict[str, Any]:
    """Turn a finding into plain dicts, lists and numbers; a cause's `speaks_for` is written as `for`."""
    return dict(_plain(_converter().unstructure(finding)))


def finding_from_json(document: dict[str, Any]) -> Finding:
    """Read a finding back.

    Raises
    ------
    ValueError
        When it is no such document; the text says what is wrong with it.
    """
    return _read(document, Finding)


def found_to_json(found: Found) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Give the list `findings` and what is added to `set`: `held` (or null) and `notes`."""
    rest = _converter().unstructure(found)
    return [finding_to_json(f) for f in found.findings], {
        "held": _plain(rest["held"]),
        "notes": _plain(rest["notes"]),
    }


def found_from_json(document: dict[str, Any]) -> Found:
    """Read all findings of a measurement.json back; parts that an older file does not have are empty.

    Raises
    ------
    ValueError
        When they cannot be read; the text says what is wrong.
    """
    whole = document.get("set") or {}
    held = whole.get("held")
    return Found(
        findings=tuple(finding_from_json(f) for f in document.get("findings", ())),
        held=None if held is None else _read(held, Held),
        notes=tuple(_read(n, Note) for n in whole.get("notes", ())),
    )


def _read(document: dict[str, Any], kind: type[T]) -> T:
    try:
        return _converter().structure(document, kind)
    except KeyError as error:
        raise ValueError(f"a {kind.__name__.lower()} cannot be read: {error.args[0]} is missing") from None
    except Exception as error:
        raise ValueError(f"a {kind.__name__.lower()} cannot be read: {error}") from None

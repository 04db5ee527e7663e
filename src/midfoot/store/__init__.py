"""Keeping results: files that are whole or not there, measurement.json with its schema, and the workspace."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from midfoot.store.context_json import context_from_json, context_to_json
from midfoot.store.files import StoreError, output_folder, write_whole
from midfoot.store.findings_json import finding_from_json, finding_to_json, found_from_json, found_to_json
from midfoot.store.folder import read_folder
from midfoot.store.measurement_json import SCHEMA_ID, schema, to_json, validate
from midfoot.store.measurement_read import measurement_from, read_measurement
from midfoot.store.review_json import (
    REVIEW,
    Kept,
    draft_from_json,
    edits_from_json,
    edits_to_json,
    read_review,
    review_schema,
    review_to_json,
    validate_review,
)

if TYPE_CHECKING:
    from midfoot.store.workspace import Workspace, default_path

__all__ = [
    "REVIEW",
    "SCHEMA_ID",
    "Kept",
    "StoreError",
    "Workspace",
    "context_from_json",
    "context_to_json",
    "default_path",
    "draft_from_json",
    "edits_from_json",
    "edits_to_json",
    "finding_from_json",
    "finding_to_json",
    "found_from_json",
    "found_to_json",
    "measurement_from",
    "output_folder",
    "read_folder",
    "read_measurement",
    "read_review",
    "review_schema",
    "review_to_json",
    "schema",
    "to_json",
    "validate",
    "validate_review",
    "write_whole",
]


def __getattr__(name: str) -> Any:
    """Import the database only where a workspace is asked for: measuring one clip needs none."""
    if name in ("Workspace", "default_path"):
        from midfoot.store import workspace

        return getattr(workspace, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

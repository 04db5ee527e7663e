"""Keeping results: measurement.json with its schema, body.npz, and files that are whole or not there."""

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
    read_review,
    review_schema,
    review_to_json,
    validate_review,
)

__all__ = [
    "REVIEW",
    "SCHEMA_ID",
    "Kept",
    "StoreError",
    "context_from_json",
    "context_to_json",
    "draft_from_json",
    "edits_from_json",
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

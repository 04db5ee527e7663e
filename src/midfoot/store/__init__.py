"""Keeping results: measurement.json with its schema, body.npz, and files that are whole or not there."""

from midfoot.store.context_json import context_from_json, context_to_json
from midfoot.store.files import StoreError, output_folder, write_whole
from midfoot.store.findings_json import finding_from_json, finding_to_json, found_from_json, found_to_json
from midfoot.store.folder import read_folder
from midfoot.store.measurement_json import SCHEMA_ID, schema, to_json, validate

__all__ = [
    "SCHEMA_ID",
    "StoreError",
    "context_from_json",
    "context_to_json",
    "finding_from_json",
    "finding_to_json",
    "found_from_json",
    "found_to_json",
    "output_folder",
    "read_folder",
    "schema",
    "to_json",
    "validate",
    "write_whole",
]

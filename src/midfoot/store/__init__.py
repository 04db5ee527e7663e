"""Keeping results: measurement.json with its schema, body.npz, and files that are whole or not there."""

from midfoot.store.files import StoreError, output_folder, write_whole
from midfoot.store.measurement_json import SCHEMA_ID, schema, to_json, validate

__all__ = ["SCHEMA_ID", "StoreError", "output_folder", "schema", "to_json", "validate", "write_whole"]

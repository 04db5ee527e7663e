"""Migrations of the database: one file each, only ever added."""

"""Findings of the bench press, one file each."""

"""Findings of the deadlift, one file each."""

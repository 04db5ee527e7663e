"""Findings of the squat, one file each."""

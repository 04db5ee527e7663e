"""midfoot: measure a barbell set from a phone's video and say how sure each number is."""

__version__ = "0.1.0"

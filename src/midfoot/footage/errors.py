"""The one error that footage raises."""


class FootageError(ValueError):
    """A clip cannot be measured. The text is one sentence with the remedy."""

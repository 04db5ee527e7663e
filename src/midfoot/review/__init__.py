"""The review of a set: drafted from findings in the coach's words, changed by edits that are only ever added.

`draft_of` proposes, `apply` puts the coach's edits in, `script_of` is the same for the voice. Pure: no files and no
clock.
"""

from midfoot.review.apply import EditError, apply, effective

__all__ = ["EditError", "apply", "effective"]

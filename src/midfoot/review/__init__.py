"""The review of a set: drafted from findings in the coach's words, changed by edits that are only ever added.

`draft_of` proposes, `apply` puts the coach's edits in, `script_of` is the same for the voice. Pure: no files and
no clock.
"""

from midfoot.review.apply import EditError, apply, effective
from midfoot.review.draft import draft_of, values_of
from midfoot.review.library import Library, LibraryError, as_template, with_wording, without_wording
from midfoot.review.library import load as load_library
from midfoot.review.next_time import EASY_RPE
from midfoot.review.said import LoadSays, weeks_limits
from midfoot.review.script import moment_words, script_of, script_text, texts_of
from midfoot.review.table import table_csv

__all__ = [
    "EASY_RPE",
    "EditError",
    "Library",
    "LibraryError",
    "LoadSays",
    "apply",
    "as_template",
    "draft_of",
    "effective",
    "load_library",
    "moment_words",
    "script_of",
    "script_text",
    "table_csv",
    "texts_of",
    "values_of",
    "weeks_limits",
    "with_wording",
    "without_wording",
]

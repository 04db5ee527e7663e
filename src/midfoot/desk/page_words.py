"""What the command line's options are called on the page of a set: a remedy names what can be pressed there."""

from __future__ import annotations

import re

BUTTONS = {
    "bar-at": "The bar is here",
    "lifter-at": "This is the lifter",
    "plate": "Plate's size",
    "reps": "A moment of a rep",
    "from": "Part to measure",
    "to": "Part to measure",
    "mirrored": "Mirror image",
    "real-speed": "Slow motion",
    "lift": "Which lift",
}
SAID = ("load", "body-mass", "stature", "sex", "rules", "context")
WHERE = "What was said of this set"
MARKS = re.compile(r"--crease(?: and |, ?)--knee-top")
TOLD = re.compile(rf"(?:give|with)? ?\(?--(?:{'|'.join(SAID)})(?:, --(?:{'|'.join(SAID)}))*\)?")
OPTION = re.compile(rf"(?:midfoot measure )?--({'|'.join(BUTTONS)})\b(?: X,Y@S| [A-Z]+)?")


def on_page(text: str) -> str:
    """Give a sentence with every option in the page's own words.

    Examples
    --------
    >>> on_page("Give its place with --bar-at X,Y@S.")
    'Give its place with “The bar is here”.'
    >>> on_page("the load is not known; give --load")
    'the load is not known; say it under “What was said of this set”'
    """
    text = MARKS.sub("“Crease and knee top”", text)
    text = OPTION.sub(lambda found: f"“{BUTTONS[found[1]]}”", text)
    return TOLD.sub(f"say it under “{WHERE}”", text)

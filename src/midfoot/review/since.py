"""What became of the last review's changes: the first lines of the next one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from midfoot.records.review import Part, Since
from midfoot.review.library import Picker, small
from midfoot.review.words import rounded

ABOUT = {"held": "since_held", "not_held": "since_not_held", "cannot_tell": "since_open"}


def since_parts(picker: Picker, values: Mapping[str, str], since: Sequence[Since]) -> list[Part]:
    """Draft a line for every change that can be spoken of; never aloud, and not for the public.

    Parameters
    ----------
    picker, values : where sentences come from, what stands in their braces.
    since : what became of each change, the oldest first; of two about one thing the later one is said. What
        held is said first, what cannot be told last.
    """
    out = []
    order = tuple(ABOUT)
    for one in sorted({s.about: s for s in since}.values(), key=lambda s: order.index(s.verdict)):
        said = {**values, "thing": small((one.title or one.tried).rstrip(".")), "reason": one.reason.rstrip(".")}
        if one.found is not None and one.foretold is not None and one.found.value > 0:
            said |= {"size": rounded(one.found), "more": rounded(one.foretold)}
        text = picker.pick(ABOUT[one.verdict], "answer", "lifter", said)
        if text:
            out.append(
                Part(id=f"since:{one.about}", section="since", about=one.about, text=text, quiet=True,
                     caption=f"Since the last review: {said['thing'] if one.title else 'what was to be tried'}")
            )  # fmt: skip
    return out

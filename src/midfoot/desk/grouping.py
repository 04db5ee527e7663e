"""Which observation somebody's own words mean, by plain words of the trade; "" where it is not plain."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Sequence
from functools import cache
from importlib import resources

PLAIN_SHARE, CLEAR_OF_SECOND = 0.95, 1.25
"""Words mean an observation when they share what is its own, and by so much more than with the next one."""


def grouped(words: str, options: Sequence[tuple[str, str]]) -> str:
    """Say which observation of the list somebody's own words mean, "" when it is not plain.

    By the words that both share, each counted by how seldom it stands among the observations; small words and
    endings are left out. Where two fit about as well it is not plain.
    """
    mine = set(_stems(words))
    said = _said_as()
    every = {what: set(_stems(f"{title} {said.get(what, '')}")) for what, title in options}
    seldom = Counter(stem for stems in every.values() for stem in stems)
    scores = sorted(
        ((sum(1.0 / seldom[s] for s in stems & mine), what) for what, stems in every.items()), reverse=True
    )
    if not scores or scores[0][0] < PLAIN_SHARE:
        return ""
    if len(scores) > 1 and scores[0][0] < CLEAR_OF_SECOND * scores[1][0]:
        return ""
    return scores[0][1]


@cache
def _said_as() -> dict[str, str]:
    text = resources.files("midfoot.desk").joinpath("said_as.toml").read_text("utf-8")
    return {k: str(v) for k, v in tomllib.loads(text).items()}


def _stems(text: str) -> list[str]:
    """Words without what they end in, and without the small ones."""
    small = set(_said_as()["small"].split())
    out = []
    for word in re.findall(r"[a-z]+", text.lower()):
        if word in small:
            continue
        for ending in ("ing", "ed", "er", "es", "s", "y", "ward"):
            if word.endswith(ending) and len(word) - len(ending) >= 3:
                word = word[: -len(ending)]
                break
        out.append(word[:-1] if len(word) > 3 and word[-1] == word[-2] else word)
    return out

"""Which observation somebody's own words mean, by plain words of the trade; "" where it is not plain.

Somebody who saw something says what does what ("the knees cave"), or what is missing ("no pause"), or has a phrase
of the trade for it ("good morning"). A part alone ("my knees hurt") means no observation, and neither does what is
denied or praised.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources

from attrs import field, frozen

PHRASE, PAIR, LACK, WEAK, MORE = 3.0, 2.0, 2.0, 1.75, 0.25
"""How much a phrase, a part with what it does, a lack, a part with a side's name, and every further word speak for
an observation."""
NEAR_DENIAL = 2
"""So many words after a denial are denied."""
ENDINGS = ("ing", "ed", "es", "s")


@frozen(kw_only=True)
class Meant:
    """By which words an observation is meant; all of them as `_word` gives them."""

    phrases: tuple[tuple[str, ...], ...] = field(factory=tuple)
    parts: frozenset[str] = frozenset()
    does: frozenset[str] = frozenset()
    lacks: frozenset[str] = frozenset()


@frozen(kw_only=True)
class _Words:
    small: frozenset[str]
    denied: frozenset[str]
    praise: frozenset[str]
    weak: frozenset[str]
    short: frozenset[str]
    same: Mapping[str, str]
    meant: Mapping[str, Meant]


def grouped(words: str, options: Sequence[tuple[str, str]]) -> str:
    """Say which observation of a list somebody's own words mean, "" when that is not plain.

    Parameters
    ----------
    words : what somebody wrote.
    options : id and title of the observations that there are for the lift.
    """
    known = _known()
    said = _said(words, known)
    titles = {what: tuple(_said(title, known)) for what, title in options}
    scores = sorted(
        ((_score(said, known.meant.get(w, Meant()), titles[w], known), w) for w in titles), reverse=True
    )
    if not scores or scores[0][0] < WEAK or (len(scores) > 1 and scores[0][0] - scores[1][0] < MORE / 2):
        return ""
    return scores[0][1]


def _score(said: Sequence[str], meant: Meant, title: tuple[str, ...], known: _Words) -> float:
    """How much what was said speaks for an observation."""
    if title and set(title) <= set(said) and set(said) & known.denied <= set(title):
        return PHRASE + MORE * (len(title) - 1)
    plain = [word for k, word in enumerate(said) if not set(said[max(0, k - NEAR_DENIAL) : k]) & known.denied]
    best = max((PHRASE + MORE * (len(p) - 1) for p in meant.phrases if _holds(said, p, known)), default=0.0)
    found = {word for k, word in enumerate(said) if not set(said[max(0, k - 1) : k]) & known.praise}
    parts, does = meant.parts & found & set(plain), meant.does & set(plain)
    if parts and does and len(parts | does) > 1:
        best = max(best, (PAIR if does - known.weak else WEAK) + MORE * (len(parts | does) - 2))
    if meant.lacks & found and known.short & set(said):
        best = max(best, LACK + MORE * (len(meant.lacks & found) - 1))
    return best


def _holds(said: Sequence[str], phrase: tuple[str, ...], known: _Words) -> bool:
    """Tell whether a phrase stands in what was said, and is not denied there."""
    for k in range(len(said) - len(phrase) + 1):
        if tuple(said[k : k + len(phrase)]) == phrase:
            before = set(said[max(0, k - NEAR_DENIAL) : k])
            if phrase[0] in known.denied or not before & known.denied:
                return True
    return False


def _said(text: str, known: _Words) -> list[str]:
    """Give what was said, word by word: small words left out, words that mean the same as one."""
    text = re.sub(r"(\w)n['’]?t\b", r"\1 not", text.lower()) if "'" in text or "’" in text else text.lower()
    text = re.sub(r"\b(do|does|did|is|was|are|were|could|would|have|has)nt\b", r"\1 not", text)
    text = re.sub(r"\b(?:high|low)[ -]?bar\b", "", text)  # where it lies on the back
    text = re.sub(
        r"\bright (?=(?:off|at|from|out|after|before|away|now|there|in|as|when)\b)", "", text
    )  # straight off
    text = re.sub(r"\bleft (?=(?:the|his|her|its|their)\b)", "leave ", text)
    return [_word(w, known.same) for w in re.findall(r"[a-z]+", text) if w not in known.small]


def _word(word: str, same: Mapping[str, str]) -> str:
    """Give a word without its ending, or the word that it means the same as."""
    if word in same:
        return same[word]
    for ending in ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3 and not word.endswith("ss"):
            stem = word[: -len(ending)]
            stem = stem[:-1] if len(stem) > 3 and stem[-1] == stem[-2] and stem[-1] not in "ls" else stem
            return same.get(stem, same.get(f"{stem}e", _bare(stem)))
    return _bare(word)


def _bare(stem: str) -> str:
    return stem[:-1] if len(stem) > 3 and stem.endswith("e") else stem


@cache
def _known() -> _Words:
    document = tomllib.loads(resources.files("midfoot.desk").joinpath("said_as.toml").read_text("utf-8"))
    same = {w: name for name, others in document["same"].items() for w in (*str(others).split(), name)}

    def every(text: str) -> frozenset[str]:
        return frozenset(_word(w, same) for w in text.split())

    small = frozenset(str(document["small"]).split())
    denied, short, praise, weak = (every(document[name]) for name in ("denied", "short", "praise", "weak"))
    meant = {
        name: Meant(
            phrases=tuple(
                tuple(_word(w, same) for w in phrase.split())
                for phrase in str(row.get("alone", "")).split(";")
                if phrase.strip()
            ),
            parts=every(row.get("parts", "")), does=every(row.get("does", "")), lacks=every(row.get("lacks", "")),
        )
        for name, row in document.items() if isinstance(row, dict) and name != "same"
    }  # fmt: skip
    return _Words(small=small, denied=denied, praise=praise, weak=weak, short=short, same=same, meant=meant)

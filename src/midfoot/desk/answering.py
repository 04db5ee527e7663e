"""What an answer to an open set may say, and how comments from elsewhere become answers. Pure.

An answer names moments and observations or says it in words of its own; who gave it is a mark of a random token.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable
from typing import Any

from attrs import frozen

from midfoot.findings.registry import findings_of
from midfoot.store.signing import token_mark

MOST_SEEN, MOST_WORDS, MOST_S = 8, 500, 3600.0
MARK = re.compile(r"[0-9a-f]{64}")
COLUMNS = ("comment", "comments", "text", "answer", "message")
"""Names of the column that is read of a CSV."""
ABOUT_BODIES = re.compile(
    r"\b(fat(?! (?:bar|grip))|obese|chubby|skinny|scrawny|ugly|pretty (?:girl|boy|face|legs?)|so pretty|sexy|cute|"
    r"(?:is|looks?|so|how|damn|smoking) hot|thicc|booty|boobs?|breasts?|overweight|underweight|"
    r"(?:nice|great|big|huge|fine|cute) (?:butt|bum|arse|ass|legs)|"
    r"too heavy (?:for|of) (?:a )?(?:girl|woman|guy|man)|lose (?:some )?weight|body ?fat)\b",
    re.I,
)
"""Words on how somebody looks. That a butt leaves the bench, or a bar comes in hot, is said of the lift."""


class OpenSetError(ValueError):
    """What cannot be done with an open set or an answer: the text says why and what would do."""


def choices(lift: str) -> list[tuple[str, str]]:
    """Give the plain observations that an answer may name: id and words."""
    return [(d.id, d.title) for d in findings_of(lift)]


@frozen(kw_only=True)
class Seen:
    """One thing that somebody saw: an observation of the list, or words of his own; rep and moment if said."""

    what: str = ""
    words: str = ""
    rep: int | None = None
    at_s: float | None = None


def answer_of(sent: Any, lift: str) -> tuple[str, list[Seen]]:
    """Check what was sent; gives the token's mark and what was seen.

    Raises
    ------
    OpenSetError
        When it cannot be held: the text says why and what would do.
    """
    if not isinstance(sent, dict) or not isinstance(sent.get("seen"), list):
        raise OpenSetError("The answer cannot be read; reload the page and send it again.")
    token = sent.get("token")
    if not isinstance(token, str) or not re.fullmatch(r"[0-9A-Za-z_-]{16,64}", token):
        raise OpenSetError("The answer has no token; reload the page and send it again.")
    return token_mark(token), seen_of(sent["seen"], lift)


def seen_of(told: list[Any], lift: str) -> list[Seen]:
    """Check what somebody says he saw; raises as `answer_of`."""
    known = {name for name, _ in choices(lift)}
    found = []
    for one in told[:MOST_SEEN]:
        if not isinstance(one, dict):
            continue
        what = one.get("what") if one.get("what") in known else ""
        words = " ".join(str(one.get("words") or "").split())[:MOST_WORDS]
        rep, at_s = one.get("rep"), one.get("at_s")
        rep = rep if isinstance(rep, int) and not isinstance(rep, bool) and 1 <= rep <= 100 else None
        at_s = float(at_s) if isinstance(at_s, (int, float)) and 0 <= float(at_s) < MOST_S else None
        if what or words:
            found.append(Seen(what=str(what), words=words, rep=rep, at_s=at_s))
    if not found:
        raise OpenSetError("The answer says nothing yet; choose or write what you see.")
    if any(ABOUT_BODIES.search(s.words) for s in found):
        raise OpenSetError("Say what the bar and the body do, not how somebody looks; then send it again.")
    return found


def comments_of(text: str, lift: str) -> Iterable[tuple[str, list[Seen]]]:
    """Read comments. A name that stands in a CSV is not looked at."""
    try:
        saved = json.loads(text)
        for one in saved if isinstance(saved, list) else [saved]:
            yield answer_of(one, lift)
        return
    except ValueError:  # OpenSetError is one: then it is no saved answer either
        pass
    first = text.partition("\n")[0]
    between = max(",;\t", key=first.count)  # as a spreadsheet of this or that country writes it
    rows = list(csv.reader(io.StringIO(text.lstrip("\ufeff")), delimiter=between))
    head = [cell.strip().lower() for cell in rows[0]] if rows else []
    column = next((head.index(n) for n in COLUMNS if n in head), None)
    lines = [r[column] for r in rows[1:] if len(r) > column] if column is not None else text.splitlines()
    for line in lines:
        words = " ".join(line.split())[:MOST_WORDS]
        if words:
            yield token_mark(f"brought {words}"), [Seen(words=words)]

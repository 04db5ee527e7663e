"""What a question or a goal of the lifter is about, by the words in it."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib import resources

from attrs import frozen


@frozen(kw_only=True)
class Topic:
    """A subject that lifters ask about, and where its answer is found."""

    id: str
    words: tuple[str, ...]
    thing: str
    findings: tuple[str, ...] = ()
    measures: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()

    def covers(self, finding: str) -> bool:
        """Tell whether a finding belongs to this subject."""
        return "*" in self.findings or any(f in finding for f in self.findings)


@cache
def topics() -> tuple[Topic, ...]:
    """Give all subjects."""
    table = tomllib.loads(resources.files("midfoot.review").joinpath("topics.toml").read_text("utf-8"))
    return tuple(
        Topic(
            id=name,
            thing=entry["thing"],
            words=tuple(entry["words"]),
            findings=tuple(entry.get("findings", ())),
            measures=tuple(entry.get("measures", ())),
            rules=tuple(entry.get("rules", ())),
        )
        for name, entry in table.items()
    )


def topics_of(text: str) -> tuple[Topic, ...]:
    """Give the subjects of a text, the one named first in it first; none where none is recognised."""
    plain = " ".join(text.casefold().split())
    found: list[tuple[int, Topic]] = []
    for topic in topics():
        places = [m.start() for word in topic.words if (m := re.search(rf"\b{re.escape(word)}", plain))]
        if places:
            found.append((min(places), topic))
    return tuple(topic for _, topic in sorted(found, key=lambda pair: pair[0]))

"""Which field may go to which output: data in `policy.toml`, and the functions that every output goes through.

Rule for the next author: nothing that leaves is rendered from a review or a context that did not come out of
`review_for` and `said_in`, and its text is held against `leaks` before it is written.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from typing import Any

import attrs
from attrs import evolve, frozen

from midfoot.records.context import Context
from midfoot.records.review import Part, Review

PAIN_WORDS = re.compile(r"\b(pain\w*|hurt\w*|injur\w*|ache\w*|aching|sore\w*|rehab\w*|tendin\w*|surgery)\b")
"""Words with which a text speaks of pain; the cautions, which are said to everybody, are not searched for them."""
LEAST_NAME = 3
LEAST_PHRASE = 2
NO_SECRET = ("bench press", "the bench press", "back squat", "dead lift")
"""What a title often holds and every page says: the lift."""


@frozen
class Leak:
    """A text that would give away what may not go there: where it stands, and which field it is."""

    where: str
    field: str
    found: str


@cache
def _policy() -> dict[str, Any]:
    return tomllib.loads(resources.files("midfoot.desk").joinpath("policy.toml").read_text("utf-8"))


def outputs() -> tuple[str, ...]:
    """Name every output that the policy knows."""
    return tuple(_policy()["audiences"])


def audience_of(output: str) -> str:
    """Give who reads an output: `own`, `public` or `label`.

    Raises
    ------
    KeyError
        When the policy does not know it: then nothing may go there.
    """
    return str(_policy()["audiences"][output])


def may(field: str, output: str, uses: Iterable[str] = ()) -> bool:
    """Tell whether a field of the context may be shown or used in an output, given what the lifter ticked."""
    rule = _policy()["fields"].get(field, {}).get(audience_of(output), "no")
    return rule == "yes" or (rule != "no" and rule in uses)


def said_in(context: Context, output: str, uses: Iterable[str] = ()) -> Context:
    """Give the context with everything left out that may not go to an output."""
    blank = Context()
    ticked = frozenset(uses)
    out = {f.name: getattr(blank, f.name) for f in attrs.fields(Context) if not may(f.name, output, ticked)}
    return evolve(context, **out)


def review_for(review: Review, output: str, uses: Iterable[str] = ()) -> Review:
    """Give the review as it may go to an output: its parts, without notes, reasons and what was held back.

    What rests on a field that may not go there is said without it where that is needed for safety, else left out.
    """
    policy, audience, ticked = _policy(), audience_of(output), frozenset(uses)
    quiet, sections = policy["quiet"][audience] == "yes", policy["sections"][audience]
    parts = []
    for part in review.parts:
        if not part.shown or part.section not in sections or (part.quiet and not quiet):
            continue
        found = _part_for(part, output, ticked)
        if found is not None:
            parts.append(evolve(found, reason="", until=None, up_to_kg=None))
    named = may("lifter", output, ticked)
    kept = {p.id for p in parts if p.about}
    draft = evolve(
        review.draft,
        parts=tuple(p for p in review.draft.parts if p.id in kept),
        held_back=(),
        lifter=review.draft.lifter if named else "",
        greeting=review.draft.greeting if named and audience == "own" else "",
    )
    return Review(draft=draft, parts=tuple(parts))


def _part_for(part: Part, output: str, ticked: frozenset[str]) -> Part | None:
    policy = _policy()
    rests_on = policy["parts"].get(part.about, [])
    if part.id == "asked:question":
        rests_on = ["question"]
    elif part.id.startswith("asked:working_on"):
        rests_on = ["working_on"]
    if all(may(f, output, ticked) for f in rests_on):
        return part
    words = policy["instead"].get(part.about)
    if words is None:
        return None
    return evolve(part, about="", text=words, why="", aloud="", caption="", try_text="", figure=None, quiet=False)


def instead(part: Part) -> bool:
    """Tell whether a part's words are the policy's own, said in place of what may not be said."""
    return part.text in _policy()["instead"].values()


def leaks(texts: Mapping[str, str], context: Context, output: str, uses: Iterable[str] = ()) -> tuple[Leak, ...]:
    """Find what the coach's own words would give away.

    Parameters
    ----------
    texts : what an output says, by the name of the place where it stands. Cautions are not given here.
    context : everything that was said.
    output, uses : where it goes, and what the lifter ticked.
    """
    ticked = frozenset(uses)
    found = []
    for where, text in texts.items():
        plain = _plain(text)
        for field, phrase in _phrases(context):
            if not may(field, output, ticked) and re.search(rf"(?<!\w){re.escape(phrase)}(?!\w)", plain):
                found.append(Leak(where, field, phrase))
        hurts = context.hurts and not (may("pain", output, ticked) and may("injury", output, ticked))
        word = PAIN_WORDS.search(plain) if hurts else None
        if word is not None and not any(
            leak.where == where and leak.field in ("pain", "injury") for leak in found
        ):
            found.append(Leak(where, "pain", word.group()))
    return tuple(found)


def _phrases(context: Context) -> list[tuple[str, str]]:
    """Give what must not stand in a text, by field, in plain small letters."""
    out: list[tuple[str, str]] = []
    for name in ("pain", "injury", "question", "title"):
        words = re.split(r"[.;,!?\n]+", getattr(context, name) or "")
        out += [(name, _plain(w)) for w in words if len(_plain(w).split()) >= LEAST_PHRASE]
    out = [(name, phrase) for name, phrase in out if name != "title" or phrase not in NO_SECRET]
    for name in ("working_on", "equipment"):
        out += [(name, _plain(w)) for w in getattr(context, name) if len(_plain(w).split()) > LEAST_PHRASE]
    names = [context.lifter or "", *(context.lifter or "").split()]
    out += [("lifter", _plain(n)) for n in dict.fromkeys(names) if len(_plain(n)) >= LEAST_NAME]
    if context.age_years is not None:
        age = context.age_years
        out += [("age_years", f"{age} {w}") for w in ("years", "year", "yr", "yo")] + [("age_years", f"age {age}")]
        out += [("age_years", f"aged {age}"), ("age_years", f"{age}yo")]
    if context.body_mass_kg is not None and context.body_mass_kg != context.load_kg:
        out += [("body_mass_kg", f"{context.body_mass_kg:g}{gap}kg") for gap in (" ", "")]
    if context.competition is not None and len(_plain(context.competition.name)) >= LEAST_NAME:
        out.append(("competition", _plain(context.competition.name)))
    return [(field, phrase) for field, phrase in out if phrase]


def _plain(text: str) -> str:
    """Small letters, and one space for whatever is no letter, digit or point within a number."""
    return re.sub(r"(?<!\d)\.|\.(?!\d)|[^\w.]+", " ", text.casefold()).strip()


WORDS = {
    "pain": "pain", "injury": "an injury", "question": "the lifter's question", "title": "the title",
    "lifter": "the lifter's name", "working_on": "what the lifter works on", "equipment": "the equipment",
    "age_years": "the age", "body_mass_kg": "the body mass", "competition": "the competition",
}  # fmt: skip
"""How a field is called when the coach is told that it would leave."""

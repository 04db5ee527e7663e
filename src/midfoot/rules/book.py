"""Rule sets as data: one TOML file each in data/, its name is the file's."""

from __future__ import annotations

import difflib
import tomllib
from functools import cache
from importlib import resources
from typing import Any

from attrs import field, frozen

from midfoot.records.base import LIFTS, one_of

INSIDE = ("at_least", "at_most", "size_at_most")
MOMENTS = ("start", "low", "ascent", "finish", "rep")
KEYS = {
    "id", "title", "clause", "measure", "inside", "limit", "at", "whole", "most", "why_most", "unseen",
    "source", "allowance",
}  # fmt: skip


class RulesError(ValueError):
    """There is no such rule set, or its file breaks the form. The text says what would do."""


@frozen(kw_only=True)
class Rule:
    """One rule and how a camera looks at it.

    Attributes
    ----------
    id, title, clause, source : str
    measure : str
        Id of the measure held against it, "" where no camera view gives one.
    inside : str
        Whether the measure must be `at_least` or `at_most` the limit, or its size at most (`size_at_most`).
    limit : float
        In the measure's unit. Where the book says "any", it is what counts as none (`allowance` says why).
    at : str
        Which moment of the rep to look at.
    whole : str
        Where the rule speaks of the whole bar: the measure of both ends. It stands for `measure` where it is seen;
        otherwise one end is, and the verdict is at most close.
    most : str
        The sternest verdict a camera may give: `not_met`, or `close` with the reason in `why_most`.
    unseen : str
        What to say where there is no measure.
    """

    id: str
    title: str
    clause: str
    source: str
    measure: str = ""
    inside: str = field(default="at_most", validator=one_of(*INSIDE))
    limit: float = 0.0
    at: str = field(default="rep", validator=one_of(*MOMENTS))
    whole: str = ""
    most: str = field(default="not_met", validator=one_of("not_met", "close"))
    why_most: str = ""
    unseen: str = ""
    allowance: str = ""


@frozen
class RuleBook:
    """A rulebook's rules by lift. `name` is what is asked for, `rulebook` with `version` what is cited."""

    name: str
    rulebook: str
    version: str
    source: str
    note: str
    rules: dict[str, tuple[Rule, ...]]

    @property
    def cited(self) -> str:
        """Rulebook and version, as a check carries it."""
        return f"{self.rulebook}, {self.version}"


@cache
def names() -> tuple[str, ...]:
    """Give the names of the rule sets there are."""
    folder = resources.files("midfoot.rules").joinpath("data")
    return tuple(sorted(p.name.removesuffix(".toml") for p in folder.iterdir() if p.name.endswith(".toml")))


@cache
def load(name: str) -> RuleBook:
    """Give a rule set by name.

    Raises
    ------
    RulesError
        When there is none; the text names those there are.
    """
    if name not in names():
        near = difflib.get_close_matches(name, names(), n=1)
        hint = f"the nearest is {near[0]}; " if near else ""
        raise RulesError(f"there is no rule set {name!r}; {hint}there are {', '.join(names())}.")
    text = resources.files("midfoot.rules").joinpath("data").joinpath(f"{name}.toml").read_text("utf-8")
    table = tomllib.loads(text)
    book = str(table["source"])
    rules = {lift: tuple(_rule(name, r, book) for r in table.get(lift, [])) for lift in LIFTS}
    return RuleBook(name, table["rulebook"], table["version"], book, table.get("note", ""), rules)


def _rule(name: str, table: dict[str, Any], source: str) -> Rule:
    wrong = sorted(set(table) - KEYS)
    if wrong:
        raise RulesError(f"{name}.toml: {table.get('id')}: unknown key {', '.join(wrong)}")
    return Rule(**{"source": source, **table})

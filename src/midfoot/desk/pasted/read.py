"""A paste read block by block: every finder is asked, contradictions are doubts, what is left is given back."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import Any

from attrs import evolve, frozen

from midfoot.desk.pasted import asking, body, lifting, meets, safety
from midfoot.desk.pasted.blocks import FILE, Block, blocks
from midfoot.desk.pasted.settle import settled
from midfoot.desk.pasted.words import FILLER, MASS_UNIT, NUMBER, Doubt, Said, is_lb, plain
from midfoot.records.context import Competition, Context

OF_LIFTER = (
    "name", "age_years", "under_18", "sex", "body_mass_kg", "stature_m", "training_age_years", "competition",
    "pain", "injury", "filmed",
)  # fmt: skip
"""What is said once and holds for the later sets of the same message."""
AS_SAID = (
    "age_years", "sex", "body_mass_kg", "stature_m", "training_age_years", "lift", "plate_mm", "reps", "rpe",
    "rir",
    "spotter", "safeties", "question", "pain", "injury", "filmed", "under_18",
)  # fmt: skip
"""Fields of the record that take the value as it was read."""
WORD = re.compile(r"[\w'%@#/.,+-]*\w[\w'%@#/.,+-]*")


@frozen(kw_only=True)
class Pasted:
    """What one block of a paste says.

    Attributes
    ----------
    text : str
        The block as it was written.
    said : tuple of Said
        What was understood, one for each field; lists have several.
    doubts : tuple of Doubt
    left_over : tuple of str
        Stretches that nobody understood.
    urgent : tuple of (what, words)
        Symptoms with which one stops and seeks medical help.
    """

    text: str
    said: tuple[Said, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    left_over: tuple[str, ...] = ()
    urgent: tuple[tuple[str, str], ...] = ()

    def value(self, field: str) -> Any:
        """Give what was said of a field, None where nothing was."""
        return next((s.value for s in self.said if s.field == field), None)

    @property
    def name(self) -> str:
        """Who it is about, "" where nobody says."""
        return str(self.value("name") or "")

    @property
    def files(self) -> tuple[str, ...]:
        """Names of video files that it mentions."""
        return tuple(str(s.value) for s in self.said if s.field == "file")


def read(text: str, today: date) -> tuple[Pasted, ...]:
    """Read a paste.

    Parameters
    ----------
    text : of any kind; nonsense gives blocks that are left over whole.
    today : the day on which it came in, from which "in six weeks" counts.

    Returns
    -------
    tuple of Pasted
        One for each set that is told apart; empty for a text without a word.
    """
    if not text.strip():
        return ()
    found: list[Pasted] = []
    last: Pasted | None = None
    for block in blocks(text):
        one = _block(block, today)
        if block.follows and last is not None:
            one = _carried(one, last)
        last = one
        found.append(one)
    return _with_preface(found)


def _block(block: Block, today: date) -> Pasted:
    text = plain(block.text)
    hits, doubts = list[Said](), list[Doubt]()
    left = text

    def take(found: Iterable[Said | Doubt], *, use: bool = True) -> None:
        nonlocal left
        for one in list(found):
            if isinstance(one, Doubt):
                doubts.append(one)
                continue
            hits.append(one)
            if use:
                left = left[: one.start] + " " * (one.end - one.start) + left[one.end :]

    if block.speaker:
        hits.append(Said(field="name", value=block.speaker, words=block.speaker))
    take(Said(field="file", value=m[0], words=m[0], start=m.start(), end=m.end()) for m in FILE.finditer(text))
    safe, lift_text = left, left
    take(asking.questions(left))
    whole = left
    take(safety.pains(safe), use=False)
    take(meets.meets(safe, today))
    take(body.names(whole))
    for finder in (body.masses, body.statures, body.training, body.ages, lifting.plates):
        take(finder(left))
    take(lifting.efforts(left))
    kept = left
    for other in lifting.NOT_THIS_SET.finditer(left):
        kept = kept[: other.start()] + " " * len(other[0]) + kept[other.end() :]
    before = left
    left = kept
    take(lifting.loads(left, _unit(text)))
    left = "".join(b if k == " " and a == b else a for a, b, k in zip(_mask(left, before, kept), before, kept))
    _lift(lift_text, whole, hits, doubts)
    for said in [h for h in hits if h.field == "lift" and h.end]:
        left = left[: said.start] + " " * (said.end - said.start) + left[said.end :]
    for finder in (asking.working, safety.guards, lifting.variations, asking.equipment, lifting.views):
        take(finder(left))
    take(asking.filmed(safe), use=False)
    doubts += asking.sharing(safe)
    for hurt in [h for h in hits if h.field in ("pain", "injury")]:
        left = left[: hurt.start] + " " * (hurt.end - hurt.start) + left[hurt.end :]
    answers, more = settled(hits)
    named = f"Name: {block.speaker}\n{block.text.strip()}" if block.speaker else block.text
    return Pasted(text=named, said=answers, doubts=_once((*doubts, *more)), left_over=_left_over(left),
                  urgent=safety.urgent(text))  # fmt: skip


def _mask(left: str, before: str, kept: str) -> str:
    """Put back what was only hidden from the reader of loads: it was not understood, so it is left over."""
    return "".join(b if k != b else a for a, b, k in zip(left, before, kept, strict=True))


def _lift(all_text: str, without_questions: str, hits: list[Said], doubts: list[Doubt]) -> None:
    found = [f for f in lifting.lifts(without_questions)]
    said = [f for f in found if isinstance(f, Said)]
    if said:
        hits.extend(said)
    else:
        asked = [f for f in lifting.lifts(all_text) if isinstance(f, Said)]
        hits.extend(evolve(f, sure=False, note="read from the question", end=0) for f in asked)
        if asked:
            return
    doubts.extend(f for f in found if isinstance(f, Doubt) and not said)


def _unit(text: str) -> str:
    units = {is_lb(m[2]) for m in re.finditer(rf"({NUMBER}) ?({MASS_UNIT})(?!\w)", text, re.I)}
    return "" if len(units) != 1 else "lb" if units.pop() else "kg"


def _once(doubts: tuple[Doubt, ...]) -> tuple[Doubt, ...]:
    return tuple(dict.fromkeys(doubts))


def _left_over(left: str) -> tuple[str, ...]:
    """Give the stretches in which something stands that is neither understood nor a filler."""
    found = []
    left = re.sub(r"(?m)^\s*\(?#?\d{1,2}[).:](?=\s|$)|^\s*[-*]\s", " ", left)
    for part in re.split(r"\n|(?<=[.!?;])\s|\s{3,}", left):
        words = [w.strip(".,'-:") for w in WORD.findall(part)]
        if any(w and w.lower() not in FILLER for w in words):
            found.append(" ".join(part.split()).strip(" ,;:-"))
    return tuple(f for f in found if f)


def _carried(one: Pasted, last: Pasted) -> Pasted:
    """Take over what was said of the person above, in the same message."""
    own = {s.field for s in one.said}
    more = tuple(evolve(s, sure=False, note="said above, of another set") for s in last.said
                 if s.field in OF_LIFTER and s.field not in own)  # fmt: skip
    return evolve(one, said=(*one.said, *more), urgent=tuple(dict.fromkeys((*one.urgent, *last.urgent))))


def _with_preface(found: list[Pasted]) -> tuple[Pasted, ...]:
    """Join a beginning that is about the person alone to the first set that follows it."""
    if len(found) > 1 and not any(found[0].value(f) for f in ("lift", "load_kg", "reps", "file")):
        first, second = found[0], found[1]
        if not second.name or not first.name or second.name == first.name:
            joined = evolve(_carried(second, first), text=f"{first.text}\n{second.text}".strip(),
                            doubts=_once((*first.doubts, *second.doubts)),
                            left_over=(*first.left_over, *second.left_over))  # fmt: skip
            rest = [p if p.name else _carried(p, first) for p in found[2:]]
            return (joined, *rest)
    return tuple(found)


def context_of(pasted: Pasted, today: date) -> Context:
    """Give the record of what was said; what is in doubt stays empty."""
    known: dict[str, Any] = {f: pasted.value(f) for f in AS_SAID if pasted.value(f) is not None}
    if pasted.urgent and not known.get("pain"):
        known["pain"] = ", ".join(words for _, words in pasted.urgent)
    load = pasted.value("load_kg")
    if load is not None:
        known["load_kg"], known["load_unit"] = load
    for field in ("equipment", "working_on"):
        known[field] = tuple(str(s.value) for s in pasted.said if s.field == field)
    kinds = [str(s.value) for s in pasted.said if s.field == "variation"]
    day = pasted.value("competition")
    return Context(
        lifter=pasted.name or None, variation=", ".join(kinds) or None, read_on=today,
        competition=Competition(on=day) if day is not None else None, **known,
    )  # fmt: skip

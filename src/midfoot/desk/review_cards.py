"""A review as cards for the coach: every claim with what proves it, what may cause it, and where it stands.

Pure: from a prepared measurement, its review and the edits to what a page shows. Values with unit and sd; words
that the lifter reads beside them.
"""

from __future__ import annotations

from collections.abc import Mapping

from attrs import frozen

from midfoot.publish.coach_page import limits_words
from midfoot.publish.findings_section import CONFIDENCE_WORDS
from midfoot.publish.moments import written
from midfoot.publish.review_page import figure_words, headings_of, with_unit
from midfoot.publish.tables import UNIT_WORDS, plain_name
from midfoot.records.findings import Change, Evidence, Finding, Prediction, Size
from midfoot.records.measures import Measurement
from midfoot.records.review import SECTIONS, Ask, Draft, Edit, Part, Review
from midfoot.review import effective

ONE_BY_ONE = ("asked", "change")
"""Sections whose parts are kept one by one; the others are read and kept as a paragraph."""
KIND_WORDS = {"cue": "cue", "setup": "set-up", "drill": "drill", "equipment": "equipment", "load": "load"}
DIRECTION_WORDS = {
    "less": "less by",
    "more": "more by",
    "zero": "nearer to nothing by",
    "same": "unchanged, within",
}


@frozen(kw_only=True)
class ChangeWords:
    """A change as the coach reads it: what, how light at first, what it should do to which measure."""

    text: str
    kind: str
    limits: str = ""
    foretold: str = ""
    proposed: bool = False


@frozen(kw_only=True)
class CauseWords:
    """A possible cause with what speaks for and against it in this clip."""

    text: str
    speaks_for: tuple[str, ...] = ()
    against: tuple[str, ...] = ()


@frozen(kw_only=True)
class EvidenceRow:
    """One measure over the reps: a cell per rep with value and sd, which rep they are held against."""

    title: str
    unit: str
    cells: tuple[tuple[int, str, str, bool], ...]


@frozen(kw_only=True)
class Card:
    """One part of the review as a card.

    Attributes
    ----------
    part : Part
    title : str
        The claim in a few words, "" where the text is the claim.
    size, resolution, read_as : str
        Value with sd and rep; what this clip can tell; what the lifter reads.
    confidence : str
    doubts, causes, changes, evidence
        Of the finding, empty for what is no finding.
    notes : tuple of str
        Private.
    state : str
        `open`, `again` (the words changed since they were kept), `kept`, `dropped`, `accepted`, `spare`.
    state_words : str
    ask : Ask or None
        What is asked since the set was measured again.
    keeps_wording : bool
        Whether its words can be kept for later sets.
    """

    part: Part
    title: str = ""
    size: str = ""
    resolution: str = ""
    read_as: str = ""
    confidence: str = ""
    doubts: tuple[str, ...] = ()
    causes: tuple[CauseWords, ...] = ()
    changes: tuple[ChangeWords, ...] = ()
    evidence: tuple[EvidenceRow, ...] = ()
    notes: tuple[str, ...] = ()
    state: str = "open"
    state_words: str = "not looked at yet"
    ask: Ask | None = None
    keeps_wording: bool = False

    @property
    def name(self) -> str:
        """Short name for lists: the title, else the first words of the text."""
        return self.title or shortened(self.part.text)

    @property
    def places(self) -> tuple[tuple[int, float], ...]:
        """Reps and the moment to look at in each."""
        return tuple(zip(self.part.reps, self.part.at_s, strict=False))

    @property
    def at(self) -> tuple[int, float] | None:
        """The moment to look at first: of the rep that shows it most."""
        worst = self.part.figure.rep if self.part.figure is not None else None
        return next((p for p in self.places if p[0] == worst), self.places[0] if self.places else None)


@frozen(kw_only=True)
class Group:
    """A section: `whole` ones are kept by one key, the others card by card."""

    section: str
    heading: str
    cards: tuple[Card, ...]
    whole: bool
    withheld: tuple[str, ...] = ()

    @property
    def waiting(self) -> tuple[Card, ...]:
        """Cards that nobody has kept, dropped or accepted yet."""
        return tuple(c for c in self.cards if c.state in ("open", "again"))


def groups_of(measurement: Measurement, review: Review, edits: tuple[Edit, ...]) -> tuple[Group, ...]:
    """Give the cards of a review by section, in the order of the lifter's page."""
    findings = {f.id: f for f in measurement.found.findings}
    kept_before = {e.part for e in effective(edits) if e.kind in ("keep", "reword")}
    headings, out = headings_of(review), list[Group]()
    asks = {a.part: a for a in review.asks}
    for section in SECTIONS:
        cards = tuple(
            card_of(p, findings, review, again=p.id in kept_before, ask=asks.get(p.id))
            for p in review.parts
            if p.section == section
        )
        if cards:
            out.append(
                Group(section=section, heading=headings[section], cards=cards, whole=section not in ONE_BY_ONE)
            )
    return tuple(out)


def spare_of(measurement: Measurement, review: Review) -> tuple[Card, ...]:
    """Give what was measured and left out of the draft, as cards that can be taken up."""
    findings = {f.id: f for f in measurement.found.findings}
    taken = {p.id for p in review.parts}
    return tuple(
        card_of(p, findings, review, spare=why_spare(review.draft, p)) for p in review.draft.spare
        if p.id not in taken
    )  # fmt: skip


def why_spare(draft: Draft, part: Part) -> str:
    """Say why a part was left out of the draft, in the draft's own words."""
    name = part.caption.casefold()
    said = next((h for h in draft.held_back if h.casefold().startswith(name)), "")
    return said.partition("): ")[2] or "left out of the draft"


def card_of(
    part: Part,
    findings: Mapping[str, Finding],
    review: Review,
    *,
    again: bool = False,
    ask: Ask | None = None,
    spare: str = "",
) -> Card:
    """Make the card of a part."""
    finding = findings.get(part.about) if part.section in ("change", "seen", "good") else None
    state, words = state_of(part, again=again)
    if spare:
        state, words = "spare", spare
    figure = part.figure
    where = f", on rep {figure.rep}" if figure is not None and figure.rep is not None else ""
    return Card(
        part=part,
        title=part.caption or (finding.title.rstrip(".") if finding is not None else ""),
        size=f"{figure_words(figure.size)}{where}" if figure is not None else "",
        resolution=with_unit(f"{figure.size.resolution:.2g}", figure.size.unit) if figure is not None else "",
        read_as=figure.words if figure is not None else "",
        confidence=(CONFIDENCE_WORDS[part.confidence] if part.by == "measured" else "seen by you")
        if part.section in ("change", "seen") and (finding is not None or part.by == "coach")
        else "",
        doubts=finding.doubts if finding is not None else (),
        causes=tuple(
            CauseWords(text=c.text, speaks_for=c.speaks_for, against=c.against) for c in finding.possible_causes
        )
        if finding is not None
        else (),
        changes=_changes(part, finding),
        evidence=tuple(_evidence(e) for e in finding.evidence) if finding is not None else (),
        notes=tuple(n.text for n in review.notes if n.part == part.id),
        state=state,
        state_words=words,
        ask=ask,
        keeps_wording=bool(part.about) and part.by == "measured",
    )


def state_of(part: Part, *, again: bool = False) -> tuple[str, str]:
    """Give where a part stands, and the words for it."""
    if part.status == "kept":
        return "kept", "kept"
    if part.status == "dropped":
        return "dropped", f"dropped: {part.reason}"
    if part.status == "accepted":
        limits = []
        if part.until is not None:
            limits.append(f"until {part.until.day} {part.until:%B %Y}")
        if part.up_to_kg is not None:
            limits.append(f"up to {part.up_to_kg:g} kg")
        return "accepted", f"accepted for this lifter {' and '.join(limits)}"
    if again:
        return "again", "the words changed since you kept them: read them once more"
    return "open", "not looked at yet"


def _changes(part: Part, finding: Finding | None) -> tuple[ChangeWords, ...]:
    """Give the change that the part proposes, as it stands there, and what else could be tried."""
    if finding is None:
        return ()
    proposed: tuple[ChangeWords, ...] = ()
    source: Change | None = None
    listed = (*finding.changes, *finding.other_changes)
    kind = listed[0].kind if listed else ""
    if part.try_text:
        source = change_of(part, finding)
        prediction = source.prediction if source is not None else part.prediction
        try_at = source.try_at if source is not None else part.try_at
        proposed = (
            ChangeWords(
                text=part.try_text,
                kind=KIND_WORDS.get(source.kind if source is not None else kind, ""),
                limits=limits_words(try_at),
                foretold=foretold_words(prediction) if prediction is not None else "",
                proposed=True,
            ),
        )
    others = tuple(
        ChangeWords(text=c.text, kind=KIND_WORDS[c.kind], limits=limits_words(c.try_at), foretold=_foretold(c))
        for c in listed
        if c is not source
    )
    return (*proposed, *others)


def change_of(part: Part, finding: Finding) -> Change | None:
    """Give the change that a part proposes: the one whose words stand there, else the one it was drafted with."""
    listed = (*finding.changes, *finding.other_changes)
    said = next((c for c in listed if c.text in part.try_text), None)
    drafted = (c for c in listed if part.prediction is not None and c.prediction == part.prediction)
    return said or next(drafted, None)


def _foretold(change: Change) -> str:
    said = [foretold_words(change.prediction)] if change.prediction is not None else []
    said += [f"{foretold_words(p)} (by this lifter's own segments)" for p in change.geometry]
    return "; ".join(said)


def foretold_words(said: Prediction) -> str:
    """Write what a change should do to a measure: name, way, size with sd."""
    size = figure_words(Size(said.size, said.unit, said.sd, 0.0))
    return f"{plain_name(said.measure)} {DIRECTION_WORDS[said.direction]} {size}"


def _evidence(evidence: Evidence) -> EvidenceRow:
    numbers = range(1, len(evidence.values) + 1)
    cells = []
    for n, value, sd in zip(numbers, evidence.values, evidence.sds, strict=True):
        text, error = written(value, sd) if value is not None else ("not seen", "")
        cells.append((n, text, error, n == evidence.reference_rep))
    return EvidenceRow(title=evidence.title, unit=UNIT_WORDS.get(evidence.unit, evidence.unit), cells=tuple(cells))


def shortened(text: str, most: int = 60) -> str:
    """Give the first words of a text."""
    return text if len(text) <= most else f"{text[: most - 1].rsplit(' ', 1)[0]}…"

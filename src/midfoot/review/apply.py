"""Edits put into a draft: pure and deterministic; an undo restores; unrelated edits may come in any order.

An edit is bound to what its part stood on when the coach saw it (numbers of reps and moments). Where the set was
measured again and the part still stands there, the edit simply holds. Where it does not, the edit is kept and the
coach is asked; any later edit of the same part that fits the new measurement is the answer. What was kept in
other words than it has by now is to be read again.
"""

from __future__ import annotations

from attrs import evolve

from midfoot.records.review import FRAMES, Ask, Draft, Edit, Mark, Note, Part, RepSpan, Review

SAME_MOMENT_S = 0.4
"""A moment measured again may move by this much and is still the same one (common practice, no source)."""


OBSERVED = "observed:"
"""How the id of an edit begins that came from the vocabulary of observations."""
OWN = "own:"
"""How the id of a part begins that an edit added."""
TAKES_UP = ("keep", "reword", "drop", "accept", "mark")
"""What brings a part in that the draft held back."""


class EditError(ValueError):
    """The list of edits does not hold together. The text names the edit and says what would do."""


def apply(draft: Draft, edits: tuple[Edit, ...]) -> Review:
    """Put edits into a draft.

    Parameters
    ----------
    draft : what was proposed for the set as it is measured now.
    edits : all edits ever made, the oldest first.

    Returns
    -------
    Review
        Every part, whatever its status; what the coach is asked; private notes.

    Raises
    ------
    EditError
        When two edits have one id, or an undo names no earlier edit.
    """
    live = effective(edits)
    parts = {p.id: p for p in draft.parts}
    taken_up = {e.part for e in live if e.kind in TAKES_UP}
    parts |= {p.id: p for p in draft.spare if p.id in taken_up}
    hurts = any(p.about == "hurts" for p in draft.parts)
    for edit in live:
        if edit.kind == "add":
            parts[own_id(edit)] = _added(edit, hurts=hurts)
    asks: list[Ask] = []
    last: dict[str, Edit] = {}
    read: dict[str, str] = {}
    notes: list[tuple[str, str, str]] = []
    orders: dict[str, tuple[str, ...]] = {}
    for edit in live:
        target = own_id(edit) if edit.kind == "add" else edit.part
        if edit.kind == "note":
            notes.append((edit.part, edit.id, edit.text))
        elif edit.kind == "order":
            orders[str(edit.section)] = edit.order
        elif edit.part in FRAMES:
            draft = _framed(draft, edit)
        else:
            if target in parts:
                parts[target] = _changed(parts[target], edit)
            last[target] = edit
            if edit.kind in ("keep", "reword"):
                read[target] = edit.saw
    for target, saw in read.items():
        part = parts.get(target)
        if part is not None and part.status == "kept" and saw and saw != part.wording_key:
            parts[target] = evolve(part, status="open")
    for target, edit in sorted(last.items()):
        question = _question(parts.get(target), edit, draft.spans)
        if question:
            asks.append(Ask(target, edit.id, question))
    return Review(
        draft=draft,
        parts=_ordered(tuple(parts.values()), orders),
        asks=tuple(asks),
        notes=tuple(Note(part, text) for part, _, text in sorted(notes)),
    )


def effective(edits: tuple[Edit, ...]) -> tuple[Edit, ...]:
    """Give the edits that hold: those that no holding undo takes back. An undo can itself be undone.

    Raises
    ------
    EditError
        As `apply`.
    """
    seen: set[str] = set()
    for edit in edits:
        if edit.id in seen:
            raise EditError(f"Two edits have the id {edit.id!r}; give every edit an id of its own.")
        if edit.kind == "undo" and edit.undoes not in seen:
            raise EditError(f"The edit {edit.id!r} undoes {edit.undoes!r}, which is no earlier edit; name one.")
        seen.add(edit.id)
    gone: set[str] = set()
    for edit in reversed(edits):
        if edit.kind == "undo" and edit.id not in gone:
            gone.add(edit.undoes)
    return tuple(e for e in edits if e.id not in gone and e.kind != "undo")


def own_id(edit: Edit) -> str:
    """Name the part that an `add` makes."""
    return f"{OWN}{edit.id}"


def _added(edit: Edit, *, hurts: bool) -> Part:
    """Make the part of an own observation; where something hurts the vocabulary's cue is left out."""
    try_text = "" if hurts and edit.id.startswith(OBSERVED) else edit.try_text
    return Part(
        id=own_id(edit),
        section=str(edit.section),
        by="coach",
        about=edit.about,
        text=edit.text,
        try_text=try_text,
        aloud=" ".join(t for t in (_sentence(edit.text), try_text) if t)
        if edit.section in ("good", "change")
        else "",
        caption=edit.text if len(edit.text) <= 60 else "",
        reps=edit.reps,
        at_s=edit.at_s,
        status="kept",
        rank=100,
    )


def _framed(draft: Draft, edit: Edit) -> Draft:
    """Put what stands about the parts into other words."""
    match edit.part:
        case "greeting":
            return evolve(draft, greeting=edit.text)
        case "opening":
            return evolve(draft, opening=edit.text)
        case _:
            return evolve(draft, closing=edit.text)


def _own(part_id: str) -> bool:
    return part_id.startswith(OWN)


def _sentence(text: str) -> str:
    return text if not text or text.endswith((".", "!", "?")) else f"{text}."


def _changed(part: Part, edit: Edit) -> Part:
    match edit.kind:
        case "keep":
            kept = evolve(part, status="kept", reason="", until=None, up_to_kg=None)
            # what the coach saw himself stands where he puts it
            return evolve(kept, reps=edit.reps, at_s=edit.at_s) if _own(part.id) and edit.reps else kept
        case "drop":
            return evolve(part, status="dropped", reason=edit.reason, until=None, up_to_kg=None)
        case "accept":
            return evolve(part, status="accepted", reason="", until=edit.until, up_to_kg=edit.up_to_kg)
        case "reword":
            # who rewords has read it; what was dropped or accepted stays so
            status = "kept" if part.status == "open" else part.status
            if edit.length == "on_air":
                return evolve(part, aloud=edit.text, status=status)
            if edit.which == "text":
                return evolve(part, text=edit.text, needs_words=False, status=status)
            if edit.which == "why":
                return evolve(part, why=edit.text, status=status)
            return evolve(part, try_text=edit.text, status=status)
        case "mark":
            mark = Mark(
                id=edit.id,
                meaning=str(edit.meaning),
                at_s=edit.at_s[0],
                rep=edit.reps[0] if edit.reps else None,
                points_px=edit.points_px,
                words=edit.text,
            )
            return evolve(part, marks=tuple(sorted((*part.marks, mark), key=lambda m: (m.at_s, m.id))))
    return part


def _question(part: Part | None, edit: Edit, spans: tuple[RepSpan, ...]) -> str:
    """Say what the coach is asked about his last edit of a part, "" when it stands where it stood."""
    did = {"keep": "kept", "reword": "reworded", "drop": "dropped", "accept": "accepted", "mark": "marked",
           "add": "added"}[edit.kind]  # fmt: skip
    if part is None and edit.kind == "drop":
        return ""  # gone either way
    if part is None:
        return (
            f"You {did} {edit.part}, and the set as it is measured now does not show it. "
            "Undo that, or add it as your own."
        )
    if edit.kind in ("add", "mark") or _own(part.id):
        return _placed(edit, spans, did)
    if not edit.reps or not part.reps:
        return ""
    bound = dict(zip(edit.reps, edit.at_s, strict=False))
    for n, at_s in zip(part.reps, part.at_s, strict=False):
        if n in bound and abs(bound[n] - at_s) <= SAME_MOMENT_S:
            return ""
    return (
        f"You {did} this where it stood on {_reps(edit.reps)}; as the set is measured now it stands on "
        f"{_reps(part.reps)}. Do your words still fit?"
    )


def _placed(edit: Edit, spans: tuple[RepSpan, ...], did: str) -> str:
    """Ask about own observations and marks whose moment no longer lies in the rep they were made in."""
    by_number = {s.n: s for s in spans}
    for n, at_s in zip(edit.reps, edit.at_s, strict=False):
        span = by_number.get(n)
        if span is not None and span.start_s - SAME_MOMENT_S <= at_s <= span.end_s + SAME_MOMENT_S:
            continue
        now = next((s.n for s in spans if s.start_s <= at_s <= s.end_s), None)
        where = "no rep" if now is None else f"rep {now}"
        return f"You {did} this on rep {n} at {at_s:.1f} s, which now lies in {where}. Which rep do you mean?"
    return ""


def _reps(reps: tuple[int, ...]) -> str:
    return f"rep{'s' if len(reps) > 1 else ''} {', '.join(str(n) for n in reps)}"


def _ordered(parts: tuple[Part, ...], orders: dict[str, tuple[str, ...]]) -> tuple[Part, ...]:
    """Order parts by section, then as the coach ordered them, then by rank, moment and id."""
    from midfoot.records.review import SECTIONS

    def place(part: Part) -> tuple[int, int, int, float, str]:
        wanted = orders.get(part.section, ())
        first = wanted.index(part.id) if part.id in wanted else len(wanted)
        return SECTIONS.index(part.section), first, part.rank, part.at_s[0] if part.at_s else 0.0, part.id

    return tuple(sorted(parts, key=place))

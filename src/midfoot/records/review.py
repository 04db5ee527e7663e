"""The review of one set: what is drafted, what the coach does to it, and what comes of both."""

from __future__ import annotations

import hashlib
from datetime import date

from attrs import field, frozen
from attrs.validators import optional

from midfoot.records.base import LIFTS, RecordError, one_of
from midfoot.records.findings import CONFIDENCES, SEEN_BY, Prediction, Size, TryAt

SECTIONS = ("since", "asked", "good", "change", "seen", "next", "film", "caution")
"""In the order of the lifter's page."""
STATUSES = ("open", "kept", "dropped", "accepted")
MEANINGS = ("where", "how_far", "what_angle", "hold_here")
"""What a mark on a frame says."""
POINTS_OF = {"where": 1, "how_far": 2, "what_angle": 3, "hold_here": 1}
EDITS = ("keep", "reword", "drop", "accept", "add", "mark", "order", "note", "undo")
LENGTHS = ("lifter", "on_air")
REWORDED = ("text", "why", "try_text")
"""What of a part can be put into other words for the lifter; on air there is one text."""
FRAMES = ("greeting", "opening", "closing")
"""What stands about the parts: they are reworded under these names."""
LEVELS = ("new", "trained", "competing")


@frozen(kw_only=True)
class Since:
    """What became of a change that the lifter's last review asked for.

    Attributes
    ----------
    about : str
        Id of the finding or observation.
    title : str
        What was to become less, in a few words; "" where only what was to be tried is known.
    tried : str
        What was to be tried.
    verdict : str
        `held`, `not_held` or `cannot_tell`.
    reason : str
        Why it cannot be told, half a sentence.
    found, foretold : Size or None
        How much less of it there is, and how much was foretold; None where nothing was measured.
    """

    about: str
    title: str = ""
    tried: str = ""
    verdict: str = field(validator=one_of("held", "not_held", "cannot_tell"))
    reason: str = ""
    found: Size | None = None
    foretold: Size | None = None


@frozen(kw_only=True)
class Figure:
    """A number as it is read: the coach's value with sd, the lifter's rounded range, and words for the voice.

    `words` is the range ("2 to 3 cm"); `aloud` is no finer than one can point at ("two fingers").
    """

    measure: str
    size: Size
    rep: int | None
    words: str
    aloud: str


@frozen(kw_only=True)
class Mark:
    """A mark on a frame by its meaning; points in px of the upright clip, one, two or three by the meaning."""

    id: str
    meaning: str = field(validator=one_of(*MEANINGS))
    at_s: float
    rep: int | None = None
    points_px: tuple[tuple[float, float], ...] = ()
    words: str = ""

    def __attrs_post_init__(self) -> None:
        if len(self.points_px) != POINTS_OF[self.meaning]:
            raise RecordError(
                f"points_px: expected {POINTS_OF[self.meaning]} for {self.meaning}, got {len(self.points_px)}"
            )


@frozen(kw_only=True)
class Part:
    """One thing that the review says.

    Attributes
    ----------
    id : str
        Stable over drafts of the same set: section and what it is about.
    section, by : str
    about : str
        Id of the finding, observation or measure, "" for none.
    text, why : str
        For the lifter: what is said, and why it matters.
    aloud : str
        The same for the voice; "" is not spoken.
    caption : str
        A few words under a freeze frame.
    try_text : str
        What to try, "" for nothing.
    reps, at_s : tuple
        Numbers of the reps and the moment to look at in each.
    figure : Figure or None
    confidence : str
    needs_words : bool
        The draft could not say it: the coach must.
    quiet : bool
        Never spoken or shown in public (what rests on private words).
    prediction, try_at
        Of the change that is proposed.
    status : str
        `open` until the coach has seen it.
    reason, until, up_to_kg
        Why it was dropped; how long it is accepted for this lifter.
    marks : tuple of Mark
    rank : int
        Place within the section before the coach orders it.
    """

    id: str
    section: str = field(validator=one_of(*SECTIONS))
    by: str = field(default="measured", validator=one_of(*SEEN_BY))
    about: str = ""
    text: str
    why: str = ""
    aloud: str = ""
    caption: str = ""
    try_text: str = ""
    reps: tuple[int, ...] = ()
    at_s: tuple[float, ...] = ()
    figure: Figure | None = None
    confidence: str = field(default="sure", validator=one_of(*CONFIDENCES))
    needs_words: bool = False
    quiet: bool = False
    prediction: Prediction | None = None
    try_at: TryAt | None = None
    status: str = field(default="open", validator=one_of(*STATUSES))
    reason: str = ""
    until: date | None = None
    up_to_kg: float | None = None
    marks: tuple[Mark, ...] = ()
    rank: int = 0

    @property
    def shown(self) -> bool:
        """Whether it leaves the house."""
        return self.status in ("open", "kept")

    @property
    def wording_key(self) -> str:
        """Short name of every word that the part says: other words, another key."""
        words = "\n".join((self.text, self.why, self.try_text, self.aloud, self.caption))
        return hashlib.sha256(words.encode()).hexdigest()[:12]


@frozen
class RepSpan:
    """Where a rep lies in the clip, s."""

    n: int
    start_s: float
    end_s: float


@frozen(kw_only=True)
class Draft:
    """What the program proposes for a set.

    `level` is how the lifter is spoken to; `greeting` is read, `opening` and `closing` are spoken, `again` over a
    moment that shows a change once more, `compare` over one that shows what is good once more, `spoken_more` if
    the script would be too short. `held_back` says what was left out and why, for the coach alone; `spare` holds
    the same as parts, which come in when an edit takes them up.
    """

    lift: str = field(validator=one_of(*LIFTS))
    lifter: str = ""
    load_kg: float | None = None
    level: str = field(default="trained", validator=one_of(*LEVELS))
    best_rep: int | None = None
    spans: tuple[RepSpan, ...] = ()
    greeting: str = ""
    opening: str = ""
    closing: str = ""
    again: str = ""
    compare: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    spoken_more: tuple[str, ...] = ()
    held_back: tuple[str, ...] = ()
    spare: tuple[Part, ...] = ()

    def __attrs_post_init__(self) -> None:
        ids = [p.id for p in (*self.parts, *self.spare)]
        twice = sorted({i for i in ids if ids.count(i) > 1})
        if twice:
            raise RecordError(f"parts: expected each id once, got {twice[0]} twice")


@frozen(kw_only=True)
class Edit:
    """One thing that the coach did. Edits are only ever added; an undo is an edit too.

    Attributes
    ----------
    id : str
        Of the edit; unique in the review.
    kind : str
    part : str
        Id of the part it is about, or of a frame (`FRAMES`); "" for `undo`, for `order`, for a note on the whole,
        and for `add`, whose part is named by the edit itself.
    reps, at_s : tuple
        What the part stood on when the coach saw it: this binds the edit to the set and not to its measurement.
    length : str
        `lifter` or `on_air`: which wording is changed.
    text : str
        New words, the words of what is added, the words of a mark, a note.
    reason : str
        Of `drop`.
    until, up_to_kg
        Of `accept`: for this lifter until that day, or up to that load.
    section, about, try_text : str
        Of `add`; `about` names an observation of the vocabulary, `try_text` what to try.
    meaning, points_px
        Of `mark`.
    order : tuple of str
        Of `order`: ids of a section's parts, first to last.
    undoes : str
        Id of an earlier edit.
    which : str
        Of `reword` for the lifter: `text`, `why` or `try_text`.
    saw : str
        Of `keep` and `reword`: `wording_key` of the part as the coach left it. Where the part says something else
        by now, it has to be read again. "" binds to no words.
    """

    id: str
    kind: str = field(validator=one_of(*EDITS))
    part: str = ""
    reps: tuple[int, ...] = ()
    at_s: tuple[float, ...] = ()
    length: str = field(default="lifter", validator=one_of(*LENGTHS))
    text: str = ""
    reason: str = ""
    until: date | None = None
    up_to_kg: float | None = None
    section: str | None = field(default=None, validator=optional(one_of(*SECTIONS)))
    about: str = ""
    try_text: str = ""
    meaning: str | None = field(default=None, validator=optional(one_of(*MEANINGS)))
    points_px: tuple[tuple[float, float], ...] = ()
    order: tuple[str, ...] = ()
    undoes: str = ""
    which: str = field(default="text", validator=one_of(*REWORDED))
    saw: str = ""

    def __attrs_post_init__(self) -> None:
        for kind, name in NEEDS:
            emptied = name == "text" and self.which != "text"  # no reason, no cue: that may be said
            if kind == self.kind and not getattr(self, name) and not emptied:
                raise RecordError(f"{name}: expected something for the edit {self.id!r} ({kind}), got nothing")
        if self.kind == "accept" and self.until is None and self.up_to_kg is None:
            raise RecordError(f"until: expected a day or up_to_kg for the edit {self.id!r} (accept), got neither")


NEEDS = (
    ("keep", "part"), ("reword", "part"), ("reword", "text"), ("drop", "part"), ("drop", "reason"),
    ("accept", "part"), ("add", "section"), ("add", "text"), ("mark", "part"), ("mark", "meaning"),
    ("mark", "at_s"), ("order", "section"), ("order", "order"), ("note", "text"), ("undo", "undoes"),
)  # fmt: skip


@frozen
class Ask:
    """The set was measured again and an edit no longer stands where it stood: what the coach is asked."""

    part: str
    edit: str
    question: str


@frozen
class Note:
    """A private note of the coach, on a part or on the whole ("")."""

    part: str
    text: str


@frozen
class Accepted:
    """What a coach accepts of a lifter: until a day, or up to a load; None for no such limit."""

    about: str
    until: date | None
    up_to_kg: float | None

    def holds(self, on: date, load_kg: float | None) -> bool:
        """Tell whether it holds for a set on a day with a load."""
        if self.until is not None and on > self.until:
            return False
        return self.up_to_kg is None or (load_kg is not None and load_kg <= self.up_to_kg)


@frozen(kw_only=True)
class Review:
    """A draft with the coach's edits in it."""

    draft: Draft
    parts: tuple[Part, ...]
    asks: tuple[Ask, ...] = ()
    notes: tuple[Note, ...] = ()

    def of(self, section: str) -> tuple[Part, ...]:
        """Give the parts of a section that leave the house, in order."""
        return tuple(p for p in self.parts if p.section == section and p.shown)

    @property
    def unseen(self) -> tuple[Part, ...]:
        """Parts that nobody has looked at: nothing goes out while there are any."""
        return tuple(p for p in self.parts if p.status == "open")

    @property
    def accepted(self) -> tuple[Accepted, ...]:
        """What later drafts for this lifter leave out."""
        return tuple(
            Accepted(p.about, p.until, p.up_to_kg) for p in self.parts if p.status == "accepted" and p.about
        )


@frozen(kw_only=True)
class Line:
    """A stretch of the script: its words, the moment of the clip beside it, and which part it speaks of."""

    words: str
    part: str = ""
    rep: int | None = None
    at_s: float | None = None


@frozen(kw_only=True)
class Script:
    """What is spoken: `lines` in order, the number of words, how long they take, and what is wrong with it."""

    lines: tuple[Line, ...]
    words: int
    seconds: float
    complaints: tuple[str, ...] = ()

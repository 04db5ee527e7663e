"""A voice-over: what the coach said and what stood in the picture meanwhile, and how takes make one whole."""

from __future__ import annotations

from attrs import field, frozen

from midfoot.records.base import RecordError, one_of
from midfoot.records.review import Mark

EVENTS = ("play", "pause", "seek", "rate", "layers", "mark", "line")
LAYERS = ("evidence", "path", "body", "arms", "vertical")
SLOWEST, FASTEST = 0.05, 4.0


@frozen(kw_only=True)
class Happened:
    """One thing that the player did while the coach spoke.

    Attributes
    ----------
    kind : str
    at_s : float
        Since the recording began, s.
    t_s : float
        Where the player stood then, on the clip's clock, s.
    rate : float
        How fast it plays from then on; 1 is life.
    layers : tuple of str
        Of `layers`: what is drawn in the picture from then on.
    mark : Mark or None
        Of `mark`: what was drawn by hand; None takes such marks away.
    line : int or None
        Of `line`: number of the script's line that is spoken from then on, 0 for the first.
    """

    kind: str = field(validator=one_of(*EVENTS))
    at_s: float
    t_s: float
    rate: float = 1.0
    layers: tuple[str, ...] = ()
    mark: Mark | None = None
    line: int | None = None

    def __attrs_post_init__(self) -> None:
        if not 0 <= self.at_s < 86_400 or not 0 <= self.t_s < 86_400:
            raise RecordError(f"at_s, t_s: expected seconds of a day, got {self.at_s} and {self.t_s}")
        if not SLOWEST <= self.rate <= FASTEST:
            raise RecordError(f"rate: expected {SLOWEST} to {FASTEST}, got {self.rate}")
        for name in self.layers:
            if name not in LAYERS:
                raise RecordError(f"layers: expected some of {', '.join(LAYERS)}, got {name!r}")


@frozen(kw_only=True)
class Take:
    """One recording.

    Attributes
    ----------
    id : str
    n : int
        Its number in the set, 1 for the first.
    duration_s : float
    events : tuple of Happened
        In order of time. Bound to the clip's clock and not to a measurement: measuring again changes none.
    replaces : str
        Id of the take of which it replaces a section; "" for one that stands by itself.
    from_s, to_s : float
        Of that take's own clock: which section.
    """

    id: str
    n: int
    duration_s: float
    events: tuple[Happened, ...] = ()
    replaces: str = ""
    from_s: float = 0.0
    to_s: float = 0.0

    def __attrs_post_init__(self) -> None:
        if not 0 < self.duration_s < 86_400:
            raise RecordError(f"duration_s: expected seconds of a day, got {self.duration_s}")
        if any(b.at_s < a.at_s for a, b in zip(self.events, self.events[1:], strict=False)):
            raise RecordError("events: expected in order of at_s")
        if self.replaces and not 0 <= self.from_s <= self.to_s:
            raise RecordError(f"from_s, to_s: expected a section, got {self.from_s} to {self.to_s}")


@frozen
class Stretch:
    """A part of a take as it stands in the whole: from and to on the take's own clock, s."""

    take: Take
    from_s: float
    to_s: float

    @property
    def length_s(self) -> float:
        """How long it lasts."""
        return self.to_s - self.from_s


@frozen(kw_only=True)
class Shown:
    """What stands in the picture for a while.

    Attributes
    ----------
    from_s : float
        When it begins in the voice-over, s.
    length_s : float
    t_s : float
        Where the clip stands then, on its own clock, s.
    rate : float
        How fast it plays on; 0 while it stands.
    layers : tuple of str
    marks : tuple of Mark
    line : int or None
        Of the script.
    """

    from_s: float
    length_s: float
    t_s: float
    rate: float
    layers: tuple[str, ...]
    marks: tuple[Mark, ...] = ()
    line: int | None = None

"""How takes make one voice-over, and what stands in the picture at each of its moments. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from attrs import evolve, frozen

from midfoot.records.review import Mark
from midfoot.records.takes import Happened, Shown, Stretch, Take

SHORTEST_S = 0.01
"""What is shorter is no stretch."""


def whole(takes: Sequence[Take]) -> tuple[Stretch, ...]:
    """Give the stretches of which the voice-over is made.

    The latest take that stands by itself is the ground; a take that replaces a section of another stands in its
    place. Of two that replace the same moment the later one counts. A take whose ground is gone goes with it.
    """
    grounds = [t for t in takes if not t.replaces]
    if not grounds:
        return ()
    return tuple(_of(max(grounds, key=lambda t: t.n), takes))


def _of(take: Take, takes: Sequence[Take]) -> list[Stretch]:
    """A take with every section that was taken again."""
    again = sorted((t for t in takes if t.replaces == take.id), key=lambda t: -t.n)
    kept: list[Take] = []
    for one in again:
        if all(one.to_s <= k.from_s or one.from_s >= k.to_s for k in kept):
            kept.append(one)
    out: list[Stretch] = []
    at = 0.0
    for one in sorted(kept, key=lambda t: t.from_s):
        if one.from_s - at >= SHORTEST_S:
            out.append(Stretch(take, at, min(one.from_s, take.duration_s)))
        out += _of(one, takes)
        at = max(at, one.to_s)
    if take.duration_s - at >= SHORTEST_S:
        out.append(Stretch(take, at, take.duration_s))
    return out


def section(takes: Sequence[Take], from_s: float, to_s: float) -> tuple[str, float, float] | None:
    """Say of which take a section of the voice-over is, and from when to when on its own clock.

    A section that reaches over several takes is one of the take that holds them all; what was taken again is then
    replaced as a whole, never a half of it.

    Parameters
    ----------
    takes : all takes that are there.
    from_s, to_s : on the voice-over's clock, s.

    Returns
    -------
    tuple or None
        Id of the take, from and to. None where there is no voice-over yet.
    """
    stretches = whole(takes)
    if not stretches:
        return None
    first, last = _at(stretches, from_s), _at(stretches, to_s, late=True)
    by_id = {t.id: t for t in takes}
    above = _above(first[0], by_id)
    ground = next(t for t in _above(last[0], by_id) if t in above)
    return ground.id, _in(first, ground, by_id, late=False), _in(last, ground, by_id, late=True)


def _at(stretches: Sequence[Stretch], at_s: float, *, late: bool = False) -> tuple[Take, float]:
    """Give the take and the moment on its clock; at a seam the later stretch, with `late` the earlier one."""
    begun = 0.0
    for stretch in stretches:
        end = begun + stretch.length_s
        if at_s < end or (late and at_s <= end):
            return stretch.take, stretch.from_s + max(0.0, at_s - begun)
        begun = end
    return stretches[-1].take, stretches[-1].to_s


def _above(take: Take, by_id: dict[str, Take]) -> list[Take]:
    """The take and what it replaces a section of, and so on."""
    out = [take]
    while out[-1].replaces in by_id:
        out.append(by_id[out[-1].replaces])
    return out


def _in(place: tuple[Take, float], ground: Take, by_id: dict[str, Take], *, late: bool) -> float:
    take, at_s = place
    while take.id != ground.id:
        at_s = take.to_s if late else take.from_s
        take = by_id[take.replaces]
    return at_s


def shown(stretches: Sequence[Stretch]) -> tuple[Shown, ...]:
    """Give what stands in the picture, one row for every while in which nothing but the clip moves."""
    out: list[Shown] = []
    begun = 0.0
    for stretch in stretches:
        state = _Player()
        for event in stretch.take.events:
            if event.at_s <= stretch.from_s:
                state = state.after(event)
        # the take may have been cut while the clip ran
        state = evolve(state, t_s=state.then(stretch.from_s), at_s=stretch.from_s)
        inside = [e for e in stretch.take.events if stretch.from_s < e.at_s < stretch.to_s]
        for event in inside:
            _add(out, begun - stretch.from_s, state, event.at_s)
            state = state.after(event)
        _add(out, begun - stretch.from_s, state, stretch.to_s)
        begun += stretch.length_s
    return tuple(out)


def _add(out: list[Shown], shift_s: float, state: _Player, until_s: float) -> None:
    if until_s - state.at_s >= SHORTEST_S / 10:
        out.append(
            Shown(from_s=state.at_s + shift_s, length_s=until_s - state.at_s, t_s=state.t_s, rate=state.speed,
                  layers=state.layers, marks=state.marks, line=state.line)
        )  # fmt: skip


@frozen(kw_only=True)
class _Player:
    """How the player stands from a moment of a take on."""

    at_s: float = 0.0
    t_s: float = 0.0
    playing: bool = False
    rate: float = 1.0
    layers: tuple[str, ...] = ("evidence",)
    marks: tuple[Mark, ...] = ()
    line: int | None = None

    @property
    def speed(self) -> float:
        return self.rate if self.playing else 0.0

    def then(self, at_s: float) -> float:
        return self.t_s + max(0.0, at_s - self.at_s) * self.speed

    def after(self, event: Happened) -> _Player:
        """The player after an event; where the event says the clip stands goes before what was reckoned."""
        new = evolve(self, at_s=event.at_s, t_s=event.t_s, rate=event.rate)
        if event.kind == "play":
            return evolve(new, playing=True, marks=())
        if event.kind == "pause":
            return evolve(new, playing=False)
        if event.kind == "seek":
            return evolve(new, marks=())
        if event.kind == "layers":
            return evolve(new, layers=event.layers)
        if event.kind == "mark":
            return evolve(new, marks=(*self.marks, event.mark) if event.mark is not None else ())
        if event.kind == "line":
            return evolve(new, line=event.line)
        return new

"""Which of the people is the lifter: the one whose hands hold what moves.

A person's claim is the share of the bar's way that his own hands (in the squat also his shoulders) went with
it, at the bar; without a bar, the way that both wrists, the picture at both wrists and the picture further out
on their line went together. Height, place in the middle and time in view favour spotters and count for nothing.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from attrs import field, frozen

from midfoot.body.carried import TOGETHER, shared
from midfoot.body.persons import Person, covered, gather
from midfoot.body.regions import BODY_PER_SIDE
from midfoot.body.search import HELD, JOINTS, SHOULDERS, UPPER
from midfoot.records.base import LIFTS, FloatArray, NotMeasured, RecordError, float_field, one_of
from midfoot.records.body import People, PersonTrack
from midfoot.records.clip import ClipInfo, Tap

LEAST_TRACK_S, LEAST_PEAK, CLEAREST = 1.5, 0.5, 6
"""A track counts from this length and this mean peak of its six clearest joints (of shoulders to ankles). Folded
doubles of a person are under it; all twelve are not asked for, a plate may cover half of a lifter."""
LEAST_CLAIM, LEAST_RATE = 0.2, 0.25
"""Least claim of the lifter by the bar's way, and least share of that way while he was followed."""
LEAST_HELD = 0.5
"""Least score where no bar was followed: in trials the lowest right one was 2.2, the highest wrong one 0.12."""
FIRM_UPPER, FIRM_CLEAREST = 0.5, 0.57
"""Without a bar to check against: least mean peak of trunk and arms, or of the six clearest joints."""
HIDES = 0.5
"""Share of the near disc's radius by which a hand behind it may seem off the bar."""
CLEAR_HANDS = 0.6
"""Least peak of both wrists for them to speak in the squat, where the plate often covers them."""
CLEAR_BY = 1.5
"""Factor by which the lifter must lead the next person."""
BRIDGE_S = 0.3


class BarEvidence(Protocol):
    """What is asked of a bar: a place over time. A bar track and a coarse hypothesis both have it."""

    @property
    def t_s(self) -> FloatArray:
        """Times (n,), s."""

    @property
    def xy_px(self) -> FloatArray:
        """Places (n, 2), px, NaN where not known."""


@frozen
class Bar:
    """The bar's place over time as this stage uses it, rows with a place only."""

    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, 2)
    radius_px: float = 0.0

    def at(self, t_s: FloatArray) -> FloatArray:
        """Give the place (n, 2) at times (n,), NaN further than 0.3 s from a known one."""
        if len(self.t_s) < 2:
            return np.full((len(t_s), 2), np.nan)
        xy = np.stack([np.interp(t_s, self.t_s, self.xy_px[:, k]) for k in (0, 1)], axis=1)
        after = np.clip(np.searchsorted(self.t_s, t_s), 0, len(self.t_s) - 1)
        before = np.clip(after - 1, 0, None)
        gap = np.minimum(np.abs(self.t_s[after] - t_s), np.abs(self.t_s[before] - t_s))
        xy[gap > BRIDGE_S] = np.nan
        return xy


@frozen
class LifterChoice:
    """The lifter, and where to look for him.

    `t_s` (m,), `region` (m, 4) and `worth` (m,): where the first look saw him and how well (mean peak times
    presence). `person_ids` are his tracks. `score` and `next_score` are his claim and the next person's;
    `basis` says in words what they rest on. `bar` is the evidence used, without rows when there was none;
    `hold_px` (2,) is where his hold (squat: the shoulders, else the hands) lies from it, NaN where unknown.
    """

    lift: str = field(validator=one_of(*LIFTS))
    person_ids: tuple[int, ...]
    score: float
    next_score: float
    basis: str
    bar: Bar
    t_s: FloatArray = float_field(None)
    region: FloatArray = float_field(None, 4)
    worth: FloatArray = float_field(None)
    hold_px: FloatArray = float_field(2)


def bar_of(*evidence: object) -> Bar:
    """Take the first of `evidence` that says where the bar is: BarTrack, hypothesis, or None."""
    for item in evidence:
        if item is None or getattr(item, "status", "") == "not_found" or getattr(item, "source", "") == "hands":
            continue
        t_s, xy = np.asarray(getattr(item, "t_s", ())), np.asarray(getattr(item, "xy_px", ()))
        if len(t_s) < 2:
            continue
        known = np.isfinite(xy).all(axis=1)
        if known.sum() < 2:
            continue
        return Bar(t_s[known], xy[known], _radius(item))
    return Bar(np.zeros(0), np.zeros((0, 2)))


def _radius(item: object) -> float:
    diameter = getattr(item, "diameter_px", None)
    if diameter is not None:
        return float(getattr(diameter, "value", diameter)) / 2
    radius = getattr(item, "radius_px", None)
    if radius is None:
        return 0.0
    finite = np.asarray(radius, np.float64)
    finite = finite[np.isfinite(finite)]
    return float(np.median(finite)) if finite.size else 0.0


def choose_lifter(
    people: People,
    bar: BarEvidence | None,
    coarse: BarEvidence | None = None,
    *,
    lift: str,
    info: ClipInfo | None = None,
    tap: Tap | None = None,
) -> LifterChoice | NotMeasured:
    """Choose the lifter among the people.

    Parameters
    ----------
    people : People
        From the first look.
    bar, coarse : objects with `t_s` and `xy_px`, or None
        A bar track, a coarse hypothesis; the first that says where the bar is, is used.
    lift : str
    info : ClipInfo, optional
    tap : Tap, optional
        A place on the lifter, given by a person: it decides.

    Returns
    -------
    LifterChoice or NotMeasured
        NotMeasured when nobody's claim is clear, with the claims in the reason.
    """
    if lift not in LIFTS:
        raise RecordError(f"lift: expected one of {', '.join(LIFTS)}, got {lift!r}")
    where = bar_of(bar, coarse)
    persons = gather([t for t in people.tracks if _usable(t)])
    if tap is not None:
        return _tapped(gather(list(people.tracks)), tap, lift, where)
    if not persons:
        return NotMeasured(
            "Nobody could be followed long and clearly enough to be the lifter.",
            "Mark the lifter with --lifter-at X,Y@S, or film from the side with the whole body in view.",
        )
    by_bar = []
    if len(where.t_s):
        by_bar = _by_bar(persons, where, people.looked_t_s, lift)
    if by_bar and by_bar[0][0] >= LEAST_CLAIM and _clear(by_bar):
        return _choice(by_bar, lift, where, "hands that went with the bar")
    long_side = float(max(info.width_px, info.height_px)) if info is not None else _reach(people)
    by_hands = _ranked([(max(held_path(t, lift, long_side) for t in p.tracks), p) for p in persons if _firm(p)])
    if by_hands and by_hands[0][0] >= LEAST_HELD and _clear(by_hands) and not _gainsaid(by_hands[0][1], by_bar):
        return _choice(by_hands, lift, where, "hands that carried something")
    shown = by_bar or by_hands
    claims = " and ".join(f"{score:.2f}" for score, _ in shown[:2]) or "none clear enough"
    what = "went with the bar" if by_bar else "carried something"
    return NotMeasured(
        f"No one's hands clearly {what} (claims {claims}; {len(persons)} people followed).",
        "Mark the lifter with --lifter-at X,Y@S.",
    )


def _usable(track: PersonTrack) -> bool:
    long_enough = track.t_s[-1] - track.t_s[0] >= LEAST_TRACK_S
    clearest = np.sort(track.peak[:, list(JOINTS)], axis=1)[:, -CLEAREST:]
    return bool(long_enough and clearest.mean() >= LEAST_PEAK)


def _firm(person: Person) -> bool:
    """Tell whether a person's hands can be believed enough to stand for choice with no bar to check against."""
    track = max(person.tracks, key=lambda t: len(t.t_s))
    clearest = np.sort(track.peak[:, list(JOINTS)], axis=1)[:, -CLEAREST:]
    return bool(track.peak[:, list(UPPER)].mean() >= FIRM_UPPER or clearest.mean() >= FIRM_CLEAREST)


def _gainsaid(person: Person, by_bar: list[tuple[float, Person]]) -> bool:
    """Tell whether the bar speaks for somebody else than the one whose hands carried something."""
    ids = {t.id for t in person.tracks}
    own = max((c for c, p in by_bar if ids & {t.id for t in p.tracks}), default=0.0)
    other = max((c for c, p in by_bar if not ids & {t.id for t in p.tracks}), default=0.0)
    return other >= LEAST_CLAIM / 2 and other >= own


def _by_bar(persons: list[Person], bar: Bar, looked_t_s: FloatArray, lift: str) -> list[tuple[float, Person]]:
    """Rank persons by the bar's way; who held it at other times with the same right is the same person."""
    claims = []
    for person in persons:
        rate, coverage = bar_share(person, bar, looked_t_s, lift)
        claims.append((rate * np.sqrt(coverage), rate, person))
    claims.sort(key=lambda c: -c[0])
    _, rate, first = claims[0]
    others = []
    for claim, other_rate, person in claims[1:]:
        if other_rate >= max(LEAST_RATE, 0.6 * rate) and not first.overlaps(person):
            first = Person((*first.tracks, *person.tracks))
        else:
            others.append((float(claim), person))
    rate, coverage = bar_share(first, bar, looked_t_s, lift)
    return _ranked([(float(rate * np.sqrt(coverage)) if rate >= LEAST_RATE else 0.0, first), *others])


def _ranked(claims: list[tuple[float, Person]]) -> list[tuple[float, Person]]:
    return sorted(claims, key=lambda c: -c[0])


def _clear(ranked: list[tuple[float, Person]]) -> bool:
    return len(ranked) < 2 or ranked[0][0] >= CLEAR_BY * ranked[1][0]


def _choice(ranked: list[tuple[float, Person]], lift: str, bar: Bar, basis: str) -> LifterChoice:
    score, person = ranked[0]
    t_s, region, worth = person.seeds()
    return LifterChoice(
        lift=lift, person_ids=tuple(t.id for t in person.tracks), t_s=t_s, region=region, worth=worth, score=score,
        next_score=ranked[1][0] if len(ranked) > 1 else 0.0, basis=basis, bar=bar,
        hold_px=_hold_offset(person, bar, lift),
    )  # fmt: skip


def hold_joints(lift: str) -> tuple[int, ...]:
    """Give the joints that move as one with the bar: the shoulders in the squat, else the hands."""
    return SHOULDERS if lift == "squat" else HELD


def _hold_offset(person: Person, bar: Bar, lift: str) -> FloatArray:
    """Give where the hold lies from the bar's end, median over the steps in which both moved together, px."""
    rows = []
    for track in person.tracks:
        way = _together(track, bar, lift)
        hold = track.xy_px[:, list(hold_joints(lift))].mean(axis=1)
        rows.append((hold - bar.at(track.t_s))[1:][way > 0.01 * track.region[1:, 2] * BODY_PER_SIDE])
    offsets = np.concatenate(rows)
    offsets = offsets[np.isfinite(offsets).all(axis=1)]
    if len(offsets) < 5:
        return np.full(2, np.nan)
    out: FloatArray = np.median(offsets, axis=0)
    return out


def _tapped(persons: list[Person], tap: Tap, lift: str, bar: Bar) -> LifterChoice | NotMeasured:
    best: tuple[float, Person] | None = None
    for person in persons:
        for track in person.tracks:
            row = int(np.argmin(np.abs(track.t_s - tap.at_s)))
            if abs(track.t_s[row] - tap.at_s) > 1.0:
                continue
            trunk = track.xy_px[row][list(UPPER)]
            apart = np.hypot(*(trunk - [tap.x_px, tap.y_px]).T)
            away = float(np.sort(apart)[:3].mean() / (track.region[row, 2] * BODY_PER_SIDE))
            if best is None or away < best[0]:
                best = (away, person)
    if best is None or best[0] > 1.0:
        return NotMeasured(
            f"Nobody was found near the marked place at {tap.at_s:.1f} s.",
            "Mark the middle of the lifter's trunk at a moment when it is in plain view.",
        )
    return _choice([(1.0 - best[0], best[1])], lift, bar, "the place marked by a person")


def hands_above_shoulders(track: PersonTrack) -> float:
    """Give 0.05..1: on the bench the lifter's hands are never below his shoulders in the picture; others' hang."""
    body = track.region[:, 2] * BODY_PER_SIDE
    below = (track.xy_px[:, list(HELD), 1].mean(axis=1) - track.xy_px[:, list(SHOULDERS), 1].mean(axis=1)) / body
    return float(np.clip((0.05 - np.percentile(below, 30)) / 0.15, 0.05, 1.0))


def held_path(track: PersonTrack, lift: str, long_side_px: float) -> float:
    """Give a track's claim without a bar: way held together, in body lengths, weighted by size and clarity."""
    if len(track.t_s) < 3 or len(track.carried_px) != len(track.t_s):
        return 0.0
    body = track.region[1:, 2] * BODY_PER_SIDE
    moves = np.concatenate([np.diff(_smooth(track.xy_px[:, list(HELD), 1]), axis=0), track.carried_px[1:]], axis=1)
    held = float((np.abs(shared(moves)) / body).sum())
    clear = float((track.presence * (0.3 + track.peak.mean(axis=1))).mean())
    size = float(np.median(body)) / long_side_px
    lying = hands_above_shoulders(track) if lift == "bench" else 1.0
    return 100 * held * lying * size * clear


def _reach(people: People) -> float:
    """Give a length that stands for the picture where its size is not told: the furthest joint of anybody, px."""
    return max(float(np.nanpercentile(t.xy_px, 99)) for t in people.tracks)


def _smooth(y: FloatArray) -> FloatArray:
    out = y.copy()
    out[1:-1] = (y[:-2] + 2 * y[1:-1] + y[2:]) / 4
    return out


def bar_share(person: Person, bar: Bar, looked_t_s: FloatArray, lift: str) -> tuple[float, float]:
    """Give how a person's hold went with the bar's vertical way.

    Returns
    -------
    rate : share 0..1 of the bar's way, while he was followed, that his hold went with, at the bar.
    coverage : share 0..1 of the bar's whole way during which he was followed.
    """
    looked = bar.at(looked_t_s)
    steps = np.concatenate([[0.0], np.nan_to_num(np.abs(np.diff(looked[:, 1])))])
    whole = float(steps.sum())
    if whole <= 0:
        return 0.0, 0.0
    together = np.zeros(len(looked_t_s))
    during = np.zeros(len(looked_t_s), bool)
    for track in person.tracks:
        during |= covered(track, looked_t_s)
        part = _together(track, bar, lift)
        if lift == "bench":
            part = part * hands_above_shoulders(track)
        look = np.clip(np.searchsorted(looked_t_s, track.t_s[1:] - 1e-6), 0, len(looked_t_s) - 1)
        np.maximum.at(together, look, part)
    followed = float(steps[during].sum())
    if followed <= 0:
        return 0.0, 0.0
    return min(1.0, float(together.sum()) / followed), followed / whole


def _together(track: PersonTrack, bar: Bar, lift: str) -> FloatArray:
    """Give for every step of a track the way, px, that its hold went with the bar, weighted by nearness."""
    place = bar.at(track.t_s)
    down = np.diff(place[:, 1])
    body = track.region[:, 2] * BODY_PER_SIDE
    # hands behind the plate are put at its rim
    behind = np.zeros(len(body)) if lift == "squat" else HIDES * bar.radius_px / body
    near = np.clip((0.5 + behind - _apart(track, place, body, lift)) / 0.25, 0.0, 1.0)
    hold = list(HELD) + (list(SHOULDERS) if lift == "squat" else [])
    moves = np.diff(_smooth(track.xy_px[:, hold, 1]), axis=0)
    firm = np.median(moves, axis=1) if lift == "squat" else moves.mean(axis=1)
    way = np.abs(shared(np.stack([firm, down], axis=1)))
    out: FloatArray = np.nan_to_num(way * np.minimum(near[1:], near[:-1]))
    return out


def _apart(track: PersonTrack, place: FloatArray, body: FloatArray, lift: str) -> FloatArray:
    """Give how far the bar's end is from the line through the hands (squat: or the shoulders), in bodies."""
    xy = track.xy_px
    hands = _off_line(xy[:, HELD[0]], xy[:, HELD[1]], place, body)
    if lift != "squat":
        return hands
    left, right = xy[:, SHOULDERS[0]], xy[:, SHOULDERS[1]]
    line = np.minimum(hands, _off_line(left, right, place, body))
    height = np.abs(place[:, 1] - (left[:, 1] + right[:, 1]) / 2) / body
    apart = np.maximum(line * 0.7, height - 0.1)
    clear = track.peak[:, list(HELD)].min(axis=1) >= CLEAR_HANDS  # a side spotter's hang below the plates
    return np.where(clear, np.maximum(apart, hands), apart)


def _off_line(left: FloatArray, right: FloatArray, place: FloatArray, body: FloatArray) -> FloatArray:
    """Give how far a place (n, 2) is from the line through two joints, or from the nearer one, in bodies."""
    line = right - left
    span = np.hypot(line[:, 0], line[:, 1])
    unit = line / np.maximum(span, 1e-9)[:, None]
    offset = place - (left + right) / 2
    along = np.abs((offset * unit).sum(axis=1))
    across = np.abs(offset[:, 0] * unit[:, 1] - offset[:, 1] * unit[:, 0])
    on_line = np.hypot(across, np.maximum(along - 2.0 * span, 0.0))
    to_joint = np.minimum(np.hypot(*(place - left).T), np.hypot(*(place - right).T))
    out: FloatArray = np.where(span < TOGETHER * body, to_joint, np.minimum(on_line, to_joint)) / body
    return out

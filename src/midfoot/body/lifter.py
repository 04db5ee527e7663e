"""Which of the people is the lifter: the one whose hands hold what moves.

A person's claim is the share of the bar's way that his own hands (in the squat also his shoulders) went with
it, at the bar; without a bar, the way that both wrists, the picture at both wrists and the picture further out
on their line went together. Height, place in the middle and time in view favour spotters and count for nothing.
"""

from __future__ import annotations

import numpy as np
from attrs import field, frozen

from midfoot.body.bar_place import Bar, BarEvidence, bar_of
from midfoot.body.claims import bar_share, held_path, hold_joints, reach_px, went_together
from midfoot.body.persons import Person, gather
from midfoot.body.regions import BODY_PER_SIDE
from midfoot.body.search import JOINTS, UPPER
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
CLEAR_BY = 1.5
"""Factor by which the lifter must lead the next person."""


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
    long_side = float(max(info.width_px, info.height_px)) if info is not None else reach_px(people)
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


def _hold_offset(person: Person, bar: Bar, lift: str) -> FloatArray:
    """Give where the hold lies from the bar's end, median over the steps in which both moved together, px."""
    rows = []
    for track in person.tracks:
        way = went_together(track, bar, lift)
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

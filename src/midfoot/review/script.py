"""What is spoken over the set: 60 to 90 seconds, three moments with time codes, nothing finer than one can show.

Spoken are the good, the changes and the usual caution. What is quiet (answers to what the lifter wrote, limits
that come from pain or age) never is.
"""

from __future__ import annotations

import re

from midfoot.records.measures import Measurement
from midfoot.records.review import Draft, Line, Part, Review, Script
from midfoot.review import moments
from midfoot.review.library import SENTENCE_END
from midfoot.review.words import reps_words

FEWEST_WORDS, MOST_WORDS = 150, 220
WORDS_PER_S = 2.5
"""150 words a minute, an unhurried voice (common practice of voice-over, no source)."""
MOMENTS = 3
AIM_WORDS = 185
INSIDE_S = 0.1
"""The end of a rep is shown from just within it."""


def script_of(review: Review, moment_words: dict[tuple[int, float], str]) -> Script:
    """Make the script.

    Parameters
    ----------
    review : with the coach's edits in it.
    moment_words : how to say where in a rep a moment lies ("on the way up"), by rep and second.

    Returns
    -------
    Script
        With complaints where a coach's own words make it too long, too short or too fine.
    """
    draft = review.draft
    alone = len(draft.spans) == 1
    good = [p for p in review.of("good") if not p.quiet]
    changes = [p for p in review.of("change") if p.aloud and not p.quiet]
    spoken = [p for p in good if p.aloud]
    lines = [Line(words=draft.opening)] if draft.opening else []
    shown = _moments(review, good, changes)
    if shown and alone and not any(part.at_s for part, _, _ in shown):
        # One rep with nothing to point at is shown in its own order, and said to be finished where it ends.
        lines += _through(shown, spoken, draft.compare, moment_words)
    else:
        lines += _stopped(shown, spoken, draft, moment_words)
    for part in changes[:2]:
        if not any(line.part == part.id for line in lines):
            lines.append(Line(words=part.aloud, part=part.id))
    if draft.closing:
        lines.append(Line(words=draft.closing))
    kept = _fitted(lines, draft.spoken_more, {p.id for p in draft.parts if _own(p, review)})
    total = sum(count(line.words) for line in kept)
    return Script(
        lines=tuple(kept), words=total, seconds=round(total / WORDS_PER_S, 1), complaints=_complaints(kept, total)
    )


Shown = tuple[Part, int | None, float]


def _through(
    shown: list[Shown], spoken: list[Part], compare: tuple[str, ...], moment_words: dict[tuple[int, float], str]
) -> list[Line]:
    """Lead through the only rep from its start to its end; what is good of it is said at the end."""
    words, out = list(compare), []
    shown = sorted(shown, key=lambda s: s[2])
    for k, moment in enumerate(shown):
        last = k == len(shown) - 1
        said = " ".join(p.aloud for p in spoken[:2]) if last else words.pop(0) if words else ""
        out.append(_line(moment, _joined(_stop(moment, k, moment_words, alone=True), said)))
    return out


def _stopped(
    shown: list[Shown], spoken: list[Part], draft: Draft, moment_words: dict[tuple[int, float], str]
) -> list[Line]:
    """Say what is good over the first moment, and at the others what is to change there."""
    alone = len(draft.spans) == 1
    lines: list[Line] = []
    best = shown[0] if shown and shown[0][0].section == "good" else None
    if best is not None:
        said = " ".join(p.aloud for p in spoken[:2])
        lines.append(_line(best, _joined(_stop(best, 0, moment_words if alone else {}, alone=alone), said)))
    elif spoken:
        lines.append(Line(words=" ".join(p.aloud for p in spoken[:2]), part=spoken[0].id))
    told, compare = 0, list(draft.compare)
    for moment in shown:
        part = moment[0]
        if moment is best:
            continue
        told += 1
        if part.section == "good":
            words = compare.pop(0) if compare else ""
        else:
            words = draft.again if any(line.part == part.id for line in lines) else part.aloud
        lines.append(_line(moment, _joined(_stop(moment, told, moment_words, alone=alone), words)))
    return lines


def _own(part: Part, review: Review) -> bool:
    """Tell whether a drafted part is spoken in the program's words and may be shortened."""
    return any(p.id == part.id and p.aloud == part.aloud for p in review.parts)


def _moments(review: Review, good: list[Part], changes: list[Part]) -> list[Shown]:
    """Choose three moments: the best rep, then the changes at their worst; the same ones again to fill up."""
    shown: list[Shown] = []
    for part in good:
        if part.at_s and not shown:
            shown.append((part, part.reps[0] if part.reps else None, part.at_s[0]))
    for part in changes:
        if len(shown) < MOMENTS and part.at_s:
            shown.append(_worst(part))
    for part in changes:
        for rep, at_s in zip(part.reps, part.at_s, strict=False):
            if len(shown) < MOMENTS and all(abs(at_s - s[2]) > 0.3 for s in shown):
                shown.append((part, rep, at_s))
    own = [(part, rep, at_s) for part in good for rep, at_s in zip(part.reps, part.at_s, strict=False)]
    filler = next((p for p in good if p.aloud), None)
    faulty = {n for p in changes for n in p.reps}
    fillers = sorted(_fillers(review), key=lambda place: place[0] in faulty)
    spare = [*own, *((filler, n, at_s) for n, at_s in fillers if filler is not None)]
    # A rep that was not shown yet tells more than another moment of one that was.
    for once in (True, False):
        for part, n, at_s in spare:
            new = n not in {s[1] for s in shown} if once else all(abs(at_s - s[2]) > 0.3 for s in shown)
            if len(shown) < MOMENTS and new:
                shown.append((part, n, at_s))
    return sorted(shown, key=lambda s: s[0].section != "good")  # the good first


def _fillers(review: Review) -> list[tuple[int, float]]:
    """Give moments to show when there is little to say: middles of the reps, the last first, then their ends."""
    spans = review.draft.spans
    if not spans:
        return []
    start = (spans[0].n, spans[0].start_s + INSIDE_S)
    ends = [(s.n, s.end_s - INSIDE_S) for s in (spans[-1], spans[0])]
    middles = [(s.n, (s.start_s + s.end_s) / 2) for s in reversed(spans)]
    return [*middles, start, *ends] if len(spans) == 1 else [*middles, *ends, start]


def _worst(part: Part) -> Shown:
    rep = part.figure.rep if part.figure is not None else None
    for n, at_s in zip(part.reps, part.at_s, strict=False):
        if n == rep:
            return part, n, at_s
    return part, part.reps[-1] if part.reps else None, part.at_s[-1]


def _line(moment: Shown, words: str) -> Line:
    return Line(words=words, part=moment[0].id, rep=moment[1], at_s=moment[2])


def _stop(moment: Shown, place: int, moment_words: dict[tuple[int, float], str], *, alone: bool) -> str:
    """Say where to stop the picture; the only rep of a set needs no name."""
    _, rep, at_s = moment
    if rep is None:
        return ""
    where = moment_words.get((rep, at_s), "")
    if alone:
        return ("First", "Now", "Then", "And")[min(place, 3)] + (f", {where}" if where else "")
    name = reps_words((rep,), aloud=True)
    tail = f", {where}" if where else ""
    return (f"Start with {name}{tail}", f"Now {name}{tail}", f"Then {name}{tail}", f"And {name}{tail}")[
        min(place, 3)
    ]


def _joined(stop: str, words: str) -> str:
    """Lead from where the picture stops into what is said there: one sentence."""
    if not stop or not words:
        return (stop and f"{stop}.") or words
    begun = words if words.startswith("I ") else words[0].lower() + words[1:]
    return f"{stop}: {begun}"


def count(text: str) -> int:
    """Count words as they are spoken."""
    return len(re.findall(r"[^\s]*\w[^\s]*", text))


def _fitted(lines: list[Line], more: tuple[str, ...], drafted: set[str]) -> list[Line]:
    """Bring the script to length: add what there is before the closing, shorten drafted changes from the end."""
    from attrs import evolve

    total = sum(count(line.words) for line in lines)
    spare = list(more)
    while spare and total < AIM_WORDS - 20:
        extra = spare.pop(0)
        at = len(lines) - 1 if len(lines) > 1 else len(lines)
        # what tells how to look comes before there is anything to look at
        at = min(at, 1 + more.index(extra)) if extra in more[:2] else at
        lines.insert(at, Line(words=extra))
        total += count(extra)
    for k in range(len(lines) - 1, -1, -1):
        while total > MOST_WORDS and lines[k].part in drafted:
            cut = SENTENCE_END.split(lines[k].words)
            if len(cut) < 3:
                break
            dropped = cut.pop(-2)
            total -= count(dropped)
            lines[k] = evolve(lines[k], words=" ".join(cut))
    return lines


FINE = re.compile(r"\d+[.,]\d+|±|\+-|\bsd\b|\d+ ?(?:mm|ms|deg|°)", re.I)


def _complaints(lines: list[Line], words: int) -> tuple[str, ...]:
    found = []
    if words > MOST_WORDS:
        found.append(f"{words} words: {words - MOST_WORDS} too many for 90 seconds.")
    if words < FEWEST_WORDS:
        found.append(f"{words} words: {FEWEST_WORDS - words} short of 60 seconds.")
    shown = sum(line.at_s is not None for line in lines)
    if shown != MOMENTS:
        found.append(f"{shown} moment{'s' if shown != 1 else ''} shown; three keep a listener.")
    for line in lines:
        fine = FINE.search(line.words)
        if fine:
            found.append(f"“{fine[0]}” is finer than one can point at; say it with the hand.")
    return tuple(found)


def script_text(script: Script, *, markdown: bool = False) -> str:
    """Write the script with time codes: of the voice on the left, of the clip beside what is shown."""
    out, spoken_s = [], 0.0
    for line in script.lines:
        code = _clock(spoken_s)
        shown = ""
        if line.at_s is not None:
            shown = f" [clip {_clock(line.at_s, tenths=True)}{f', rep {line.rep}' if line.rep else ''}]"
        out.append(f"**{code}**{shown} {line.words}" if markdown else f"{code}{shown}  {line.words}")
        spoken_s += count(line.words) / WORDS_PER_S
    tail = f"{script.words} words, about {round(script.seconds)} seconds."
    return "\n\n".join([*out, f"*{tail}*" if markdown else tail, *script.complaints]) + "\n"


def _clock(seconds: float, *, tenths: bool = False) -> str:
    minutes, rest = divmod(seconds, 60)
    return f"{int(minutes)}:{rest:04.1f}" if tenths else f"{int(minutes)}:{int(rest):02d}"


def moment_words(measurement: Measurement) -> dict[tuple[int, float], str]:
    """Say where in its rep every moment lies that a review of this set may show."""
    found: dict[tuple[int, float], str] = {}
    for rep in measurement.data.reps.reps:
        at = [*moments.of_reps(measurement, (rep.n,))]
        span = moments.span(rep)
        at += [span[0] + INSIDE_S, (span[0] + span[1]) / 2, span[1] - INSIDE_S] if span else []
        for finding in measurement.found.findings:
            at += [t for n, t in zip(finding.reps, finding.at_s, strict=False) if n == rep.n]
        for t in at:
            found[(rep.n, t)] = moments.words(measurement, rep.n, t)
    return found


def texts_of(review: Review, script: Script) -> tuple[str, ...]:
    """Give every text that leaves the house: what the next draft for this lifter must not repeat."""
    parts = [p for p in review.parts if p.shown]
    read = [t for p in parts for t in (p.text, p.why, p.try_text) if t]
    return (review.draft.greeting, *read, *(line.words for line in script.lines))

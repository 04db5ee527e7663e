"""About the set: which lift, load, reps, how hard it felt, plates, view."""

from __future__ import annotations

import re
from collections.abc import Iterator

from midfoot.desk.pasted.words import COUNT, MASS_UNIT, NUMBER, Doubt, Said, count, is_lb, number
from midfoot.units import KG_PER_LB, MM_PER_INCH

LOADS_KG = (1.0, 600.0)
LIFTS = (
    ("deadlift", re.compile(r"\b(?:dead ?-?lift(?:s|ed|ing)?|deads|DL|RDLs?|romanians?)\b", re.I)),
    ("squat", re.compile(r"\b(?:squat(?:s|ted|ting)?|SQ)\b", re.I)),
    ("bench", re.compile(r"\b(?:bench(?: ?-?press(?:es|ed)?|ed|ing)?|BP)\b", re.I)),
)
SUMO = re.compile(r"\bsumo\b", re.I)
VARIATIONS = re.compile(
    r"\b(low ?-?bar|high ?-?bar|front squats?|box squats?|pin squats?|safety bar|paused?(?! at)|"
    r"touch ?-?and ?-?go|tng|"
    r"close ?-?grip|wide ?-?grip|medium grip|tempo|sumo|conventional|deficit|block pulls?|rack pulls?|"
    r"RDLs?|romanian|"
    r"stiff ?-?leg(?:ged)?|larsen|spoto|feet up|raw|beltless|no belt)\b",
    re.I,
)
OTHERS = re.compile(
    r"\b(overhead press|OHP|military press|push press|barbell row|rows?|power clean|cleans?|snatch(?:es)?|jerk|"
    r"hip thrusts?|leg press|curls?|lunges?|pull ?-?ups?|chin ?-?ups?|dips?)\b",
    re.I,
)
NOT_THIS_SET = re.compile(
    rf"\b(?:max(?:es)?|1 ?rm|pr|pb|personal best|best|opener|openers|second attempt|third attempt|goal|target|"
    rf"want(?:ed)? to (?:hit|pull|squat|bench|lift)|aiming|hoping|planning|plan|"
    rf"warm(?:ed|ing)?[ -]?ups?|last week|"
    rf"last time|next week|next time|previously|used to|missed|failed)\b[^.;\n]{{0,40}}?\b{NUMBER} ?{MASS_UNIT}?"
    rf"(?: ?x ?\d{{1,2}})?\b"
    rf"|\b{NUMBER} ?{MASS_UNIT}? (?:max|1 ?rm|pr|pb|opener|class|warm ?-?up)\b|\b\d{{2,3}} ?% ?(?:of)?|"
    rf"\bu?\d{{2,3}} ?kg class\b",
    re.I,
)
BY_REPS = re.compile(
    rf"(?<![\w.,])({NUMBER}) ?({MASS_UNIT})? ?[x*] ?({NUMBER}) ?({MASS_UNIT})?(?: ?[x*] ?({NUMBER}) "
    rf"?({MASS_UNIT})?)?"
    r"(?![\w])",
    re.I,
)
FOR_REPS = re.compile(
    rf"\b({NUMBER}) ?({MASS_UNIT})? for (?:a |an |sets? of )?({COUNT}|single|double|triple)\b"
    r"(?! ?(?:years?|weeks?|months?|days?|sets?|seconds?|s\b|%|kg|lbs?))",
    re.I,
)
REPS_AT = re.compile(
    rf"\b({COUNT}) (?:reps? )?(?:@|at|with|on) ({NUMBER}) ?({MASS_UNIT})?\b(?! ?(?:%|cm|mm|fps|hz|degrees|rpe))",
    re.I,
)
NAMED_LOAD = re.compile(
    rf"\b(?:squat(?:ted|s)?|bench(?:ed| press)?|dead ?-?lift(?:ed|s)?|SQ|BP|DL):? ({NUMBER})\b"
    rf"(?! ?(?:{MASS_UNIT}\b|cm|mm|%|x|\*|for|reps?|sets?|years?|weeks?|st\b|nd\b|th\b|am\b|pm\b|/|-))",
    re.I,
)
AT = re.compile(rf"(?:@|\bat|\bwith|\bload[ :=]*(?:of|is|was)?) ?({NUMBER}) ?({MASS_UNIT})?\b(?! ?(?:%|cm|"
                rf"mm|fps|hz|am\b|"
                r"pm\b|years?|degrees|reps?|weeks?|rpe|rir|in\b|left))", re.I)  # fmt: skip
MASS = re.compile(rf"(?<![\w.,])({NUMBER}) ?({MASS_UNIT})(?![\w])", re.I)
REPS = re.compile(
    rf"\b(?:sets? of |x ?|reps? ?[:=] ?)({COUNT})\b(?! ?(?:kg|lbs?|sets?))|\b({COUNT}) ?-?(?:reps?|"
    rf"repetitions?)\b(?! (?:left|in))"
    rf"|\bfor ({COUNT})\b(?! ?(?:years?|weeks?|months?|days?|sets?|seconds?|minutes?|kg|lbs?|more|the|my))"
    r"|\b(single|double|triple)s?\b",
    re.I,
)
RPE = re.compile(r"\brpe ?[:=@]? ?(?:of |was |is |about |~)?(\d{1,2}(?:[.,]\d)?)(?: ?(?:-|to|"
                 r"/) ?(\d{1,2}(?:[.,]\d)?))?"
                 r"(?! ?%)|(?<![A-Za-z])@ ?(\d{1,2}(?:[.,]5)?)(?: ?- ?(\d{1,2}(?:[.,]5)?))?(?! ?(?:kg|"
                 r"lbs?|\d|%|x|reps))"
                 r"|\b(\d{1,2}(?:[.,]5)?) ?rpe\b(?! ?[:=@]? ?\d)", re.I)  # fmt: skip
RIR = re.compile(
    rf"\brir ?[:=@]? ?(?:of |was )?(\d(?:[.,]5)?)(?: ?(?:-|to|or) ?(\d))?\b|\b(\d(?:[.,]5)?) ?(?:rir\b|"
    rf"in reserve\b)"
    rf"|\b({COUNT}|a couple)(?: more)?(?: reps?)? (?:left )?in the tank\b"
    rf"|\b(?:had|have|with) ({COUNT})(?: more)?(?: reps?)? left\b"
    rf"|\bcould(?:'ve| have)? (?:done|got|gotten|hit) ({COUNT}) more\b",
    re.I,
)
SEVERAL = re.compile(r" ?, ?\d{1,2}(?:[.,]5)?(?! ?(?:kg|lb|x|reps?|years?|rir|left|in|more|sets?|of))\b", re.I)
RANGE = re.compile(r"\d ?(?:-|to|or) ?$")
HALF = 0.5
PLATES = re.compile(r"\b(\d{3}) ?mm\b(?: ?plates?)?|\b(\d{2}(?:[.,]\d)?) ?cm plates?|"
                    r"\bplates? (?:are|is) (\d{2}(?:[.,]\d)?) ?cm|\b(1[0-9](?:\.\d{1,2})?) ?(?:in|inch|\")"
                    r" ?plates?", re.I)  # fmt: skip
VIEW = re.compile(
    r"\b(?:filmed |shot |taken |video |view )?(?:from |at )?(?:the )?(side(?:-?on)?|front|rear|behind|back|"
    r"45(?: ?degrees?|°)?)(?:[- ](?:view|angle|on))\b"
    r"|\b(?:filmed|shot|taken|recorded|video|clip|one|second|other)(?: is)? (?:from|at) (?:the )?"
    r"(side|front|rear|behind|back|45(?: ?degrees?|°)?)\b"
    r"|\bfrom (?:the )?(side|front|rear|behind)\b",
    re.I,
)
VIEWS = {"side": "side", "front": "front", "rear": "rear", "behind": "rear", "back": "rear", "45": "oblique"}


def lifts(text: str) -> Iterator[Said | Doubt]:
    """Find which lift, and of which kind."""
    spans: list[tuple[int, int]] = []
    for lift, pattern in LIFTS:
        for found in pattern.finditer(text):
            spans.append(found.span())
            yield Said(field="lift", value=lift, words=found[0], start=found.start(), end=found.end())
    for found in SUMO.finditer(text):
        yield Said(field="lift", value="deadlift", words=found[0], sure=bool(spans), start=found.start(),
                   end=found.end(), note="" if spans else "sumo: read as a deadlift")  # fmt: skip
    for found in OTHERS.finditer(text):
        yield Doubt("lift", f'"{found[0]}" is none of the three lifts that are measured.')


def variations(text: str) -> Iterator[Said]:
    """Find words for how the lift was done."""
    for found in VARIATIONS.finditer(text):
        yield Said(field="variation", value=found[1].lower(), words=found[0], start=found.start(), end=found.end())


def loads(text: str, unit: str) -> Iterator[Said | Doubt]:
    """Find load and reps.

    Parameters
    ----------
    text : with everything blanked that belongs to the body or to another day.
    unit : "kg" or "lb" where the rest of the text uses one alone, else "": for numbers without a unit.
    """
    left = text

    def blank(found: re.Match[str]) -> None:
        nonlocal left
        left = left[: found.start()] + " " * len(found[0]) + left[found.end() :]

    for found in BY_REPS.finditer(left):
        yield from _by_reps(found, unit)
        blank(found)
    for found in FOR_REPS.finditer(left):
        if number(found[1]) >= 20 or found[2]:
            yield _load(found, found[1], found[2] or "", unit)
            yield _reps(found, count(found[3]))
            blank(found)
    for found in REPS_AT.finditer(left):
        if number(found[2]) >= 20 or found[3]:
            yield _reps(found, count(found[1]))
            yield _load(found, found[2], found[3] or "", unit)
            blank(found)
    for found in MASS.finditer(left):
        yield _load(found, found[1], found[2], unit)
        blank(found)
    for found in NAMED_LOAD.finditer(left):
        if number(found[1]) >= 20:
            yield _load(found, found[1], "", unit)
            left = left[: found.start(1)] + " " * len(found[1]) + left[found.end(1) :]
    for found in AT.finditer(left):
        if number(found[1]) >= 20 and not re.fullmatch(r"(?:19|20)\d\d", found[1]):
            yield _load(found, found[1], "", unit)
            blank(found)
    for found in REPS.finditer(left):
        text_of = next(g for g in found.groups() if g)
        yield _reps(found, count(text_of))


def _by_reps(found: re.Match[str], unit: str) -> Iterator[Said | Doubt]:
    numbers = [(number(found[i]), found[i], found[i + 1] or "") for i in (1, 3, 5) if found[i]]
    heavy = [n for n in numbers if n[2] or n[0] > 20]
    small = [n for n in numbers if n not in heavy]
    if any(n[0] != int(n[0]) or not n[0] for n in small) or len(heavy) > 1:
        yield Doubt("load_kg", f'"{found[0].strip()}" cannot be read as load and reps.')
        return
    for _, text, own in heavy:
        yield _load(found, text, own, unit)
    if len(small) == 1 and heavy:
        yield _reps(found, int(small[0][0]))
    elif small:
        reps = int(small[-1][0] if not heavy or numbers.index(heavy[0]) == 2 else small[0][0])
        yield _reps(found, reps, f'"{found[0].strip()}" read as sets of {reps}')


def _load(found: re.Match[str], text: str, own: str, unit: str) -> Said | Doubt:
    value = number(text)
    lb = is_lb(own) if own else unit == "lb"
    kg = value * KG_PER_LB if lb else value
    if not LOADS_KG[0] <= kg <= LOADS_KG[1]:
        return Doubt("load_kg", f"A load of {text} {own or 'kg'} cannot be.")
    note = "" if own else f"no unit was written: read as {'lb, as elsewhere in the text' if lb else 'kg'}"
    value_unit = (round(kg, 4), "lb" if lb else "kg")
    return Said(field="load_kg", value=value_unit, words=found[0].strip(), sure=bool(own), note=note,
                start=found.start(), end=found.end())  # fmt: skip


def _reps(found: re.Match[str], reps: int, note: str = "") -> Said | Doubt:
    if not 1 <= reps <= 100:
        return Doubt("reps", f'"{found[0].strip()}" is no number of reps.')
    return Said(field="reps", value=reps, words=found[0].strip(), sure=not note, note=note, start=found.start(),
                end=found.end())  # fmt: skip


def efforts(text: str) -> Iterator[Said | Doubt]:
    """Find RPE (5 to 10 in halves) and reps in reserve (0 to 5)."""
    for found in RPE.finditer(text):
        said, to = found[1] or found[3] or found[5], found[2] or found[4]
        value = number(said) + (HALF if text[found.end() :].lstrip().startswith("½") else 0.0)
        if SEVERAL.match(text[found.end() :]):
            yield Doubt("rpe", f'"{found[0].strip()}" is followed by other values: which set does the clip show?')
            continue
        if (to and number(to) != 10 and number(to) != value) or (to and number(to) == 10 and "/" not in found[0]):
            yield Doubt("rpe", f'"{found[0].strip()}" names two values.', (said, to))
        elif found[3] and not 5 <= value <= 10:
            continue  # "@ 3": not an effort
        elif not 5 <= value <= 10 or (2 * value) % 1:
            yield Doubt("rpe", f'"{found[0].strip()}": an RPE goes from 5 to 10 in halves.')
        else:
            yield Said(field="rpe", value=value, words=found[0].strip(), start=found.start(), end=found.end())
    for found in RIR.finditer(text):
        if found[2]:
            yield Doubt("rir", f'"{found[0].strip()}" names two values.', (found[1], found[2]))
            continue
        word = next(g for g in found.groups() if g)
        if before := RANGE.search(text[: found.start()]):
            yield Doubt("rir", f'"{before[0]}{found[0].strip()}" names two values.')
            continue
        left = 2.0 if word.lower() == "a couple" else number(word) if word[0].isdigit() else float(count(word))
        if left > 5:
            yield Doubt("rir", f'"{found[0].strip()}": more than five reps left are hard to count.')
            continue
        yield Said(field="rir", value=left, words=found[0].strip(), sure=word.lower() != "a couple",
                   note="a couple: read as 2" if word.lower() == "a couple" else "", start=found.start(),
                   end=found.end())  # fmt: skip


def plates(text: str) -> Iterator[Said]:
    """Find the diameter of the largest plate, where it was written as one."""
    for found in PLATES.finditer(text):
        cm = found[2] or found[3]
        mm = float(found[1]) if found[1] else number(cm) * 10 if cm else number(found[4]) * MM_PER_INCH
        if 150 <= mm <= 520:
            yield Said(field="plate_mm", value=round(mm, 1), words=found[0].strip(), start=found.start(),
                       end=found.end())  # fmt: skip


def views(text: str) -> Iterator[Said]:
    """Find from where it was filmed."""
    for found in VIEW.finditer(text):
        word = next(g for g in found.groups() if g).lower()
        value = next(v for k, v in VIEWS.items() if word.startswith(k))
        yield Said(field="view", value=value, words=found[0].strip(), start=found.start(), end=found.end())

"""About the person: name, body mass, height, age, sex, years of training."""

from __future__ import annotations

import re
from collections.abc import Iterator

from midfoot.desk.pasted.words import MASS_UNIT, NUMBER, Doubt, Said, is_lb, number
from midfoot.units import KG_PER_LB, MM_PER_INCH

BODY_MASS_KG = (25.0, 300.0)
STATURE_M = (1.1, 2.3)
AGES = (8, 95)
LIKELY_AGES = (10, 49)

NAME = r"([A-Z][\w'-]+(?: [A-Z][\w'-]+)?)"
NOT_NAMES = frozenset(re.findall(r"\S+", """
    squat squats bench deadlift deadlifts this the here hi hey hello coach thanks thank cheers rpe rir
    top set sets my not just really still pain no yes ok okay lift load weight reps question today monday
    tuesday wednesday thursday friday saturday sunday january february march april may june july august
    september october november december sumo conventional paused low high front side video clip best
    regards love from ipf kg lb sq bp dl new first second third it that and with for also please same one
    two felt grip depth knees hips back bar heavy easy hard pr pb name lifter age height notes note comp
    competition meet safeties spotter belt working focus
"""))  # fmt: skip
NAMED = (
    re.compile(rf"(?:^|[^\w])(?:[Mm]y name is|[Nn]ame'?s|[Tt]his is|[Ii]t'?s|I'?m|I am|[Hh]ere is) {NAME}"
               r"(?= here\b| again\b|[.,!\n]|$| from\b| \()"),
    re.compile(rf"(?:^|[,!.\n] ?){NAME} here\b"),
    re.compile(rf"(?:[Cc]heers|[Tt]hanks|[Tt]hank you|[Bb]est|[Rr]egards|[Tt]a|[Ll]ove)[,!.]? *\n? *-? *{NAME}"
               r"\s*(?:\n\s*\n|$)"),
    re.compile(rf"\n *[-~]+ *{NAME}\s*$"),
)  # fmt: skip

MASS = re.compile(
    rf"(?:\bbw\b|\bbody ?-?(?:weight|mass)\b|\bmy weight\b|\b(?:i |i'?m |he |she )?weigh(?:s|ing)?\b(?: in)?)"
    rf"[ :=~]*(?:is|of|at|about|around|roughly|currently)?[ :=~]*({NUMBER}) ?({MASS_UNIT}\b|#)?",
    re.I,
)
MASS_AFTER = re.compile(
    rf"({NUMBER}) ?({MASS_UNIT})\b ?(?:bw\b|body ?-?(?:weight|mass)\b|(?:male|female|man|woman|guy|girl|"
    rf"lifter)\b)",
    re.I,
)
MASS_STATS = re.compile(
    rf"(?:\b[MF]\b|\bmale\b|\bfemale\b|\byo\b|y/o|years? old|(?:ft|foot|') ?\d{{1,2}}\"?|\d{{3}} ?cm|"
    rf"\bage:? \d{{1,2}}|\b[mf], ?\d{{2}})[\s,/|]{{1,4}}({NUMBER}) ?({MASS_UNIT})\b(?! ?x)"
    rf"|\bheight\b[^\n]{{0,24}}?\bweight ?[:=]? ?({NUMBER}) ?({MASS_UNIT})\b",
    re.I,
)
"""A mass in a row of age, sex and height."""
MASS_AM = re.compile(rf"\bi(?:'m| am) ({NUMBER}) ?({MASS_UNIT})\b", re.I)
CM = re.compile(r"\b(1\d\d|2[0-2]\d)(?:[.,]\d)? ?cm\b(?! (?:plate|off|from))", re.I)
METRES = re.compile(r"\b([12][.,]\d{1,2}) ?m(?:et(?:er|re)s?)?\b(?!/)", re.I)
FEET = re.compile(
    r"\b([4-7])(?: ?'| ?ft\b\.?| ?foot\b| ?feet\b)(?: ?(\d{1,2}(?:\.\d)?)(?: ?(?:\"|''|in(?:ch(?:es)?)?\b))?)?",
    re.I,
)
AGE = (
    re.compile(r"\b(\d{1,2}) ?-? ?(?:yo\b|y/o\b|y\.o\.|yrs? old\b|years? old\b|year-old\b|years-old\b)", re.I),
    re.compile(r"\bage(?:d|s)?\b[ :=]*(?:is |of )?(\d{1,2})\b(?! ?(?:kg|lb|%))", re.I),
    re.compile(r"\b(?:just )?turned (\d{1,2})\b", re.I),
    re.compile(r"\b(?:he|she|son|daughter|kid|child)(?: is|'s) (\d{1,2})\b(?! ?(?:kg|lb|cm))", re.I),
)
SEX_AGE = re.compile(r"\b(?:(\d{2}) ?/? ?([MF])|([MF]) ?/? ?(\d{2}))\b(?! ?(?:kg|lb|x))")
SEX = re.compile(
    r"\b(female|woman|girl|male|man|guy|boy)\b|(?<=yo)[ ,/]{1,2}([MF])\b|(?<=old)[ ,/]{1,2}([MF])\b", re.I
)
SEXES = {"female": "female", "woman": "female", "girl": "female", "f": "female",
         "male": "male", "man": "male", "guy": "male", "boy": "male", "m": "male"}  # fmt: skip
BARE = re.compile(rf"\bi(?:'m| am) ({NUMBER})\b(?! ?(?:{MASS_UNIT}|cm|m\b|ft|feet|'|%|weeks?|days?|years?|"
                  rf"months?|yo|y/o|"
                  r"x|out|reps?|minutes))", re.I)  # fmt: skip
YEARS = re.compile(
    rf"\b(?:lifting|training|trained|lifted|powerlifting)\b(?: for| since)?(?: about| around)? ?({NUMBER}) "
    r"?(years?|yrs?|months?)\b"
    rf"|\b({NUMBER}) (years?|yrs?|months?) (?:of )?(?:lifting|training|under the bar)\b",
    re.I,
)
MINOR = re.compile(
    r"\b(?:under 18|under eighteen|a minor|my (?:\d+[- ]year[- ]old )?(?:son|daughter|kid|child)|"
    r"high ?school(?:er)?)\b",
    re.I,
)


def names(text: str) -> Iterator[Said]:
    """Find who says it is him; a word that is none of a list of others and has a capital."""
    for pattern in NAMED:
        for found in pattern.finditer(text):
            name = found[1]
            first, _, rest = name.partition(" ")
            if first.lower() in NOT_NAMES:
                continue
            if rest.lower() in NOT_NAMES:
                name = first
            start = found.start(1)
            yield Said(field="name", value=name, words=found[0].strip(" ,.!\n-~"), start=start,
                       end=start + len(name))  # fmt: skip


def masses(text: str) -> Iterator[Said | Doubt]:
    """Find body masses; a number without a unit says what was assumed."""
    for pattern in (MASS, MASS_AFTER, MASS_AM):
        for found in pattern.finditer(text):
            value, unit = number(found[1]), found[2] or ""
            if not unit and re.search(r"weigh|my weight", found[0], re.I) and value > 0 and "bar" in found[0]:
                continue
            kg = value * KG_PER_LB if unit and is_lb(unit) else value
            if not BODY_MASS_KG[0] <= kg <= BODY_MASS_KG[1]:
                yield Doubt(
                    "body_mass_kg", f"A body mass of {found[1]} {unit or 'kg'} cannot be.".replace("  ", " ")
                )
                continue
            yield Said(
                field="body_mass_kg", value=round(kg, 4), words=found[0].strip(), sure=bool(unit),
                note="" if unit else "no unit was written: read as kg", start=found.start(), end=found.end(),
            )  # fmt: skip
    for found in MASS_STATS.finditer(text):
        amount, unit = (found[1], found[2]) if found[1] else (found[3], found[4])
        kg = number(amount) * (KG_PER_LB if is_lb(unit) else 1.0)
        start = found.start(1) if found[1] else found.start(3)
        if BODY_MASS_KG[0] <= kg <= BODY_MASS_KG[1]:
            yield Said(
                field="body_mass_kg", value=round(kg, 4), words=text[start : found.end()], sure=False, start=start,
                end=found.end(), note="read as body mass: it stands beside age, sex or height",
            )  # fmt: skip


def statures(text: str) -> Iterator[Said]:
    """Find heights of people, 1.1 to 2.3 m."""
    for found in CM.finditer(text):
        yield _stature(found, number(found[1]) / 100)
    for found in METRES.finditer(text):
        value = number(found[1])
        if STATURE_M[0] <= value <= STATURE_M[1] and len(found[1]) >= 4:
            yield _stature(found, value)
    for found in FEET.finditer(text):
        inches = float(found[2] or 0)
        value = (12 * int(found[1]) + inches) * MM_PER_INCH / 1000
        if inches < 12 and STATURE_M[0] <= value <= STATURE_M[1]:
            yield _stature(found, round(value, 4))


def _stature(found: re.Match[str], metres: float) -> Said:
    return Said(field="stature_m", value=metres, words=found[0].strip(), start=found.start(), end=found.end())


def ages(text: str) -> Iterator[Said | Doubt]:
    """Find ages and sex; "I'm 23" is taken for an age and says so, "I'm 75" is asked."""
    for pattern in AGE:
        for found in pattern.finditer(text):
            yield from _age(found, found[1])
    for found in SEX_AGE.finditer(text):
        yield from _age(found, found[1] or found[4])
        sex = SEXES[(found[2] or found[3]).lower()]
        yield Said(field="sex", value=sex, words=found[0], start=found.start(), end=found.end())
    for found in SEX.finditer(text):
        word = next(g for g in found.groups() if g).lower()
        sure = word in ("female", "male", "f", "m")
        yield Said(field="sex", value=SEXES[word], words=word, sure=sure, start=found.start(), end=found.end(),
                   note="" if sure else "read from the word")  # fmt: skip
    for found in BARE.finditer(text):
        value = number(found[1])
        if LIKELY_AGES[0] <= value <= LIKELY_AGES[1] and value == int(value):
            yield Said(field="age_years", value=int(value), words=found[0], sure=False, note="read as an age",
                       start=found.start(), end=found.end())  # fmt: skip
        else:
            yield Doubt("age_years", f'"{found[0]}" may be an age or a body mass.')
    for found in MINOR.finditer(text):
        certain = "under" in found[0].lower() or "minor" in found[0].lower()
        note = "" if certain else "may be under 18: ask"
        yield Said(
            field="under_18",
            value=True,
            words=found[0],
            sure=certain,
            note=note,
            start=found.start(),
            end=found.end(),
        )


def _age(found: re.Match[str], text: str) -> Iterator[Said | Doubt]:
    if AGES[0] <= int(text) <= AGES[1]:
        yield Said(field="age_years", value=int(text), words=found[0], start=found.start(), end=found.end())
    else:
        yield Doubt("age_years", f'"{found[0]}" is no age that can be.')


def training(text: str) -> Iterator[Said]:
    """Find how long somebody has been training."""
    for found in YEARS.finditer(text):
        value, unit = (found[1], found[2]) if found[1] else (found[3], found[4])
        years = number(value) / (12 if unit.lower().startswith("m") else 1)
        if years <= 80:
            yield Said(field="training_age_years", value=round(years, 3), words=found[0], start=found.start(),
                       end=found.end())  # fmt: skip

"""When somebody competes: days as people write them, none guessed where two are possible."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta

from midfoot.desk.pasted.words import COUNT, Doubt, Said, count, sentences, trimmed

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
MONTH = (r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|"
         r"oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)")  # fmt: skip
TRIGGER = re.compile(
    r"\b(?:comp(?:s|etition|etitions|ete|etes|eting)?|meets?(?! (?:you|up|the|with))|nationals|worlds|regionals|"
    r"champ(?:s|ionships?)|contest|platform)\b",
    re.I,
)
NONE = re.compile(
    r"\b(?:no (?:comps?|meets?|competitions?)(?: (?:planned|coming up|soon|yet|this year|on the horizon|"
    r"lined up))?|"
    r"(?:not|never|don'?t|do not|no plans? to) (?:plan(?:ning)? to )?compet(?:e|ing|ed)|"
    r"(?:comp(?:etition)?|meet)(?: date)? *[:=] *(?:no(?:ne)?|-|n/?a))\b",
    re.I,
)
PAST = re.compile(r"\b(?:last (?:comp|meet|competition|year|month|week)|(?:was|had|did|after) (?:a |my |the )?"
                  r"(?:comp|meet|competition)|ago)\b", re.I)  # fmt: skip
ISO = re.compile(r"\b(20\d\d)-(\d{1,2})-(\d{1,2})\b")
SLASHED = re.compile(r"\b(\d{1,2})[./](\d{1,2})(?:[./](\d{4}|\d{2}))?\b(?!\s*(?:kg|lb))")
DAY_MONTH = re.compile(rf"\b(\d{{1,2}})(?:st|nd|rd|th)?(?: of)? ({MONTH})\b\.?,?(?: (20\d\d))?", re.I)
MONTH_DAY = re.compile(rf"\b({MONTH})\.? (\d{{1,2}})(?:st|nd|rd|th)?\b(?!:)(?:,? (20\d\d))?", re.I)
IN = re.compile(rf"\b(?:in|about|around|~)? ?({COUNT}|a|a couple of) (days?|weeks?|wks?|"
                rf"months?)(?: time)?(?: out| away| to go|"
                r" until| till| before)?\b", re.I)  # fmt: skip
OUT = re.compile(rf"\b({COUNT}) (days?|weeks?|wks?|months?) out\b", re.I)
NEXT = re.compile(r"\b(tomorrow|next week(?:end)?|this weekend|next month)\b", re.I)


def meets(text: str, today: date) -> Iterator[Said | Doubt]:
    """Find the day of the next competition.

    A day without a year is the next such day and says so; 5/6 could be two days and is asked.
    """
    for start, end in sentences(text):
        sentence = text[start:end]
        none = NONE.search(sentence)
        if none:
            yield Said(field="competition", value=None, words=none[0], start=start + none.start(),
                       end=start + none.end())  # fmt: skip
            continue
        out = OUT.search(sentence)
        if not TRIGGER.search(sentence) and out is None:
            continue
        yield from _day(text, start, sentence, today)


def _day(text: str, start: int, sentence: str, today: date) -> Iterator[Said | Doubt]:
    found: Said | Doubt | None = None
    for pattern, reader in ((ISO, _iso), (DAY_MONTH, _day_month), (MONTH_DAY, _month_day), (SLASHED, _slashed)):
        match = pattern.search(sentence)
        if match is not None:
            found = reader(match, today, start)
            break
    else:
        if PAST.search(sentence):
            return
        for pattern, reader in ((IN, _in), (NEXT, _next)):
            match = pattern.search(sentence)
            if match is not None:
                found = reader(match, today, start)
                break
    a, b = trimmed(text, start, start + len(sentence))
    if found is None:
        yield Doubt("competition", f'A competition is named without its day: "{text[a:b]}".')
    elif isinstance(found, Said) and found.value < today:
        yield Doubt("competition", f'The competition named is over: "{text[a:b]}".')
    else:
        yield found


def _said(match: re.Match[str], day: date, start: int, note: str = "") -> Said:
    return Said(field="competition", value=day, words=match[0].strip(), sure=not note, note=note,
                start=start + match.start(), end=start + match.end())  # fmt: skip


def _dated(match: re.Match[str], year: str | None, month: int, day: int, today: date, start: int) -> Said | Doubt:
    try:
        if year:
            return _said(match, date(int(year) + (2000 if len(year) == 2 else 0), month, day), start)
        near = date(today.year, month, day)
        if near < today:
            near = date(today.year + 1, month, day)
        return _said(match, near, start, f"no year was written: read as {near.isoformat()}")
    except ValueError:
        return Doubt("competition", f'"{match[0].strip()}" is no day that there is.')


def _iso(match: re.Match[str], today: date, start: int) -> Said | Doubt:
    return _dated(match, match[1], int(match[2]), int(match[3]), today, start)


def _day_month(match: re.Match[str], today: date, start: int) -> Said | Doubt:
    return _dated(match, match[3], 1 + MONTHS.index(match[2][:3].lower()), int(match[1]), today, start)


def _month_day(match: re.Match[str], today: date, start: int) -> Said | Doubt:
    return _dated(match, match[3], 1 + MONTHS.index(match[1][:3].lower()), int(match[2]), today, start)


def _slashed(match: re.Match[str], today: date, start: int) -> Said | Doubt:
    a, b = int(match[1]), int(match[2])
    if a > 12 >= b:
        return _dated(match, match[3], b, a, today, start)
    if b > 12 >= a:
        return _dated(match, match[3], a, b, today, start)
    if a == b:
        return _dated(match, match[3], a, b, today, start)
    return Doubt("competition", f'"{match[0].strip()}" may be two days: day first or month first?')


def _in(match: re.Match[str], today: date, start: int) -> Said:
    n = 2 if "couple" in match[1].lower() else count(match[1])
    unit = match[2].lower()
    days = n * (1 if unit.startswith("d") else 7 if unit.startswith("w") else 30.4)
    return _said(match, today + timedelta(days=round(days)), start, "counted from the day on which it came in")


def _next(match: re.Match[str], today: date, start: int) -> Said:
    word = match[1].lower()
    days = 1 if word == "tomorrow" else 30 if "month" in word else 7 if "next" in word else 5 - today.weekday() % 7
    return _said(match, today + timedelta(days=max(0, days)), start, "about: ask for the day")

"""Pain, injury, symptoms that need help at once, safeties and spotters: in all of the text, questions too.

A false alarm costs the coach a glance, a miss may cost more: whatever sounds like pain is shown as pain with its
own words. Nothing is diagnosed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from midfoot.desk.pasted.words import Said, clauses, trimmed

PART = (r"(?:knees?|backs?|lower backs?|shoulders?|hips?|elbows?|wrists?|ankles?|necks?|hamstrings?|"
        r"hammies|quads?|"
        r"groins?|adductors?|pecs?|biceps?|triceps?|forearms?|calf|calves|glutes?|spine|si joint|achilles|"
        r"feet|foot|"
        r"hands?|fingers?|pinky|pinkies|thumbs?|toes?|arms?|legs?|chest|ribs?)")  # fmt: skip
PAIN = re.compile(
    rf"\b(?:pain(?:s|ful|ed)?|hurt(?:s|ing)?|ache[sdy]?|aching|sore(?:ness)?|sharp|twinge[sd]?|"
    rf"pinch(?:es|ing|ed)?|"
    rf"niggl(?:e[sd]?|ing|y)|discomfort|uncomfortable|tweaky|throbb?ing|stabbing|cramp(?:s|ed|ing)?|burning in|"
    rf"(?:bugg|bother|annoy|troubl)(?:ing|ed|es|s) me|acting up|"
    rf"(?:bad|dodgy|bum|grumpy|achy|cranky|stiff|irritated|inflamed|swollen) {PART}|"
    rf"{PART} (?:pop(?:s|ped|ping)?|click(?:s|ed|ing)?|crack(?:s|ed|ing)?|grind(?:s|ing)?)|"
    rf"{PART} (?:is|are|feels?|felt|was|been|acting|gets?|got|playing) ?(?:a bit |a little |really |"
    rf"kind of |pretty )?"
    rf"(?:off\b|bad|funny|weird|dodgy|swollen|stiff|tight|irritated|inflamed|up again|up\b|grumpy|cranky))\b",
    re.I,
)
INJURY = re.compile(
    rf"\b(?:injur(?:y|ies|ed)|surger(?:y|ies)|operat(?:ed|ion) on|herniat(?:ed|ion)|slipped disc|disc bulge|"
    rf"bulging disc|torn|tore|tear in|sprain(?:ed)?|strain(?:ed)?(?= my| a| the|\b.{{0,12}}{PART})|"
    rf"tendin\w+|tendon\w+|"
    rf"sciatica|fractur\w+|dislocat\w+|rehab(?:bing)?|physio(?:therap\w+)?|"
    rf"(?:tweaked|pulled|popped|strained) (?:a |my |the |something|it\b)(?: ?(?:left|right|"
    rf"lower))? ?(?:{PART})?)\b",
    re.I,
)
NONE = re.compile(
    r"\b(?:no(?:t any| more)? (?:pain|injur(?:y|ies)|issues? with pain|aches?|niggles?|soreness|"
    r"discomfort|problems?)"
    r"(?: (?:or|and|nor) (?:pain|injur(?:y|ies)|aches?|niggles?))*|"
    r"pain[- ]?free|without (?:any )?(?:pain|discomfort)|nothing (?:hurts?|hurting|painful)|injury[- ]?free|"
    r"(?:does ?n'?t|do not|did ?n'?t|don'?t|does not|did not|never) (?:hurt|ache)s?|zero pain|"
    r"pain *[:=] *(?:no(?:ne)?|nothing|0|zero|-|n/?a)|injur(?:y|ies) *[:=] *(?:no(?:ne)?|nothing|0|-|n/?a)|"
    r"not (?:painful|sore|hurting|injured))\b",
    re.I,
)
FEELS = r"(?:is|are|feels?|felt|went|goes|got|gets?)"
URGENT = (
    (
        "numbness or tingling",
        re.compile(
            rf"\b(?:numb(?:ness|ed)?|tingl(?:e[sd]?|ing|y)|pins and needles|"
            rf"can(?:'?t|not) feel (?:my |the |a )?(?:left |right )?{PART})\b",
            re.I,
        ),
    ),
    (
        "weakness",
        re.compile(
            rf"\b(?:(?:sudden |strange |odd )weakness|"
            rf"weakness (?:in|down|of) (?:my |the |one |both )?(?:left |right )?{PART}|"
            rf"{PART} {FEELS} (?:very |really |so |suddenly )?weak\b(?! (?:off|at the|out of|in the|"
            rf"from the|point))|"
            rf"{PART} (?:gave|gives|giving) (?:way|out)|foot drop|lost (?:strength|power) in)\b",
            re.I,
        ),
    ),
    (
        "chest pain",
        re.compile(
            r"\b(?:chest (?:pains?|tightness|pressure)|pain in (?:my |the )chest|"
            r"tight(?:ness)? in (?:my |the )chest|"
            r"chest (?:is |was |feels? |felt )?(?:hurts?|hurting|tight)|palpitations|short(?:ness)? of breath|"
            r"can(?:'?t|not) breathe)\b",
            re.I,
        ),
    ),
    (
        "fainting",
        re.compile(
            r"\b(?:faint(?:ed|ing|s)?|pass(?:ed|ing)? out|black(?:ed|ing)? out|blackout|lost consciousness|"
            r"(?:saw|seeing) (?:stars|black)|dizz(?:y|iness)|vision went)\b",
            re.I,
        ),
    ),
    (
        "pain that radiates",
        re.compile(
            rf"\b(?:radiat(?:es?|ed|ing)|shoot(?:s|ing)? (?:pains?|down|into|up (?:my|the|one)\b)|"
            rf"pain (?:that )?(?:goes|going|runs|running|travels|down) (?:all the way )?(?:down|into|to) "
            rf"(?:my |the )?(?:left |right )?{PART}|"
            rf"down (?:the back of )?(?:my|the) (?:left |right |whole )?(?:leg|arm)|"
            rf"electric(?:al)? (?:shock|feeling)s?)\b",
            re.I,
        ),
    ),
    (
        "bladder or bowel",
        re.compile(
            r"\b(?:bladder|bowels?|incontinen\w+|peed? (?:myself|a bit|a little)|"
            r"leak(?:ed|ing|s)? (?:urine|pee|when)|saddle area)\b",
            re.I,
        ),
    ),
)
NEGATED = re.compile(r"\b(?:no|not|never|without|any|zero|did ?n'?t|does ?n'?t|don'?t)\b[\w' ,/]{0,30}$", re.I)

SAFETIES = re.compile(
    r"\b(?P<no>no|without(?: any)?|didn'?t (?:use|have|set)|don'?t (?:use|have)|forgot(?: the)?)? ?(?:the |any )?"
    r"(?:safet(?:y|ies)(?: (?:pins?|bars?|arms?|straps?))?|spotter arms|pins(?= (?:set|are|at|below|in|were))|"
    r"rack pins|face ?-?savers?)\b(?P<more>[^,.;\n!?]{0,40})",
    re.I,
)
SPOTTER = re.compile(
    r"\b(?P<no>no|without(?: an?y?)?|didn'?t have(?: an?y?)?|don'?t have(?: an?y?)?)? ?(?:my |the )?"
    r"(?P<n>\d|one|two|three|a|an|with)? ?(?:experienced |good |my )?(?:spotters?|spotted by \w+|"
    r"spot(?= from| by|$|[,.\n]))\b"
    r"(?: *[:=] *\w+)?",
    re.I,
)


def pains(text: str) -> Iterator[Said]:
    """Find pain and injury, each with the clause that names it; said to be absent as ""."""
    for start, end in clauses(text):
        clause = text[start:end]
        absent = [m.span() for m in NONE.finditer(clause)]
        for field, pattern in (("pain", PAIN), ("injury", INJURY)):
            found = [m for m in pattern.finditer(clause) if not any(a <= m.start() < b for a, b in absent)]
            if found:
                a, b = trimmed(text, start, end)
                yield Said(field=field, value=text[a:b], words=text[a:b], start=a, end=b)
        for a, b in absent:
            words = clause[a:b]
            about = "injury" if re.search("injur", words, re.I) else "pain"
            yield Said(field=about, value="", words=words, start=start + a, end=start + b)
            if about == "pain" and re.search("injur", words, re.I):
                yield Said(field="injury", value="", words=words, start=start + a, end=start + b)


def urgent(text: str) -> tuple[tuple[str, str], ...]:
    """Give symptoms with which nobody lifts before a clinician has seen them: what, and the words."""
    found = []
    for what, pattern in URGENT:
        for match in pattern.finditer(text):
            if not NEGATED.search(text[: match.start()].rsplit("\n", 1)[-1].rsplit(".", 1)[-1]):
                found.append((what, match[0].strip()))
                break
    return tuple(found)


def guards(text: str) -> Iterator[Said]:
    """Find safeties and spotters, and where it is said that there are none."""
    for found in SAFETIES.finditer(text):
        yield _guard("safeties", found)
    for found in SPOTTER.finditer(text):
        yield _guard("spotter", found)


def _guard(field: str, found: re.Match[str]) -> Said:
    a, b = found.span()
    words = found[0].strip(" ,")
    absent = bool(found["no"] or re.search(r"[:=-] *(?:no|none|0|nope|n/?a)\b", found[0], re.I))
    return Said(field=field, value="" if absent else words, words=words, start=a, end=b)

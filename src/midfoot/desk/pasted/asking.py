"""What is asked, what is worked on, what is worn, whose film it is, what is said of showing it."""

from __future__ import annotations

import re
from collections.abc import Iterator

from midfoot.desk.pasted.words import Doubt, Said, sentences, trimmed

WONDER = re.compile(
    r"\b(?:wonder(?:ing)?|(?:i'?d like|want|would like|would love|keen) to know|not sure (?:if|whether|why)|"
    r"any (?:tips|advice|thoughts|feedback|idea)|let me know|please (?:check|look|tell)|can you (?:check|"
    r"look|tell))\b",
    re.I,
)
LEAD = re.compile(r"(?:questions?|q|asks?)\s*[:=-]\s*", re.I)
WORKING = re.compile(
    r"\b(?:(?:been |currently |still |i'?m )?(?:working on|focus(?:s?ing|s?ed)?(?: is)? on|concentrating on|"
    r"practi[sc]ing|cue(?:ing|d)?(?: (?:was|is|for this set))?[: ]+)|trying to(?! (?:decide|figure|find|"
    r"understand|work out)))"
    r"\s*([^.;\n!?]{3,120})",
    re.I,
)
EQUIPMENT = re.compile(
    r"\b(?:no |without (?:a )?|beltless|with (?:a )?|wearing (?:a )?|in (?:my )?)?"
    r"((?:lifting |lever |prong )?belt(?:ed)?\b|knee sleeves?|sleeves|knee wraps?|wrist wraps?|wraps|straps|"
    r"(?:squat |lifting |heeled |deadlift )?(?:shoes|slippers)|heels|flats|barefoot|chalk|"
    r"single ply|suit|bench shirt)\b",
    re.I,
)
SHARING = re.compile(
    r"\b(?:(?:can|could|may|ok(?:ay)?|fine|happy|free|feel free|don'?t|do not|please don'?t|not|rather not)\b"
    r"[^.;\n!?]{0,30}\b(?:share|shared|post|posted|publish|show|use (?:it|this|the|my)|put (?:it|"
    r"this) (?:up|online))|"
    r"(?:private|anonymous(?:ly)?|blur my face|no names?)\b)",
    re.I,
)
SELF = re.compile(r"\b(?:this is me|it'?s me|me (?:squatting|benching|deadlifting|lifting)|"
                  r"i filmed myself|that'?s me)\b",
                  re.I)  # fmt: skip
PERMISSION = re.compile(
    r"\b(?:(?:my|a) (?:friend|client|training partner|lifter|girlfriend|boyfriend|wife|husband|partner|"
    r"mate|brother|sister)"
    r"[^.;\n]{0,60}(?:permission|ok(?:ay)? with|agreed|said (?:yes|ok|it'?s fine))|with (?:his|her|"
    r"their) permission|(?:he|she|they) (?:agreed|consented|said (?:yes|ok))|"
    r"(?:he|she|they)(?:'s| is|'re| are) (?:ok(?:ay)?|fine|happy) with)\b",
    re.I,
)
OF_SOMEBODY = re.compile(
    r"\b(?:my|a) (?:friend|client|training partner|girlfriend|boyfriend|wife|husband|mate|brother|sister|"
    r"son|daughter)\b",
    re.I,
)


def questions(text: str) -> Iterator[Said]:
    """Find what is asked: sentences with a question mark, and those that wonder."""
    for start, end in sentences(text):
        sentence = text[start:end]
        asks = sentence.rstrip().endswith("?")
        if asks or WONDER.search(sentence):
            a, b = trimmed(text, start, end)
            if lead := LEAD.match(text[a:b]):
                a += lead.end()
            if re.search("[a-z]", text[a:b], re.I):
                yield Said(field="question", value=text[a:b], words=text[a:b], start=a, end=b)


def working(text: str) -> Iterator[Said]:
    """Find what the lifter is working on."""
    for found in WORKING.finditer(text):
        value = re.split(r",? (?:but|and my|and the|because|so)\b|, ", found[1].strip())[0].strip(" ,")
        if value:
            a, b = found.start(), found.start(1) + len(value)
            yield Said(field="working_on", value=value, words=text[a:b].strip(), start=a, end=b)


def equipment(text: str) -> Iterator[Said]:
    """Find what is worn; "no belt" is left to the variation."""
    for found in EQUIPMENT.finditer(text):
        if not re.match(r"no |without|beltless", found[0].strip(), re.I):
            yield Said(field="equipment", value=found[1].lower(), words=found[0].strip(), start=found.start(),
                       end=found.end())  # fmt: skip


def filmed(text: str) -> Iterator[Said | Doubt]:
    """Find whose film it is; a friend's without a word of permission is asked."""
    if found := PERMISSION.search(text):
        yield Said(field="filmed", value="permission", words=found[0], start=found.start(), end=found.end())
    elif found := OF_SOMEBODY.search(text):
        yield Doubt(
            "filmed", f'The film may show somebody else ("{found[0]}"): ask for that person\'s permission.'
        )
    elif found := SELF.search(text):
        yield Said(field="filmed", value="self", words=found[0], start=found.start(), end=found.end())


def sharing(text: str) -> Iterator[Doubt]:
    """Note what is said of showing it: a consent is given use by use, never read out of a message."""
    for found in SHARING.finditer(text):
        yield Doubt("consents", f'It says something of showing the film ("{found[0].strip()}"): ask for each use.')

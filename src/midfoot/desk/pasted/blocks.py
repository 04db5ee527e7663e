"""One paste may hold several people and sets: where one ends and the next begins."""

from __future__ import annotations

import re

from attrs import frozen

FILE = re.compile(r"(?<![\w/])[\w()+.-]*\w\.(?:mp4|mov|m4v|webm|mkv|avi|3gp)\b", re.I)
RULE = re.compile(r"^\s*[-=_*~#]{3,}\s*$")
CHAT = re.compile(r"^\s*\[?(?:\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4}[, ]*)?(?:\d{1,2}:\d{2}(?::\d{2})?(?: "
                  r"?[ap]m)?)\]?\s*[-:]?\s*"
                  r"([A-Z][\w' .-]{0,40}?):\s", re.I)  # fmt: skip
SPEAKER = re.compile(r"^\s*([A-Z][a-z'-]+(?: [A-Z][\w'-]*)?)\s*(?::|\s-\s)\s*(?=\S)")
NAME_KEY = re.compile(r"^\s*(?:name|lifter|athlete|from)\s*[:=]\s*(.+?)\s*$", re.I)
NUMBERED = re.compile(r"^\s*(?:(?:set|clip|video|lifter|vid)\s*#?\s*)?\(?#?(\d{1,2})[).:]\s+", re.I)
LIFT = re.compile(r"\b(?:squat\w*|bench\w*|dead ?-?lift\w*|deads|SQ|BP|DL|sumo)\b", re.I)
LOADED = re.compile(r"\d{2,3}(?:[.,]\d+)? ?(?:kg|lb|#)|\d{2,3}(?:[.,]\d+)? ?x ?\d|\d ?x ?\d{2,3}|@ ?\d|"
                    r"\bx ?\d|\d for \d",
                    re.I)  # fmt: skip
KEYS = frozenset(re.findall(r"\S+", """
    lift load reps rpe rir age height bw bodyweight weight pain question q notes note name lifter set
    comp competition meet view focus cue cues update ps edit squat bench deadlift safeties spotter injury
    equipment variation plates sex gender exercise effort goal context hi hey hello info thanks date
    video clip file body working from athlete stats anyway
"""))  # fmt: skip
"""Words before a colon that name what follows, and nobody."""


@frozen
class Block:
    """A stretch of the text about one set; `speaker` is who wrote it, `follows` tells that nobody new speaks."""

    text: str
    speaker: str = ""
    follows: bool = False


def blocks(text: str) -> tuple[Block, ...]:
    """Part a paste into what is said of each set; one block where nothing parts it."""
    found: list[Block] = []
    lines: list[str] = []
    speaker, follows, number, blank = "", False, 0, False

    def close(next_speaker: str, next_follows: bool) -> None:
        nonlocal lines, speaker, follows, number
        if "\n".join(lines).strip():
            found.append(Block("\n".join(lines), speaker, follows))
        lines, speaker, follows, number = [], next_speaker, next_follows, 0

    openings = [m[1] for m in map(SPEAKER.match, text.splitlines()) if m]
    known = frozenset(n for n in openings if openings.count(n) > 1)
    for line in text.splitlines():
        so_far = "\n".join(lines)
        who = _speaker(line, known)
        numbered = NUMBERED.match(line)
        if RULE.match(line):
            close("", False)
            continue
        if who and who.lower() != speaker.lower() and (speaker or so_far.strip()):
            close(who, False)
        elif who:
            speaker = speaker or who
        elif numbered and int(numbered[1]) == number + 1 and (number or _is_set(line)):
            if number:
                close(speaker, True)
            number = int(numbered[1])
        elif (blank and _is_set(line) and _is_set(so_far)) or (
            (file := FILE.search(line)) and file.start() < 4 and FILE.search(so_far)
        ):
            close(speaker, True)
        lines.append(_without_speaker(line) if who else line)
        blank = not line.strip()
        if numbered and not who:
            number = max(number, int(numbered[1])) if int(numbered[1]) == number + 1 else number
    close("", False)
    return tuple(found) or (Block(text),)


def _speaker(line: str, known: frozenset[str]) -> str:
    if match := CHAT.match(line):
        return match[1].strip()
    if match := NAME_KEY.match(line):
        return match[1].strip(" .,")
    match = SPEAKER.match(line)
    if match is None or match[1].split()[0].lower() in KEYS:
        return ""
    # "Cleo: bench 60 kg" is somebody; "Injuries: an old sprain" names what follows
    return match[1] if match[1] in known or LIFT.search(line[match.end() :]) else ""


def _without_speaker(line: str) -> str:
    for pattern in (CHAT, NAME_KEY, SPEAKER):
        if match := pattern.match(line):
            return "" if pattern is NAME_KEY else line[match.end() :]
    return line


def _is_set(text: str) -> bool:
    return bool(LIFT.search(text) and LOADED.search(text))

"""Subtitles of the script: cues of at most two lines, timed by the words, as WebVTT and SubRip."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from attrs import frozen

from midfoot.records.review import Script

LINE_CHARS, LINES = 42, 2
"""Common practice of subtitling, no source."""
LEAST_CUE_S = 1.0
SENTENCE = re.compile(r"(?<=[.!?:;])\s+")


@frozen
class Cue:
    """Words on the screen from `start_s` to `end_s` of the video, at most two lines."""

    start_s: float
    end_s: float
    lines: tuple[str, ...]


def durations_s(script: Script) -> list[float]:
    """Give how long each line of the script takes, by its share of the words."""
    counts = [max(1, len(line.words.split())) for line in script.lines]
    total = sum(counts)
    return [script.seconds * c / total for c in counts]


def cues_of(script: Script) -> list[Cue]:
    """Cut the script into cues that follow each other without a gap."""
    return cues_over(spoken_of(script))


def spoken_of(script: Script) -> list[tuple[float, float, str]]:
    """Give from when to when each line of the script is spoken, s, one after the other."""
    out: list[tuple[float, float, str]] = []
    start = 0.0
    for line, length in zip(script.lines, durations_s(script), strict=True):
        out.append((start, start + length, line.words))
        start += length
    return out


def cues_over(spoken: Sequence[tuple[float, float, str]]) -> list[Cue]:
    """Cut lines, each with from and to in s, into cues; a cue lasts by its share of the line's words."""
    out: list[Cue] = []
    for start_s, end_s, words in spoken:
        pieces = _pieces(words)
        weights = [len(p.split()) for p in pieces]
        at = start_s
        for piece, weight in zip(pieces, weights, strict=True):
            end = at + (end_s - start_s) * weight / max(1, sum(weights))
            out.append(Cue(at, end, tuple(textwrap.wrap(piece, LINE_CHARS))))
            at = end
    return out


def _pieces(words: str) -> list[str]:
    """Cut at sentences, long ones where two lines are full; what is too short joins its neighbour."""
    out: list[str] = []
    for sentence in SENTENCE.split(words.strip()):
        lines = textwrap.wrap(sentence, LINE_CHARS)
        parts = -(-len(lines) // LINES)
        even = textwrap.wrap(sentence, max(LINE_CHARS, -(-len(sentence) // max(1, parts)) + 8))
        for piece in even if all(len(textwrap.wrap(p, LINE_CHARS)) <= LINES for p in even) else _full(lines):
            joined = f"{out[-1]} {piece}" if out else ""
            if joined and len(piece.split()) < 3 and len(textwrap.wrap(joined, LINE_CHARS)) <= LINES:
                out[-1] = joined
            else:
                out.append(piece)
    return out


def _full(lines: list[str]) -> list[str]:
    return [" ".join(lines[k : k + LINES]) for k in range(0, len(lines), LINES)]


def vtt(cues: list[Cue]) -> str:
    """Write WebVTT (W3C)."""
    rows = ["WEBVTT", ""]
    for k, cue in enumerate(cues, start=1):
        words = [line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") for line in cue.lines]
        rows += [str(k), f"{_clock(cue.start_s, '.')} --> {_clock(cue.end_s, '.')}", *words, ""]
    return "\n".join(rows)


def srt(cues: list[Cue]) -> str:
    """Write SubRip."""
    rows = []
    for k, cue in enumerate(cues, start=1):
        rows += [str(k), f"{_clock(cue.start_s, ',')} --> {_clock(cue.end_s, ',')}", *cue.lines, ""]
    return "\n".join(rows)


def _clock(seconds: float, point: str) -> str:
    ms = round(seconds * 1000)
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}{point}{ms % 1000:03d}"

"""The keys of every page, read from the scripts that bind them: the help page cannot say anything else."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

JS = Path(__file__).parent / "static" / "js"
PAGES = (
    ("Everywhere", "page.js"), ("Inbox", "inbox.js"), ("A set: the video", "desk/controls.js"),
    ("A set: the review", "review.js"), ("A set: voice-over", "desk/voice.js"), ("Archive", "archive.js"),
)  # fmt: skip
BOUND = re.compile(r'(?:bind\(|\[)"([^"]+)", "([a-z][^"]*)", (?=[\w(])([^\n]*)')
EACH_REP = re.compile(r'bind\(String\(n\), "([^"]+)"')
WAYS = re.compile(r'\["(\w)", "/[\w]*", "([^"]+)"\]')
SAID = {"ArrowLeft": "←", "ArrowRight": "→", "ArrowUp": "↑", "ArrowDown": "↓", " ": "Space", "Escape": "Esc"}


@cache
def key_lists() -> tuple[tuple[str, tuple[tuple[tuple[str, ...], str], ...]], ...]:
    """Give the keys by page: (page, ((parts of the key, what it does), ...))."""
    found = []
    for page, file in PAGES:
        path = JS / file
        text = path.read_text("utf-8") if path.is_file() else ""
        rows = [(key, words) for key, words in _bound(text)]
        if file == "page.js":
            rows += [(f"Alt+{key}", f"to the {name}") for key, name in WAYS.findall(text)]
        if rows:
            found.append((page, tuple((_parts(key), words) for key, words in rows)))
    return tuple(found)


def _bound(text: str) -> list[tuple[str, str]]:
    """Give key and words of every binding that is listed; the second key for the same is not."""
    rows = []
    for line in text.splitlines():
        for part in re.split(r"(?<=[\])]), (?=\[\")", line.strip()):
            match = BOUND.match(part)
            if each := EACH_REP.search(part):
                rows.append(("1", each[1]))
            if match and not part.rstrip(",").endswith("false, false]") and "listed: false" not in part:
                rows.append((match[1], match[2]))
    return rows


def _parts(key: str) -> tuple[str, ...]:
    """Part Shift+x into what stands on the keys."""
    parts = [key] if key == "+" else re.split(r"\+(?=.)", key)
    return tuple(SAID.get(p, p.upper() if len(p) == 1 else p) for p in parts)

"""The help page lists every key that a script binds."""

from __future__ import annotations

import re
from pathlib import Path

from desk_client import PAGE
from starlette.testclient import TestClient

from midfoot.web.key_lists import JS, PAGES, key_lists


def test_every_key_that_is_bound_is_listed(client: TestClient) -> None:
    """Counted in another way than they are read: by the calls of `bind` with a key written out."""
    listed = {words for _, keys in key_lists() for _, words in keys}
    text = client.get("/help", headers=PAGE).text

    for _, file in PAGES:
        script = (JS / file).read_text("utf-8")
        for words in re.findall(r'bind\("[^"]+", "([^"]+)"', script):
            assert words in listed, (file, words)
            assert words.replace("'", "&#39;") in text, words
    assert len(listed) > 40
    assert [page for page, _ in key_lists()] == [page for page, _ in PAGES]


def test_no_script_binds_keys_unknown_to_the_help_page() -> None:
    """A script that takes keys is named in PAGES, so that its keys are shown."""
    binding = {
        file.relative_to(JS).as_posix()
        for file in Path(JS).rglob("*.js")
        if re.search(r"import \{[^}]*\bbind\b[^}]*\} from", file.read_text("utf-8"))
    }

    assert binding <= {file for _, file in PAGES}

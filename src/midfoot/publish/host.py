"""The page for showing an edition, as files of its folder: whole screen, large words, nothing private."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from midfoot.publish.page_template import page_template
from midfoot.publish.site import icon_svg

PAGE = "index.html"
FOLDER = Path(__file__).parent / "templates"


def host_files(plan: Mapping[str, Any]) -> dict[str, str]:
    """Give the page's files by name.

    Parameters
    ----------
    plan : title and segments of the edition, as they stand in its order; only what may be public.
    """
    return {
        PAGE: page_template("host.html.j2").render(plan=plan),
        "host.js": (FOLDER / "host.js").read_text("utf-8"),
        "host.css": (FOLDER / "host.css").read_text("utf-8"),
        "icon.svg": icon_svg(),
    }

"""The charts' program, from the installed wheel and never from elsewhere: built once, kept for this user."""

from __future__ import annotations

import threading
from importlib import metadata
from pathlib import Path

import platformdirs
from fastapi import APIRouter
from starlette.responses import FileResponse, Response

from midfoot.web.deps import Desk

router = APIRouter()
SNIPPET = "window.vegaEmbed = vegaEmbed;"
_building = threading.Lock()


def bundle(folder: Path) -> Path:
    """Give the file of Vega, Vega-Lite and the embedder as one module, written at the first call (some 4 s)."""
    import vl_convert

    from midfoot.store import write_whole

    path = folder / f"vega-{metadata.version('vl-convert-python')}.js"
    with _building:
        if not path.is_file():
            folder.mkdir(parents=True, exist_ok=True)
            with write_whole(path) as beside:
                beside.write_text(vl_convert.javascript_bundle(SNIPPET), encoding="utf-8")
    return path


@router.get("/vega.js", include_in_schema=False)
def vega(desk: Desk) -> Response:
    """The module; it sets `window.vegaEmbed`."""
    try:
        path = bundle(platformdirs.user_cache_path("midfoot", appauthor=False))
    except OSError:  # a home that cannot be written to: the workspace can
        path = bundle(desk.path / "cache")
    return FileResponse(
        path,
        media_type="text/javascript",
        headers={"cache-control": "private, max-age=86400"},
    )

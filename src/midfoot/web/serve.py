"""Running the desk: a free port, uvicorn, the pairing link."""

from __future__ import annotations

import logging
import socket
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Any

import uvicorn

from midfoot.store.workspace import Workspace
from midfoot.web.app import create_app
from midfoot.web.security import Door
from midfoot.web.sessions import new_pairing

PORT = 8421
LOG_BYTES, LOG_FILES = 2_000_000, 5


def server_of(
    workspace: Workspace, *, host: str = "127.0.0.1", port: int = PORT, door: Door | None = None,
    token: str | None = None, intake_only: bool = False,
) -> uvicorn.Server:  # fmt: skip
    """Give the server, not yet running; its log goes to Python's logging and never to the terminal."""
    app: Any = create_app(workspace, door=door, token=token, intake_only=intake_only)
    server = uvicorn.Server(
        uvicorn.Config(
            app, host=host, port=port, log_config=None, access_log=False, server_header=False, lifespan="on",
            timeout_graceful_shutdown=2, reset_contextvars=True,
        )
    )  # fmt: skip
    app.state.server = server  # streams look at it, so that they end when the server is to
    return server


def log_to(folder: Path) -> None:
    """Write what the server and the pages log into the workspace, in files that do not grow without end."""
    handler = RotatingFileHandler(
        folder / "serve.log", maxBytes=LOG_BYTES, backupCount=LOG_FILES, encoding="utf-8"
    )
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    for name in ("midfoot", "uvicorn"):
        logger = logging.getLogger(name)
        logger.addHandler(handler)
        logger.setLevel(logging.INFO)
        logger.propagate = False


def pairing_link(workspace: Workspace, host: str = "127.0.0.1", port: int = PORT) -> str:
    """Give a link that lets one browser in, once."""
    return f"http://{host}:{port}/pair?token={new_pairing(workspace)}"


def is_free(host: str, port: int) -> bool:
    """Tell whether nobody listens on a port yet."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            return False
    return True

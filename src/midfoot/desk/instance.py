"""How the desk talks to its small public instance: by one address with a link's token in it, which it asks."""

from __future__ import annotations

import hashlib
import http.client
import json
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy.engine import Connection

from midfoot.jobs import enqueue
from midfoot.jobs.kinds import HURRY
from midfoot.store.rows import setting

if TYPE_CHECKING:
    from midfoot.store import Workspace

FROM = "intake_instance"
"""Setting: the address with which the desk fetches, such as https://send.example.org/fetch/TOKEN."""
SAID = "intake_instance_said"
"""Setting: when the instance was asked last, and what kept it from being done, "" when nothing did."""
KIND = "fetch"
"""The kind of job that asks it."""
PATIENCE_S = 60.0
PIECE = 1 << 20
LARGEST_ANSWER = 100_000_000
Tell = Callable[[str, float], None]


class HandingError(ValueError):
    """What keeps something from being handed over: the text says what and what would do."""


def base_of(workspace: Workspace, address: str = "") -> str:
    """Give the address by which the instance is asked, without a slash at its end.

    Raises
    ------
    HandingError
        When none is set.
    """
    with workspace.read() as connection:
        base = (address or str(setting(connection, FROM, "") or "")).rstrip("/")
    if not base.startswith(("http://", "https://")):
        raise HandingError("No intake instance is set; give its fetching address under Settings.")
    return base


def trouble(connection: Connection) -> str:
    """Say what kept the desk from asking its instance the last time, "" when nothing did or none is set."""
    said = setting(connection, SAID, {}) or {}
    return str(said.get("says", "")) if setting(connection, FROM, "") else ""


def ask_soon(connection: Connection, why: str = "") -> str | None:
    """Have the instance asked as soon as a worker is free; gives the job's id, None where none is set."""
    if not setting(connection, FROM, ""):
        return None
    return enqueue(connection, KIND, f"{KIND}:{why}" if why else KIND, {}, HURRY)


def ask(
    address: str,
    body: dict[str, Any] | None = None,
    *,
    method: str | None = None,
    patience_s: float = PATIENCE_S,
) -> dict[str, Any]:
    """Ask the instance; gives its answer.

    Raises
    ------
    HandingError
        When it refuses, does not answer, or gives no usable answer.
    """
    data = json.dumps(body).encode() if body is not None else None
    request = urllib.request.Request(address, data, {"content-type": "application/json"}, method=method)
    with _opened(request, patience_s) as answer:
        try:
            found = json.loads(answer.read(LARGEST_ANSWER))
        except (ValueError, http.client.HTTPException):
            raise HandingError("The intake instance gave no usable answer; check its address.") from None
    return dict(found) if isinstance(found, dict) else {}


def send_file(address: str, path: Path) -> None:
    """Send a file to the instance; raises as `ask`."""
    with path.open("rb") as file:
        head = {"content-type": "application/octet-stream", "content-length": str(path.stat().st_size)}
        with _opened(urllib.request.Request(address, file, head, method="PUT")) as answer:
            answer.read(LARGEST_ANSWER)


def download(address: str, to: Path, sha256: str) -> None:
    """Fetch contents into a file; raises as `ask`, and when they arrived damaged."""
    digest = hashlib.sha256()
    with _opened(urllib.request.Request(address)) as answer, to.open("wb") as file:
        try:
            while piece := answer.read(PIECE):
                digest.update(piece)
                file.write(piece)
        except http.client.HTTPException:
            raise HandingError("The connection to the intake instance broke off; fetch again.") from None
    if digest.hexdigest() != sha256:
        raise HandingError("A clip arrived damaged; fetch again.")


def _opened(request: urllib.request.Request, patience_s: float = PATIENCE_S) -> Any:
    try:
        return urllib.request.urlopen(request, timeout=patience_s)
    except urllib.error.HTTPError as error:
        error.close()
        raise HandingError(
            f"The intake instance refused ({error.code}); check the fetching address, it may have been taken back."
        ) from None
    except (OSError, ValueError, http.client.HTTPException) as error:
        raise HandingError(f"The intake instance does not answer ({_why(error)}); try again later.") from None


def _why(error: Exception) -> str:
    """Say in plain words what the system says of a connection."""
    reason = getattr(error, "reason", error)
    said = str(getattr(reason, "strerror", None) or reason)
    return said[:1].lower() + said[1:]

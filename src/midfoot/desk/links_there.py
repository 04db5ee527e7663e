"""Links for lifters that are made on the small public instance, where they are opened; asked for from the desk."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy.engine import Connection

from midfoot.desk.instance import FROM, HandingError, ask, base_of
from midfoot.store.rows import audit, setting

if TYPE_CHECKING:
    from midfoot.store import Workspace

NO_USE = "The intake instance gave no usable answer; is it the same version as this desk?"


def is_set(connection: Connection) -> bool:
    """Tell whether this desk has an instance."""
    return bool(setting(connection, FROM, ""))


def make(workspace: Workspace, lifter: str, days: int, *, lifter_id: str = "") -> tuple[str, str]:
    """Make a link there; gives its id and its token, which is kept nowhere.

    Whose it is, is noted here: erasing the lifter takes it back.

    Raises
    ------
    HandingError
        When the instance refuses or does not answer.
    """
    said = ask(f"{base_of(workspace)}/links", {"lifter": lifter, "days": days})
    if not isinstance(said.get("id"), str) or not isinstance(said.get("token"), str):
        raise HandingError(NO_USE)
    with workspace.write() as connection:
        audit(connection, "link_made", "link", said["id"], {"there": True, "days": days, "lifter": lifter_id})
    return said["id"], said["token"]


def listed(workspace: Workspace) -> list[dict[str, Any]]:
    """Give the links that were made there, the newest first, as `links.listed`; raises as `make`."""
    rows = ask(f"{base_of(workspace)}/links").get("links", [])
    try:
        return [
            {**row, "sets": [], "there": True, "created_at": datetime.fromisoformat(row["created_at"]),
             "expires_at": datetime.fromisoformat(row["expires_at"])}
            for row in rows
        ]  # fmt: skip
    except (TypeError, KeyError, ValueError):
        raise HandingError(NO_USE) from None


def revoke(workspace: Workspace, link_id: str) -> None:
    """Take a link there back; raises as `make`."""
    ask(f"{base_of(workspace)}/links/{link_id}/revoke", {})
    with workspace.write() as connection:
        audit(connection, "link_revoked", "link", link_id, {"there": True})

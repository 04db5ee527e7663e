"""Going between desk and public instance: sets and answers come here, pages of open sets go there.

Done every few minutes while the desk is open, and at once when an open set was published, closed or taken back.
"""

from __future__ import annotations

import threading
from contextlib import suppress
from typing import TYPE_CHECKING

from attrs import define, field, frozen

from midfoot.desk import erase_there, handing_over
from midfoot.desk.instance import FROM, SAID, HandingError, Tell
from midfoot.desk.posting import InStep, keep_in_step
from midfoot.store import StoreError
from midfoot.store.columns import now
from midfoot.store.rows import set_setting, setting

if TYPE_CHECKING:
    from midfoot.store import Workspace

EVERY_S, FIRST_S, END_S = 300.0, 20.0, 2.0


@frozen(kw_only=True)
class Fetched:
    """What came: sets, and what was done about open sets."""

    sets: int
    open_sets: InStep


def fetch_all(workspace: Workspace, *, tell: Tell, address: str = "") -> Fetched:
    """Fetch what waits on the instance and bring open sets into step; only one program does it at a time.

    Raises
    ------
    HandingError
        When no instance is set, it does not answer, something arrived damaged, or another program fetches.
    StoreError
        When the disk is full.
    """
    with _Alone(workspace):
        try:
            erase_there.settle(workspace, address=address)
            # then what people wait for: a page that was taken back
            step = keep_in_step(workspace, tell=tell, address=address)
            count = handing_over.fetch(workspace, tell=tell, address=address)
        except HandingError as error:
            _note(workspace, str(error))
            raise
        _note(workspace, "")
    return Fetched(sets=count, open_sets=step)


class _Alone:
    """Hold the workspace for fetching; a second one is told to wait."""

    def __init__(self, workspace: Workspace) -> None:
        self._hold = workspace.hold("fetch")

    def __enter__(self) -> None:
        try:
            self._hold.__enter__()
        except StoreError:
            raise HandingError("The intake instance is being asked already; wait a moment.") from None

    def __exit__(self, *error: object) -> None:
        self._hold.__exit__(*error)  # type: ignore[arg-type]


def _note(workspace: Workspace, says: str) -> None:
    with workspace.write() as connection:
        set_setting(connection, SAID, {"at": now().isoformat(), "says": says})


@define(eq=False)
class Fetcher:
    """Asks the instance every few minutes on a thread between `start` and `stop`, where one is set."""

    workspace: Workspace
    _over: threading.Event = field(factory=threading.Event)
    _thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin."""
        self._thread = threading.Thread(target=self._run, daemon=True, name="fetching")
        self._thread.start()

    def stop(self) -> None:
        """End; a clip on its way is fetched again the next time."""
        self._over.set()
        if self._thread is not None:
            self._thread.join(END_S)

    def _run(self) -> None:
        wait = FIRST_S
        while not self._over.wait(wait):
            wait = EVERY_S
            with self.workspace.read() as connection:
                wanted = bool(setting(connection, FROM, ""))
            if wanted:
                with suppress(HandingError, StoreError, OSError):  # noted; the next look tries again
                    fetch_all(self.workspace, tell=lambda _words, _share: None)

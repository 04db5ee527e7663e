"""Once a day: what is due by the rules of keeping goes. Runs beside the desk as long as that is open."""

from __future__ import annotations

import threading
from contextlib import suppress
from datetime import datetime, timedelta

from attrs import define, field

from midfoot.store import Workspace
from midfoot.store.columns import now
from midfoot.store.rows import set_setting, setting

EVERY = timedelta(hours=20)
"""A desk that is opened every morning does it every morning."""
LOOK_S = 900.0
FIRST_S = 90.0
LAST = "cleaned_at"


@define(eq=False)
class Daily:
    """Does the daily work on a thread between `start` and `stop`."""

    workspace: Workspace
    _over: threading.Event = field(factory=threading.Event)
    _thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin; the first look comes after a minute, when the desk has answered."""
        self._thread = threading.Thread(target=self._run, daemon=True, name="daily work")
        self._thread.start()

    def stop(self) -> None:
        """End; what is being erased is erased whole."""
        self._over.set()
        if self._thread is not None:
            self._thread.join()

    def look(self, at: datetime | None = None) -> bool:
        """Do the work when a day has passed since it was done last; true when it was done."""
        at = at or now()
        with self.workspace.read() as connection:
            last = setting(connection, LAST)
        if last and timedelta(0) <= at - datetime.fromisoformat(last) < EVERY:
            return False
        from midfoot.desk.keeping import retire  # brings the pages' whole machinery along
        from midfoot.desk.posted import expire

        retire(self.workspace, at)
        expire(self.workspace, at)
        with self.workspace.write() as connection:
            set_setting(connection, LAST, at.isoformat())
        return True

    def _run(self) -> None:
        wait = FIRST_S
        while not self._over.wait(wait):
            wait = LOOK_S
            with suppress(OSError):  # the next look tries again
                self.look()

"""The watched folder: what is put into it comes into the inbox once it stops growing. Nothing in it is touched.

A text file of the same name goes with its clip, whichever comes first. What was taken or refused is remembered by
name, size and time of change, so a restart takes nothing twice.
"""

from __future__ import annotations

import json
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

from attrs import define, field

from midfoot.desk.intake import IntakeError, give_text, take_clip
from midfoot.store import StoreError, Workspace, write_whole
from midfoot.store.rows import set_setting, setting

EVERY_S = 2.0
STILL_S = 4.0
"""A file that has not changed for so long is whole: copying tools write more often."""
AGAIN_S = 60.0
"""After a full disk."""
UNFINISHED = (".part", ".partial", ".crdownload", ".download", ".tmp", ".filepart")
TEXTS = (".txt", ".md")
SEEN = "watched.json"
WATCH, REFUSED = "watch", "watch_refused"
KEPT_REFUSALS = 20


@define(eq=False)
class Watcher:
    """Looks into the folder now and then, on a thread between `start` and `stop`.

    Attributes
    ----------
    workspace : Workspace
    folder : Path
        Its own `inbox/` by default.
    """

    workspace: Workspace
    folder: Path = field()
    _waiting: dict[str, tuple[int, int, float]] = field(factory=dict)
    _seen: dict[str, dict[str, Any]] = field(factory=dict)
    _over: threading.Event = field(factory=threading.Event)
    _thread: threading.Thread | None = None
    _not_before_s: float = 0.0

    @folder.default
    def _own(self) -> Path:
        return self.workspace.inbox

    def __attrs_post_init__(self) -> None:
        with suppress(OSError, ValueError):
            self._seen = json.loads((self.workspace.log / SEEN).read_text("utf-8"))

    def start(self) -> None:
        """Watch from now on."""
        self._thread = threading.Thread(target=self._run, daemon=True, name="watched folder")
        self._thread.start()

    def stop(self) -> None:
        """End watching; a file that is being taken in is taken in whole."""
        self._over.set()
        if self._thread is not None:
            self._thread.join()

    def look(self, at_s: float | None = None) -> list[str]:
        """Look once and take in what is still; gives the ids of the sets that came of it.

        Parameters
        ----------
        at_s : this moment on a clock that only goes forward.
        """
        at_s = time.monotonic() if at_s is None else at_s
        with self.workspace.read() as connection:
            if not setting(connection, WATCH, True):
                return []
        if at_s < self._not_before_s:
            return []
        found: list[str] = []
        still = [f for f in self._files() if self._is_still(f, at_s)]
        for file in sorted(still, key=lambda f: (f.suffix.lower() in TEXTS, f)):
            done = self._text(file) if file.suffix.lower() in TEXTS else self._clip(file, at_s)
            if done:
                found.append(done)
        return found

    def _files(self) -> list[Path]:
        with suppress(OSError):
            return [
                f
                for f in sorted(self.folder.rglob("*"))
                if f.is_file() and not f.name.startswith(".") and f.suffix.lower() not in UNFINISHED
            ]
        return []

    def _is_still(self, file: Path, at_s: float) -> bool:
        """Tell whether a file has stopped growing and was not dealt with before."""
        name = self._name(file)
        try:
            now = file.stat()
        except OSError:
            return False
        state = (now.st_size, now.st_mtime_ns)
        seen = self._seen.get(name)
        if seen is not None and (seen["size"], seen["changed"]) == state:
            return False
        before = self._waiting.get(name)
        if before is None or before[:2] != state:
            self._waiting[name] = (*state, at_s)
            return False
        return at_s - before[2] >= STILL_S

    def _clip(self, file: Path, at_s: float) -> str:
        try:
            taken = take_clip(self.workspace, file, file.name, source="watch")
        except IntakeError as error:
            self._refused(str(error))
            self._remember(file, "")
            return ""
        except OSError as error:
            said = (
                str(error) if isinstance(error, StoreError) else f"{file.name} cannot be read: {error.strerror}."
            )
            self._refused(said)
            self._not_before_s = at_s + AGAIN_S
            return ""
        self._remember(file, taken.set_id)
        return "" if taken.already else taken.set_id

    def _text(self, file: Path) -> str:
        """Give a text to the set of the clip of the same name, once that is here."""
        stem = self._name(file.with_suffix(""))
        set_id = next((s["set"] for n, s in self._seen.items() if s["set"] and n.rsplit(".", 1)[0] == stem), "")
        if not set_id:
            return ""
        try:
            give_text(self.workspace, [set_id], file.read_text("utf-8", "replace"))
        except IntakeError as error:
            self._refused(f"{file.name}: {error}")
        except OSError:
            return ""
        self._remember(file, "")
        return str(set_id)

    def _remember(self, file: Path, set_id: str) -> None:
        size, changed, _ = self._waiting.pop(self._name(file))
        self._seen[self._name(file)] = {"size": size, "changed": changed, "set": set_id}
        with suppress(OSError), write_whole(self.workspace.log / SEEN) as beside:
            beside.write_text(json.dumps(self._seen, indent=0), "utf-8")

    def _refused(self, said: str) -> None:
        with suppress(OSError), self.workspace.write() as connection:
            before = [s for s in setting(connection, REFUSED, []) or [] if s != said]
            set_setting(connection, REFUSED, [*before, said][-KEPT_REFUSALS:])

    def _name(self, file: Path) -> str:
        return file.relative_to(self.folder).as_posix()

    def _run(self) -> None:
        while not self._over.wait(EVERY_S):
            with suppress(OSError):
                self.look()

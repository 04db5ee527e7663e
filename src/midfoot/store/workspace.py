"""A workspace: one folder with the database, the contents, what was measured, reviewed and published."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from attrs import define, field
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import OperationalError

from midfoot.store.blobs import Blobs
from midfoot.store.engine import begin_write, checkpoint, engine_for, plainly
from midfoot.store.files import StoreError
from midfoot.store.locks import Turn, hold_file
from midfoot.store.upgrade import bring_up

DATABASE = "midfoot.sqlite3"
CHECKPOINT_AGAIN_S = 2.0
FOLDERS = ("blobs", "measured", "reviews", "published", "inbox", "library", "log")


def default_path() -> Path:
    """Give where the workspace lies when nobody says: MIDFOOT_WORKSPACE, else in the user's data folder."""
    import platformdirs

    said = os.environ.get("MIDFOOT_WORKSPACE", "")
    return Path(said) if said else Path(platformdirs.user_data_dir("midfoot", appauthor=False)) / "workspace"


@define(eq=False)
class Workspace:
    """An open workspace. Made by `Workspace.open` or `Workspace.create`; may be used by many threads.

    Attributes
    ----------
    path : Path
        The folder, absolute.
    engine : Engine
    blobs : Blobs
    """

    path: Path
    engine: Engine
    blobs: Blobs
    _turn: Turn = field(init=False)
    _next_checkpoint: float = field(default=0.0, init=False)

    @_turn.default
    def _own_turn(self) -> Turn:
        return Turn(self.path / "write.lock")

    @classmethod
    def create(cls, path: Path | str | None = None, *, url: str | None = None) -> Workspace:
        """Open a workspace, made first where there is none.

        Raises
        ------
        StoreError
            When the folder holds something else, cannot be written to, or is of a newer midfoot.
        """
        folder = Path(path or default_path()).absolute()
        if not (folder / DATABASE).exists() and url is None and folder.is_dir():
            strange = sorted(p.name for p in folder.iterdir() if p.name not in (*FOLDERS, "models"))
            if strange:
                raise StoreError(
                    f"{folder} holds other things ({strange[0]}) and no workspace; give an empty or a new folder."
                )
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)  # what lifters sent is nobody else's to read
            for name in FOLDERS:
                (folder / name).mkdir(exist_ok=True)
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            raise StoreError(f"{folder} cannot be made a workspace ({why}); give another folder.") from error
        return cls._connect(folder, url)

    @classmethod
    def open(cls, path: Path | str | None = None, *, url: str | None = None) -> Workspace:
        """Open a workspace that is there; one of an older midfoot is copied aside and brought up to date.

        Raises
        ------
        StoreError
            When there is none, it is damaged, or it is of a newer midfoot: one sentence with the remedy.
        """
        folder = Path(path or default_path()).absolute()
        if url is None and not (folder / DATABASE).is_file():
            raise StoreError(f"{folder} is no workspace; midfoot serve --workspace {folder} makes one.")
        return cls._connect(folder, url)

    @classmethod
    def _connect(cls, folder: Path, url: str | None) -> Workspace:
        file = folder / DATABASE
        engine = engine_for(url or file)
        try:
            bring_up(engine, None if url else file)
        except BaseException:
            engine.dispose()
            raise
        return cls(folder, engine, Blobs(folder / "blobs"))

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Give a connection that sees one moment of the database; keep it short."""
        with self._plain_errors(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Give a connection for one unit of writing: all of it is kept when the block ends well, nothing if not.

        One writer at a time; others wait. Keep it short: no decoding, no hashing, no network inside.
        """
        with self._plain_errors(), self._turn:
            connection = begin_write(self.engine)
            try:
                yield connection
                connection.commit()
            finally:
                connection.close()
            self._checkpoint()

    def _checkpoint(self) -> None:
        """Bring the log into the file, in the writer's turn; when readers hold that up, try again in a while."""
        if self.engine.dialect.name == "sqlite" and time.monotonic() >= self._next_checkpoint:
            done = checkpoint(self.engine, self.path / DATABASE)
            self._next_checkpoint = 0.0 if done else time.monotonic() + CHECKPOINT_AGAIN_S

    def write_anew(self) -> None:
        """Write the database anew, so that nothing of what was deleted stays in its free pages or its log.

        Raises
        ------
        StoreError
            When another program holds the database.
        """
        if self.engine.dialect.name != "sqlite":
            return
        with self._plain_errors(), self._turn, self.engine.connect() as connection:
            raw: Any = connection.connection.driver_connection
            try:
                raw.execute("VACUUM")
                raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            except sqlite3.OperationalError as error:
                raise StoreError(f"{self.path / DATABASE} is held by another program ({error})") from error

    def measured(self, clip_id: str, input_key: str) -> Path:
        """Give the folder for a clip's measurement with these inputs."""
        return self.path / "measured" / clip_id / input_key

    def review(self, set_id: str) -> Path:
        """Give the folder for what is made of a set's review."""
        return self.path / "reviews" / set_id

    @property
    def published(self) -> Path:
        """The folder of the static pages that others open."""
        return self.path / "published"

    @property
    def inbox(self) -> Path:
        """The folder that is watched for new clips."""
        return self.path / "inbox"

    @property
    def library(self) -> Path:
        """The folder with the coach's own wording, vocabulary and thresholds."""
        return self.path / "library"

    @property
    def log(self) -> Path:
        """The folder of log files."""
        return self.path / "log"

    def relative(self, path: Path) -> str:
        """Give a path as it is kept in a row: beneath the workspace, with forward slashes."""
        return path.absolute().relative_to(self.path).as_posix()

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()
        self._turn.close()

    def __enter__(self) -> Workspace:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def _plain_errors(self) -> Iterator[None]:
        try:
            yield
        except OperationalError as error:
            said = plainly(error, str(self.path / DATABASE))
            if said is None:
                raise
            raise said from error

    @contextmanager
    def hold(self, name: str = "serve") -> Iterator[None]:
        """Hold a workspace for one program: a second one that asks for the same name is refused.

        The lock goes with the process that holds it, however that ends.

        Raises
        ------
        StoreError
            When another process holds it: one sentence that names it.
        """
        with hold_file(self.path / f"{name}.lock", f"{self.path} is served already"):
            yield

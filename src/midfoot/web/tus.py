"""Resumable uploads by the open tus protocol 1.0.0 (core, creation, termination, expiration): a folder of parts.

Nothing of what the client says of a file is believed: name and type are words. A part that is finished is handed
over and forgotten; one that is not touched for two days goes.
"""

from __future__ import annotations

import base64
import binascii
import json
import re
import secrets
import time
from collections.abc import Callable
from email.utils import formatdate
from pathlib import Path
from typing import Any

from anyio import CapacityLimiter, to_thread
from attrs import asdict, frozen
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response

VERSION = "1.0.0"
EXTENSIONS = "creation,termination,expiration"
PIECE = 1 << 20
KEEP_S = 2 * 86_400.0
NAME = re.compile(r"^[0-9a-f]{32}$")
METADATA_KEY = re.compile(r"^[\x21-\x2b\x2d-\x7e]+$")


class Refusal(Exception):
    """An answer of the protocol that is no success: status, and a sentence with what would do."""

    def __init__(self, status: int, says: str) -> None:
        super().__init__(says)
        self.status, self.says = status, says


@frozen(kw_only=True)
class Upload:
    """A file on its way: of what it is a part, how large it will be, what the client said of it."""

    id: str
    owner: str
    size: int
    metadata: dict[str, str]


class Uploads:
    """The parts in a folder.

    Parameters
    ----------
    folder : where they lie; made when there is none.
    largest : bytes that one file may have.
    """

    def __init__(self, folder: Path, largest: int) -> None:
        self._folder, self._largest = folder, largest
        folder.mkdir(parents=True, exist_ok=True)
        self._busy: set[str] = set()
        self._threads = CapacityLimiter(8)

    def create(self, owner: str, size: int, metadata: dict[str, str]) -> Upload:
        """Begin a file of so many bytes."""
        if size > self._largest:
            raise Refusal(413, f"The file is larger than {self._largest / 1e9:g} GB; cut it to the set first.")
        self.sweep()
        upload = Upload(id=secrets.token_hex(16), owner=owner, size=size, metadata=metadata)
        self.part(upload.id).touch()
        self._note(upload.id).write_text(json.dumps(asdict(upload)), "utf-8")
        return upload

    def find(self, owner: str, upload_id: str) -> Upload:
        """Give an upload that is this owner's."""
        if NAME.match(upload_id):
            try:
                found = Upload(**json.loads(self._note(upload_id).read_text("utf-8")))
            except (OSError, ValueError, TypeError):
                found = None
            if found is not None and found.owner == owner:
                return found
        raise Refusal(404, "This upload is not here any more; send the file again.")

    def offset(self, upload: Upload) -> int:
        """How many bytes are here."""
        try:
            return self.part(upload.id).stat().st_size
        except FileNotFoundError:
            raise Refusal(404, "This upload is not here any more; send the file again.") from None

    def part(self, upload_id: str) -> Path:
        """Where the bytes lie."""
        return self._folder / f"{upload_id}.part"

    def _note(self, upload_id: str) -> Path:
        return self._folder / f"{upload_id}.json"

    def forget(self, upload_id: str) -> None:
        """Take an upload away."""
        self._note(upload_id).unlink(missing_ok=True)
        self.part(upload_id).unlink(missing_ok=True)

    def sweep(self) -> None:
        """Take away what nobody went on with for two days."""
        limit = time.time() - KEEP_S
        for note in self._folder.glob("*.json"):
            part = self.part(note.stem)
            try:
                last = max(note.stat().st_mtime, part.stat().st_mtime if part.exists() else 0.0)
            except OSError:
                continue
            if last < limit and note.stem not in self._busy:
                self.forget(note.stem)

    async def append(self, upload: Upload, offset: int, request: Request) -> int:
        """Write what the request brings behind what is here; gives how many bytes are here then.

        What arrived before a broken connection stays: the client asks how far it came and goes on from there.
        """
        if upload.id in self._busy:
            raise Refusal(423, "This file is being sent already.")
        if self.offset(upload) != offset:
            raise Refusal(409, "The file was not continued where it ended.")
        self._busy.add(upload.id)
        try:
            with self.part(upload.id).open("ab", buffering=0) as file:
                held = bytearray()
                try:
                    async for piece in request.stream():
                        offset += len(piece)
                        if offset > upload.size:
                            raise Refusal(413, "More was sent than was said; send the file again.")
                        held += piece
                        if len(held) >= PIECE:
                            await self._run(file.write, bytes(held))
                            held.clear()
                except ClientDisconnect:
                    pass
                if held:
                    await self._run(file.write, bytes(held))
        except OSError:
            raise Refusal(507, "There is no room for this file at the moment; try again later.") from None
        finally:
            self._busy.discard(upload.id)
        return self.offset(upload)

    async def _run(self, work: Callable[..., Any], *given: Any) -> Any:
        return await to_thread.run_sync(work, *given, limiter=self._threads)


def metadata_of(header: str) -> dict[str, str]:
    """Read the Upload-Metadata header: keys with values in Base64, commas between."""
    found: dict[str, str] = {}
    for pair in filter(None, (p.strip() for p in header.split(","))):
        key, _, value = pair.partition(" ")
        if not METADATA_KEY.match(key) or key in found:
            raise Refusal(400, "What was said of the file cannot be read.")
        try:
            found[key] = base64.b64decode(value.strip(), validate=True).decode("utf-8", "replace")[:300]
        except (binascii.Error, ValueError):
            raise Refusal(400, "What was said of the file cannot be read.") from None
    return found


def number(request: Request, name: str) -> int:
    """Read a header that must be a number of bytes."""
    text = request.headers.get(name, "")
    if not text.isdecimal() or len(text) > 18:
        raise Refusal(400, f"{name} is missing or no number of bytes.")
    return int(text)


def speaks(request: Request) -> None:
    """Refuse a client that speaks another version."""
    if request.headers.get("tus-resumable") != VERSION:
        raise Refusal(412, "This upload speaks another version of the protocol; update the program that sends.")


def answer(status: int, **headers: str) -> Response:
    """Give an answer of the protocol without a body."""
    named = {k.replace("_", "-"): v for k, v in headers.items()}
    return Response(status_code=status, headers={"tus-resumable": VERSION, "cache-control": "no-store", **named})


def refused(refusal: Refusal) -> Response:
    """Give the answer to what could not be done."""
    says, _, remedy = refusal.says.partition("; ")
    headers = {"tus-resumable": VERSION}
    if refusal.status == 412:
        headers["tus-version"] = VERSION
    body = {"error": {"says": f"{says.rstrip('.')}.", "remedy": remedy[:1].upper() + remedy[1:]}}
    return JSONResponse(body, refusal.status, headers)


def expires(upload_part: Path) -> str:
    """Give when a part goes if nobody goes on with it, as an HTTP date."""
    return formatdate(upload_part.stat().st_mtime + KEEP_S, usegmt=True)

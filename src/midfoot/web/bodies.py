"""A raw body on its way into a file: written as it comes, so that memory does not grow with it."""

from __future__ import annotations

from pathlib import Path

from anyio import to_thread
from fastapi import Request

from midfoot.web.problems import Problem

PIECE = 1 << 20


async def write_body(request: Request, part: Path, most: int, too_large: Problem) -> int:
    """Write a request's body to a file and give how many bytes it had.

    Raises
    ------
    Problem
        `too_large`, as soon as there are more than `most`.
    starlette.requests.ClientDisconnect
        When it broke off.
    """
    held, count = bytearray(), 0
    with part.open("wb", buffering=0) as file:
        async for piece in request.stream():
            held += piece
            count += len(piece)
            if count > most:
                raise too_large
            if len(held) >= PIECE:
                await to_thread.run_sync(file.write, bytes(held))
                held.clear()
        if held:
            await to_thread.run_sync(file.write, bytes(held))
    return count

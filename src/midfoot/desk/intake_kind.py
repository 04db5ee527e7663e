"""Whether a file can be a clip at all, by its first bytes: what plainly is something else is named at once.

What passes here is decoded later in a limited process; this only spares people a wait.
"""

from __future__ import annotations

from pathlib import Path

HEADS = (
    (b"\xff\xd8\xff", "a picture"), (b"\x89PNG", "a picture"), (b"GIF8", "a picture"), (b"%PDF", "a PDF"),
    (b"PK\x03\x04", "an archive"), (b"Rar!", "an archive"), (b"7z\xbc\xaf", "an archive"),
    (b"\x1f\x8b", "an archive"), (b"ID3", "only sound"), (b"fLaC", "only sound"),
)  # fmt: skip
STILLS = (b"heic", b"heix", b"mif1", b"msf1", b"avif")
"""Brands of ISO base media files that are still pictures (ISO/IEC 23008-12)."""
SOUND = (b"M4A ", b"M4B ")
HEAD_BYTES = 4096
LARGEST_BYTES = 20_000_000_000
"""Two hours of a phone's best video; what is larger is no set."""


def refusal(path: Path, name: str) -> str:
    """Give the sentence with which a file is refused, "" when it may be a video."""
    if not path.is_file():
        return f"{name} is no file; give one video file."
    if path.stat().st_size == 0:
        return f"{name} is empty; send it again, the transfer broke off."
    if path.stat().st_size > LARGEST_BYTES:
        return f"{name} is larger than {LARGEST_BYTES / 1e9:g} GB; cut it to the set first."
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if not head.strip(b"\0"):
        return f"{name} holds nothing but zeros where a video begins; its transfer broke off, send it again."
    what = next((words for sign, words in HEADS if head.startswith(sign)), "")
    if head[4:8] == b"ftyp":
        brand = head[8:12]
        what = "a still picture" if brand in STILLS else "only sound" if brand in SOUND else ""
    elif not what and _is_text(head):
        what = "a text"
    if not what:
        return ""
    extra = "; paste its words beside the clips" if what == "a text" else ""
    return f"{name} is {what} and no video{extra or '; send the clip itself'}."


def _is_text(head: bytes) -> bool:
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 4:
            return False
        text = head[: error.start].decode("utf-8")
    return all(c.isprintable() or c in "\n\r\t" for c in text)

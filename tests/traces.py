"""What files that leave say besides what they show, byte by byte by the formats' own rules.

Read without the libraries that wrote them: boxes of an mp4 (ISO/IEC 14496-12), segments of a JPEG (ITU-T T.81),
chunks of a PNG (W3C), keys of a PDF (ISO 32000-2) and of JSON. The names are from memory.
"""

from __future__ import annotations

import json
import re
import struct
import zlib
from collections.abc import Iterator
from pathlib import Path

NESTED = set(b"moov trak mdia minf stbl edts dinf udta meta ilst moof traf".split())
PLAIN_BOXES = set(
    b"ftyp moov mvhd trak tkhd edts elst mdia mdhd hdlr minf vmhd smhd dinf dref stbl stsd stts ctts stss stsc "
    b"stsz stco co64 sgpd sbgp mdat free udta meta ilst".split()
)
"""The last three may be there with nothing in them."""
PLAIN_CHUNKS = set(b"IHDR PLTE tRNS IDAT IEND sRGB gAMA pHYs".split())
WRITERS = (b"Lavf", b"Lavc", b"x264", b"Exif", b"GPS", b"photoshop", b"xpacket")
KEYS = re.compile(
    r"location|gps|latitude|device|camera_model|hash|md5|file_?name|(^|_)(sha\d*|path|lifter_id|clip_id|set_id)$",
    re.I,
)
HEX = re.compile(r"(?<![0-9A-Za-z_-])[0-9a-f]{32,}(?![0-9A-Za-z_-])")
NOT_PLAIN = re.compile(r"/(?:home|root|tmp|Users|var)/|[A-Z]:\\\\|file://")


def boxes(data: bytes, path: str = "") -> Iterator[tuple[str, bytes, bytes]]:
    """Give every box of an mp4: where it lies, its name, what it holds."""
    at = 0
    while at + 8 <= len(data):
        size, name = struct.unpack(">I4s", data[at : at + 8])
        head = 8
        if size == 1:
            size, head = struct.unpack(">Q", data[at + 8 : at + 16])[0], 16
        size = size or len(data) - at
        body = data[at + head : at + size]
        yield path, name, body
        if name in NESTED:
            yield from boxes(body[4:] if name == b"meta" else body, f"{path}/{name.decode('latin-1')}")
        at += max(size, 8)


def segments(data: bytes) -> list[int]:
    """Give the markers of a JPEG up to its picture data."""
    out, at = [], 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        out.append(data[at + 1])
        if data[at + 1] == 0xDA:
            break
        at += 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]
    return out


def chunks(data: bytes) -> list[bytes]:
    """Give the names of a PNG's chunks."""
    out, at = [], 8
    while at + 8 <= len(data):
        size, name = struct.unpack(">I4s", data[at : at + 8])
        out.append(name)
        at += 12 + size
    return out


def complaints(file: Path) -> list[str]:
    """Say what a file that leaves tells besides what it shows; empty where it tells nothing."""
    data, out = file.read_bytes(), []
    kind = file.suffix
    if kind == ".mp4":
        for where, name, body in boxes(data):
            if name not in PLAIN_BOXES:
                out.append(f"box {where}/{name!r}")
            if name in (b"mvhd", b"tkhd", b"mdhd") and any(body[4 : 4 + (16 if body[:1] == b"\x01" else 8)]):
                out.append(f"a date in {name!r}")
            if name == b"hdlr" and body[24:].strip(b"\0") not in (b"VideoHandler", b"SoundHandler", b""):
                out.append(f"handler {body[24:]!r}")
    elif kind in (".jpg", ".jpeg"):
        out += [f"segment {m:02x}" for m in segments(data) if m == 0xFE or 0xE1 <= m <= 0xEF]
    elif kind == ".png":
        out += [f"chunk {c!r}" for c in chunks(data) if c not in PLAIN_CHUNKS]
    elif kind == ".pdf":
        whole = data + b"".join(_streams(data))
        for key in (b"/Author", b"/CreationDate", b"/ModDate", b"CreateDate", b"ModifyDate", b"dc:creator"):
            if re.search(re.escape(key) + rb"\b\s*[(<>]\s*[^)\s]", whole):
                out.append(f"key {key!r}")
    else:
        text = data.decode("utf-8")
        out += [f"hash {h}" for h in HEX.findall(text)] + [f"path {p}" for p in NOT_PLAIN.findall(text)]
        if re.search(r"<meta[^>]+name=\"(author|generator|date)\"", text):
            out.append("a name of who made it")
        if kind == ".json":
            out += [f"key {k}" for k in _keys(json.loads(text)) if KEYS.search(k)]
    if kind in (".mp4", ".jpg", ".jpeg", ".png"):
        out += [f"{w!r}" for w in WRITERS if w in data]
    return [f"{file.name}: {o}" for o in out]


def _streams(data: bytes) -> Iterator[bytes]:
    for packed in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.S):
        try:
            yield zlib.decompress(packed)
        except zlib.error:
            yield packed


def _keys(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield str(key)
            yield from _keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _keys(inner)


def in_folder(folder: Path) -> list[str]:
    """Say what the files of a folder tell; names of files count too."""
    files = [f for f in sorted(folder.rglob("*")) if f.is_file()]
    assert files, f"{folder} is empty"
    return [c for f in files for c in complaints(f)] + [f"name {f.name}" for f in files if HEX.search(f.stem)]

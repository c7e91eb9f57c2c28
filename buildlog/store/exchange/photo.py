"""Photos without the place where they were taken: a copy, with the original's digest kept.

Of a JPEG the segments that hold descriptive data are left out (EXIF with its position and
the camera's serial number, XMP, IPTC, comments), but for the orientation, which decides
how the picture stands. The picture itself is not touched: its bytes stay as they are.
"""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Iterator
from dataclasses import dataclass

from buildlog.errors import InvalidInput

_START, _SCAN, _END, _COMMENT = 0xD8, 0xDA, 0xD9, 0xFE
_KEPT = {0xE0, 0xEE}  # JFIF and the colour transform, which a viewer needs
_PROFILE = b"ICC_PROFILE\0"
_NOTE = b"buildlog original sha256 "


@dataclass(frozen=True)
class Stripped:
    """A photo's copy, what was taken out of it, and the digest of the original."""

    data: bytes
    removed: tuple[str, ...]
    original_sha256: str


def is_photo(data: bytes) -> bool:
    """Whether these are the bytes of a JPEG."""
    return data.startswith(b"\xff\xd8\xff")


def strip(data: bytes) -> Stripped:
    """A JPEG without descriptive data. InvalidInput for another kind of file, or a torn one.

    >>> strip(b"GIF89a")
    Traceback (most recent call last):
    ...
    buildlog.errors.InvalidInput: this is no JPEG, so what it tells beside the picture ...
    """
    if not is_photo(data):
        raise InvalidInput(
            "this is no JPEG, so what it tells beside the picture cannot be taken out",
            hint="save it as a JPEG, or leave it outside the ledger",
        )
    original = hashlib.sha256(data).hexdigest()
    segments, behind = _segments(data)
    rest = _picture(behind)
    words = [_word(m, body) for m, body in segments if not _stays(m, body)]
    words += [] if len(rest) == len(behind) else ["what hangs on behind the picture"]
    removed = tuple(dict.fromkeys(words))
    if not removed:
        return Stripped(data, (), original)
    kept = [(marker, body) for marker, body in segments if _stays(marker, body)]
    turned = next((o for m, body in segments if m == 0xE1 and (o := _orientation(body))), 0)
    notes = [(0xE1, _turned(turned))] if turned > 1 else []
    notes.append((_COMMENT, _NOTE + original.encode()))
    place = 1 if kept and kept[0][0] == 0xE0 else 0  # JFIF comes first
    body = b"".join(_segment(*one) for one in (*kept[:place], *notes, *kept[place:]))
    return Stripped(b"\xff\xd8" + body + rest, removed, original)


def original_of(data: bytes) -> str | None:
    """The digest of the original that a stripped copy carries; None if it is no such copy."""
    if not is_photo(data):
        return None
    for marker, body in _segments(data)[0]:
        if marker == _COMMENT and body.startswith(_NOTE) and len(body) == len(_NOTE) + 64:
            return body[len(_NOTE) :].decode("ascii", "replace")
    return None


def _segments(data: bytes) -> tuple[list[tuple[int, bytes]], bytes]:
    """The segments before the picture, and the picture with all that hangs on behind."""
    found: list[tuple[int, bytes]] = []
    at = 2
    while True:
        while data[at : at + 2] == b"\xff\xff":
            at += 1
        if len(data) < at + 4 or data[at] != 0xFF:
            raise InvalidInput("this JPEG is torn", hint="take the file from the camera again")
        marker = data[at + 1]
        if marker == _SCAN:
            return found, data[at:]
        size = struct.unpack(">H", data[at + 2 : at + 4])[0]
        if size < 2 or len(data) < at + 2 + size:
            raise InvalidInput("this JPEG is torn", hint="take the file from the camera again")
        found.append((marker, data[at + 4 : at + 2 + size]))
        at += 2 + size


def _picture(rest: bytes) -> bytes:
    """Cut behind the end of the picture: phones hang further files with data of their own on."""
    end = rest.rfind(b"\xff\xd9")
    first = _end_of_scan(rest)
    return rest[: (first if first > 0 else end) + 2] if end > 0 else rest


def _end_of_scan(rest: bytes) -> int:
    """Where the end marker stands; tables between scans are passed over by their length."""
    at = 0
    while (at := rest.find(b"\xff", at)) >= 0 and at + 3 < len(rest):
        marker = rest[at + 1]
        if marker == _END:
            return at
        if marker == 0xFF:
            at += 1
        elif marker == 0 or 0xD0 <= marker <= 0xD7:  # a stuffed byte, a restart
            at += 2
        else:
            at += 2 + max(struct.unpack(">H", rest[at + 2 : at + 4])[0], 2)
    return len(rest) - 2 if rest.endswith(b"\xff\xd9") else -1


def _stays(marker: int, body: bytes) -> bool:
    if marker == _COMMENT:
        return body.startswith(_NOTE)
    return not 0xE0 <= marker <= 0xEF or marker in _KEPT or body.startswith(_PROFILE) or (
        body.startswith(b"Exif\0\0") and body == _turned(_orientation(body))
    )  # fmt: skip


def _word(marker: int, body: bytes) -> str:
    if marker == _COMMENT:
        return "comment"
    if body.startswith(b"Exif\0\0"):
        return "position and camera data" if _has_position(body[6:]) else "camera data"
    if body.startswith(b"http://ns.adobe.com/"):
        return "XMP"
    return "Photoshop data" if body.startswith(b"Photoshop") else f"APP{marker - 0xE0} data"


def _has_position(tiff: bytes) -> bool:
    return any(tag == 0x8825 for tag, _ in _first_directory(tiff))


def _orientation(body: bytes) -> int:
    if not body.startswith(b"Exif\0\0"):
        return 0
    return next((v for tag, v in _first_directory(body[6:]) if tag == 0x0112 and v < 9), 0)


def _first_directory(tiff: bytes) -> Iterator[tuple[int, int]]:
    """Tags of the first directory of a TIFF with their values as short numbers."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(tiff[:4])
    if order is None or len(tiff) < 8:
        return
    at = struct.unpack(order + "I", tiff[4:8])[0]
    if at + 2 > len(tiff):
        return
    count = struct.unpack(order + "H", tiff[at : at + 2])[0]
    for place in range(at + 2, min(at + 2 + 12 * count, len(tiff) - 11), 12):
        yield struct.unpack(order + "HxxxxxxH", tiff[place : place + 10])


def _turned(orientation: int) -> bytes:
    """EXIF that says how the picture stands and nothing else."""
    entry = struct.pack(">HHIHH", 0x0112, 3, 1, orientation, 0)
    return b"Exif\0\0MM\0*" + struct.pack(">IH", 8, 1) + entry + bytes(4)


def turned_alone(exif: bytes) -> bytes:
    """EXIF, as PNG and WebP hold it, that says how the picture stands and nothing else; empty
    where it stands as it is."""
    told = _orientation(exif if exif.startswith(b"Exif\0\0") else b"Exif\0\0" + exif)
    return _turned(told)[6:] if told > 1 else b""


def _segment(marker: int, body: bytes) -> bytes:
    return bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body

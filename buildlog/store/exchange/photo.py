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
from buildlog.store.exchange.picture_parts import END, JPEG, Segment, scans, segments, torn_jpeg
from buildlog.store.exchange.told_places import tells_place

_COMMENT = 0xFE
_DRAWS = frozenset(range(0xC0, 0xE0)) - {0xC8, *range(0xD0, 0xDA)}  # frames, scans, their tables
_HEADS = {0xE0: (b"JFIF\0", 14), 0xEE: (b"Adobe", 12)}  # without a small copy; how colors stand
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
    return data.startswith(JPEG)


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
    held, behind = segments(data)
    rest, words = _picture(behind)
    stays = _without_told_profile([(m, body) for m, body in held if _stays(m, body)])
    words = [_word(*one) for one in held if one not in stays] + words
    removed = tuple(dict.fromkeys(words))
    if not removed:
        return Stripped(data, (), original)
    kept = [(m, body) for m, body in stays if m not in (0xE1, _COMMENT)]
    turned = next((o for m, body in held if m == 0xE1 and (o := _orientation(body))), 0)
    notes = [(0xE1, _turned(turned))] if turned > 1 else []
    notes.append((_COMMENT, _NOTE + original.encode()))
    place = 1 if kept and kept[0][0] == 0xE0 else 0  # JFIF comes first
    body = b"".join(_segment(*one) for one in (*kept[:place], *notes, *kept[place:]))
    return Stripped(b"\xff\xd8" + body + rest, removed, original)


def original_of(data: bytes) -> str | None:
    """The digest of the original that a stripped copy carries; None if it is no such copy."""
    if not is_photo(data):
        return None
    for marker, body in segments(data)[0]:
        if marker == _COMMENT and body.startswith(_NOTE) and len(body) == len(_NOTE) + 64:
            return body[len(_NOTE) :].decode("ascii", "replace")
    return None


def _without_told_profile(held: list[Segment]) -> list[Segment]:
    """Without the color profile, where that tells a place."""
    profile = [body for m, body in held if m == 0xE2]
    if not tells_place(b"".join(body[len(_PROFILE) + 2 :] for body in profile)):
        return held
    return [(m, body) for m, body in held if m != 0xE2]


def _picture(rest: bytes) -> tuple[bytes, list[str]]:
    """The picture to its end, and what else stood between its scans or hung on behind: phones
    hang further files with data of their own on."""
    kept, words, begun = b"", list[str](), 0
    for marker, start, end in scans(rest):
        if marker == END:
            words += ["what hangs on behind the picture"] * (end < len(rest))
            return kept + rest[begun:end], words
        body = rest[start + 4 : end]
        if not _stays(marker, body):
            kept, begun = kept + rest[begun:start], end
            words.append(_word(marker, body))
    raise torn_jpeg()


def _stays(marker: int, body: bytes) -> bool:
    """What a viewer needs of the picture, and what this module itself wrote."""
    if marker == _COMMENT:
        return body.startswith(_NOTE) and len(body) == len(_NOTE) + 64
    if marker in _HEADS:
        start, size = _HEADS[marker]
        return body.startswith(start) and len(body) == size
    if body.startswith(b"Exif\0\0"):
        return marker == 0xE1 and body == _turned(_orientation(body))
    return marker in _DRAWS or (marker == 0xE2 and body.startswith(_PROFILE))


def _word(marker: int, body: bytes) -> str:
    if marker == _COMMENT:
        return "comment"
    if body.startswith(b"Exif\0\0"):
        return "position and camera data" if _has_position(body[6:]) else "camera data"
    if body.startswith(b"http://ns.adobe.com/"):
        return "XMP"
    if body.startswith(b"Photoshop"):
        return "Photoshop data"
    if body.startswith(_PROFILE):
        return "color profile"
    return f"APP{marker - 0xE0} data" if 0xE0 <= marker <= 0xEF else f"part {marker:02X}"


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

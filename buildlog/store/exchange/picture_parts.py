"""Pictures taken apart into the pieces that their standards name: the segments of a JPEG (ITU-T
T.81), the chunks of a PNG (W3C) and of a WebP (RFC 9649). InvalidInput for a torn one.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from buildlog.errors import InvalidInput

PNG = b"\x89PNG\r\n\x1a\n"
JPEG = b"\xff\xd8\xff"
END, SCAN = 0xD9, 0xDA
Segment = tuple[int, bytes]  # a marker with what follows it


def segments(data: bytes) -> tuple[list[Segment], bytes]:
    """The segments of a JPEG before the picture, and the picture with all that hangs on behind."""
    found: list[Segment] = []
    at = 2
    while True:
        while data[at : at + 2] == b"\xff\xff":
            at += 1
        if len(data) < at + 4 or data[at] != 0xFF:
            raise torn_jpeg()
        marker = data[at + 1]
        if marker == SCAN:
            return found, data[at:]
        size = struct.unpack(">H", data[at + 2 : at + 4])[0]
        if size < 2 or len(data) < at + 2 + size:
            raise torn_jpeg()
        found.append((marker, data[at + 4 : at + 2 + size]))
        at += 2 + size


def scans(rest: bytes) -> Iterator[tuple[int, int, int]]:
    """Where the segments between the scans of a JPEG begin and end, with their markers; the last
    is the end of the picture."""
    at = 0
    while (at := rest.find(b"\xff", at)) >= 0 and at + 1 < len(rest):
        marker = rest[at + 1]
        if marker == END:
            yield END, at, at + 2
            return
        if marker == 0xFF:
            at += 1
        elif marker == 0 or 0xD0 <= marker <= 0xD7:  # a stuffed byte, a restart
            at += 2
        else:
            end = at + 2 + max(int.from_bytes(rest[at + 2 : at + 4], "big"), 2)
            yield marker, at, end
            at = end
    raise torn_jpeg()


def torn_jpeg() -> InvalidInput:
    """What is said of a JPEG that has no end, or a piece beyond it."""
    return InvalidInput("this JPEG is torn", hint="take the file from the camera again")


def png_chunks(data: bytes) -> tuple[list[tuple[bytes, bytes]], bytes]:
    """The chunks of a PNG to its end, and what hangs on behind."""
    found: list[tuple[bytes, bytes]] = []
    at = len(PNG)
    while at + 12 <= len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        if at + 12 + size > len(data):
            break
        found.append((kind, data[at + 8 : at + 8 + size]))
        at += 12 + size
        if kind == b"IEND":
            return found, data[at:]
    raise InvalidInput("this PNG is torn", hint="take the file from where it came again")


def webp_chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """The chunks of a WebP, or of one frame of a moving one."""
    found, at = [], 0
    while at + 8 <= len(data):
        kind, size = struct.unpack_from("<4sI", data, at)
        if at + 8 + size > len(data):
            break
        found.append((kind, data[at + 8 : at + 8 + size]))
        at += 8 + size + size % 2
    if not found or at < len(data):
        raise InvalidInput("this WebP is torn", hint="take the file from where it came again")
    return found

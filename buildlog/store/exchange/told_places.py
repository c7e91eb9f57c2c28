"""Whether a file tells where something was: a position in any of the forms that cameras, phones
and editors write, wherever in the file it stands, packed or not.

Forms: the position directory of EXIF (CIPA DC-008, tag 0x8825; in JPEG, TIFF, PNG, WebP, HEIF, and
the pictures inside of others) and the tags of GeoTIFF; exif:GPS properties of XMP, whole or in its
extended form; the place names of IPTC-IIM (datasets 2:90, 2:92, 2:95, 2:101); a point as ISO 6709
writes it (QuickTime's location, comments); the location box of 3GPP; sentences of a satellite
receiver (NMEA 0183) in films, points of a track (GPX); the measure dictionaries of a PDF's map
(ISO 32000, /GPTS).
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator

from buildlog.errors import InvalidInput

_POSITION = frozenset({0x8825, 33922, 34264, 34735})  # EXIF's directory; GeoTIFF's tie points, keys
_TIFF = re.compile(rb"II\*\0|MM\0\*")
_MARKS = re.compile(
    rb"GPSL(?:at|ong)itude|GPSDest|GPSMapDatum"  # XMP
    rb"|\x1c\x02[\x5a\x5c\x5f\x65]\x00[\x01-\x7f]"  # IPTC
    rb"|[+-]\d{2}(?:\d{2}(?:\d{2})?)?\.\d{2,}[+-]\d{3}(?:\d{2}(?:\d{2})?)?\.\d{2,}"  # ISO 6709
    rb"|\xa9xyz|loci\0\0\0\0|location\.ISO6709"
    rb"|\$G[PNLA](?:GGA|RMC|GLL),|freeGPS"
    rb"|/GPTS\b|lat=\"-?\d+\.\d+\"\s+lon="
)
_WIDE = re.compile(rb"G\0P\0S\0L\0[ao]\0|\0G\0P\0S\0L\0[ao]")  # XMP in UTF-16
_STREAM = re.compile(rb"stream\r?\n")
_HEX_PROFILE = b"Raw profile type"  # a packet in hexadecimal digits, as image editors write it
_DIRECTORIES = 8  # of one TIFF: pictures and their small copies
_PROFILES, _PROFILE = 64, 4 << 20  # packets in one file that are looked into, bytes of each
_MOST = 64 << 20  # bytes that one packed part may unpack to
_PNG = b"\x89PNG\r\n\x1a\n"


def tells_place(data: bytes) -> bool:
    """Whether a position stands anywhere in a file. InvalidInput where it cannot be looked into."""
    return any(_told(part) for part in _parts(data))


def _told(data: bytes) -> bool:
    if _MARKS.search(data) or _WIDE.search(data):
        return True
    return any(_in_directory(data, found.start()) for found in _TIFF.finditer(data))


def _in_directory(data: bytes, start: int) -> bool:
    """Whether a directory of a TIFF that begins here leads to a position."""
    order = "<" if data[start : start + 2] == b"II" else ">"
    at, seen = start + 4, set[int]()
    for _ in range(_DIRECTORIES):
        if at + 4 > len(data):
            return False
        there = start + struct.unpack_from(order + "I", data, at)[0]
        if there == start or there in seen or there + 2 > len(data):
            return False
        seen.add(there)
        end = there + 2 + 12 * struct.unpack_from(order + "H", data, there)[0]
        places = range(there + 2, min(end, len(data) - 11), 12)
        if any(struct.unpack_from(order + "H", data, one)[0] in _POSITION for one in places):
            return True
        at = end
    return False


def _parts(data: bytes) -> Iterator[bytes]:
    """The file, and what is packed inside of it."""
    yield data
    if data.startswith(_PNG):
        yield from _of_png(data)
    elif data[:1024].lstrip().startswith(b"%PDF"):
        yield from _of_pdf(data)
    yield from _from_hex(data)


def _of_png(data: bytes) -> Iterator[bytes]:
    """Texts and profiles of a PNG, unpacked."""
    for kind, body in chunks(data)[0]:
        if kind in (b"zTXt", b"iTXt", b"iCCP"):
            key, _, rest = body.partition(b"\0")
            packed = rest.split(b"\0", 3)[-1] if kind == b"iTXt" and rest[:1] == b"\1" else rest[1:]
            text = key + b"\0\n" + _unpacked(packed)
            yield text
            yield from _from_hex(text)


def _of_pdf(data: bytes) -> Iterator[bytes]:
    """The streams of a PDF, unpacked; pictures inside of it stand as they are."""
    if re.search(rb"/Encrypt\s+\d+\s+\d+\s+R", data):
        raise InvalidInput(
            "this PDF is locked, so nobody can say what it tells",
            hint="print it to a PDF without a password",
        )
    left, whole = 8 * _MOST, memoryview(data)
    for found in _STREAM.finditer(data):
        part = _unpacked(whole[found.end() :])
        left -= len(part)
        if left < 0:
            raise InvalidInput("this PDF unpacks to too much", hint="print it to a smaller PDF")
        yield part


def _unpacked(data: bytes | memoryview) -> bytes:
    try:
        return zlib.decompressobj().decompress(data, _MOST)
    except zlib.error:
        return b""


def _from_hex(data: bytes) -> Iterator[bytes]:
    """Packets in hexadecimal digits: behind the profile's name and its length, a line each."""
    at = data.find(_HEX_PROFILE)
    for _ in range(_PROFILES):
        if at < 0:
            return
        lines = data[at : at + _PROFILE].split(b"\n", 3)
        found = re.match(rb"[0-9a-fA-F\s]*", lines[-1])
        digits = re.sub(rb"\s", b"", found[0] if found else b"")
        yield bytes.fromhex(digits[: len(digits) // 2 * 2].decode("ascii"))
        at = data.find(_HEX_PROFILE, at + 1)


def chunks(data: bytes) -> tuple[list[tuple[bytes, bytes]], bytes]:
    """The chunks of a PNG to its end, and what hangs on behind. InvalidInput for a torn one."""
    found: list[tuple[bytes, bytes]] = []
    at = len(_PNG)
    while at + 12 <= len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        if at + 12 + size > len(data):
            break
        found.append((kind, data[at + 8 : at + 8 + size]))
        at += 12 + size
        if kind == b"IEND":
            return found, data[at:]
    raise InvalidInput("this PNG is torn", hint="take the file from where it came again")

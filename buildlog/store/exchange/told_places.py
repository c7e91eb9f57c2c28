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

import base64
import itertools
import re
import struct
import zlib
from collections.abc import Iterator

from buildlog.errors import InvalidInput
from buildlog.store.exchange.picture_parts import JPEG, PNG, png_chunks, segments

_POSITION = frozenset({0x8825, 33922, 34264, 34735})  # EXIF's directory; GeoTIFF's tie points, keys
_TIFF = re.compile(rb"II\*\0|MM\0\*")
_MARKS = re.compile(
    rb"GPSL(?:at|ong)itude|GPSDest|GPSMapDatum"  # XMP
    rb"|\x1c\x02[\x5a\x5c\x5f\x65]\x00[\x01-\x7f]"  # IPTC
    rb"|[+-]\d{2}(?:\d{2}(?:\d{2})?)?\.\d{2,}[+-]\d{3}(?:\d{2}(?:\d{2})?)?\.\d{2,}"  # ISO 6709
    rb"|\xa9xyz|loci\0\0\0\0|location\.ISO6709"
    rb"|\$G[PNLA](?:GGA|RMC|GLL),|freeGPS"  # receivers
    rb"|GPS5l\x14|GPS9\?"  # points in a track of a film (from memory)
    rb"|/GPTS\b|lat=\"-?\d+\.\d+\"\s+lon="
)
_WIDE = re.compile(rb"G\0P\0S\0L\0[ao]\0|\0G\0P\0S\0L\0[ao]")  # XMP in UTF-16
_STREAM = re.compile(rb"(?<!end)stream\r?\n")
_HEX_PROFILE = b"Raw profile type"  # a packet in hexadecimal digits, as image editors write it
_BASE64 = re.compile(rb";base64,([A-Za-z0-9+/=\s]+)")
_ZLIB = re.compile(rb"x[\x01\x5e\x9c\xda]")
_OLD = re.compile(rb"/(?:LZW|RunLengthDecode|RL\b|Crypt\b)")  # filters of ISO 32000, 7.4
_LETTERS_85 = re.compile(rb"/(?:ASCII85Decode|A85)\b")
_LETTERS_16 = re.compile(rb"/(?:ASCIIHexDecode|AHx)\b")
_HEAD = 1024  # bytes before a stream of a PDF in which it says how it is packed
_DEEP = 2  # a file in a file in a file
_ITEMS = 10_000  # places of one file that may begin something packed
_DIRECTORIES = 8  # of one TIFF: pictures and their small copies
_PROFILES, _PROFILE = 64, 4 << 20  # packets in one file that are looked into, bytes of each
_MOST = 64 << 20  # bytes that one packed part may unpack to
_EXTENDED = b"http://ns.adobe.com/xmp/extension/\0"
_SPLIT = (_EXTENDED, b"ICC_PROFILE\0", b"Photoshop 3.0\0", b"Exif\0\0")  # over several segments
_BEFORE = {_EXTENDED: 4, b"ICC_PROFILE\0": 2}  # the part's place


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


def _parts(data: bytes, deep: int = 0) -> Iterator[bytes]:
    """The file, and what is packed inside of it."""
    yield data
    inner: Iterator[bytes] = iter(())
    if data.startswith(PNG):
        yield from _of_png(data)
    elif data.startswith(JPEG):
        yield from _of_jpeg(data)
    elif data[4:8] == b"ftyp":
        yield from _of_boxes(data)
    elif data[:1024].lstrip().startswith(b"%PDF"):
        inner = _of_pdf(data)
    elif data.startswith(b"\x1f\x8b"):
        inner = iter([_unpacked(data, zlib.MAX_WBITS + 16)])
    for part in itertools.chain(inner, _from_base64(data)):
        yield from _parts(part, deep + 1) if deep < _DEEP else (part,)
    yield from _from_hex(data)


def _of_jpeg(data: bytes) -> Iterator[bytes]:
    """What is split over several segments, put together: extended XMP by its places."""
    whole: dict[tuple[int, bytes], list[bytes]] = {}
    try:
        held = segments(data)[0]
    except InvalidInput:  # a torn one is looked at as it stands
        return
    for marker, body in held:
        head = next((one for one in _SPLIT if body.startswith(one)), b"")
        rest = body[len(head) :]
        if head == _EXTENDED:  # whose digest, whole length, place
            head, rest = head + rest[:32], rest[36:]
        whole.setdefault((marker, head), []).append(rest)
    for (_, head), parts in whole.items():
        ordered = sorted(parts, key=lambda part: part[:4]) if _EXTENDED in head else parts
        yield b"".join(part[_BEFORE.get(head[: len(_EXTENDED)], 0) :] for part in ordered)


def _of_png(data: bytes) -> Iterator[bytes]:
    """Texts and profiles of a PNG, unpacked."""
    for kind, body in png_chunks(data)[0]:
        if kind in (b"zTXt", b"iTXt", b"iCCP"):
            key, _, rest = body.partition(b"\0")
            packed = rest.split(b"\0", 3)[-1] if kind == b"iTXt" and rest[:1] == b"\1" else rest[1:]
            text = key + b"\0\n" + _unpacked(packed)
            yield text
            yield from _from_hex(text)


def _of_boxes(data: bytes) -> Iterator[bytes]:
    """Packed items of a HEIF or AVIF, whose place only its whole catalog says."""
    for found in itertools.islice(_ZLIB.finditer(data), _ITEMS):
        if part := _unpacked(memoryview(data)[found.start() :], most=_PROFILE):
            yield part


def _of_pdf(data: bytes) -> Iterator[bytes]:
    """The streams of a PDF, unpacked; pictures inside of it stand as they are."""
    if re.search(rb"/Encrypt\s+\d+\s+\d+\s+R", data):
        raise InvalidInput(
            "this PDF is locked, so nobody can say what it tells",
            hint="print it to a PDF without a password",
        )
    left, whole = 8 * _MOST, memoryview(data)
    for found in _STREAM.finditer(data):
        head = data[max(found.start() - _HEAD, 0) : found.start()].rpartition(b"obj")[-1]
        if _OLD.search(head):
            raise InvalidInput(
                "this PDF is packed in an old way, so nobody can say what it tells",
                hint="print it to a new PDF",
            )
        text = _from_letters(whole[found.end() :], head)
        part = _unpacked(text or whole[found.end() :])
        left -= len(text) + len(part)
        if left < 0:
            raise InvalidInput("this PDF unpacks to too much", hint="print it to a smaller PDF")
        yield text
        yield part


def _from_letters(part: memoryview, head: bytes) -> bytes:
    """A stream of a PDF that is written in letters, as bytes; empty where it is not."""
    eighty_five = _LETTERS_85.search(head)
    if not eighty_five and not _LETTERS_16.search(head):
        return b""
    text = bytes(part[:_MOST]).partition(b"~>" if eighty_five else b">")[0]
    text = re.sub(rb"\s", b"", text)
    try:
        return base64.a85decode(text) if eighty_five else bytes.fromhex(text.decode("ascii"))
    except ValueError:
        raise InvalidInput("this PDF is torn", hint="print it to a new PDF") from None


def _unpacked(data: bytes | memoryview, bits: int = zlib.MAX_WBITS, most: int = _MOST) -> bytes:
    try:
        return zlib.decompressobj(bits).decompress(data, most)
    except zlib.error:
        return b""


def _from_base64(data: bytes) -> Iterator[bytes]:
    """What a drawing or a page holds in its text (data:, RFC 2397)."""
    for found in itertools.islice(_BASE64.finditer(data), _PROFILES):
        text = re.sub(rb"\s", b"", found[1])
        yield base64.b64decode(text[: len(text) // 4 * 4])


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

"""Thirteen places a position hides in, in files of eight formats, made here byte by byte.

Places and formats are those of published standards: EXIF (CIPA DC-008), XMP (ISO 16684-1) and its
extended form, IPTC-IIM, the segments of JPEG (ITU-T T.81), the chunks of PNG (W3C) and WebP
(RFC 9649), the boxes of ISO 14496-12 and QuickTime, items of ISO 23008-12, ISO 6709, NMEA 0183,
PDF (ISO 32000).
"""

from __future__ import annotations

import base64
import gzip
import io
import itertools
import struct
import zipfile
import zlib
from collections.abc import Callable

import numpy as np
from PIL import Image, TiffImagePlugin

from tests.store.test_photo import POSITION

POINT = b"+52.5012+013.4012/"
CANARY = b"CANARY-7731"
XMP = (b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description exif:GPSLatitude="52,30.1N" '
       b'exif:GPSLongitude="13,24.1E" note="' + CANARY + b'"/></x:xmpmeta>')  # fmt: skip
XMP_ELEMENT = b"<exif:GPSLatitude>52,30.1N</exif:GPSLatitude>" + CANARY
IPTC = b"Photoshop 3.0\0" + b"8BIM\x04\x04\0\0" + struct.pack(">I", 18)
IPTC += b"\x1c\x02\x5a\x00\x0c" + CANARY + b"x" + b"\0"
NMEA = b"$GPRMC,120000,A,5230.07,N,01324.08,E" + CANARY
TRACK = b"\0\0\0\x2a\xa9xyz\0\x12\x15\xc7" + POINT + CANARY
PROFILE = b"desc " + POINT + CANARY
Make = Callable[[], bytes]


def pixels() -> np.ndarray:
    return np.arange(48 * 32 * 3, dtype=np.uint32).reshape(32, 48, 3).astype(np.uint8)


def exif(**more: bytes) -> Image.Exif:
    found = Image.Exif()
    found[0x010F] = CANARY.decode()
    found[0x0112] = 6
    found.get_ifd(0x8825).update(POSITION)
    return found


def saved(kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels()).save(out, kind, **options)
    return out.getvalue()


def raw_exif() -> bytes:
    return exif().tobytes().removeprefix(b"Exif\0\0")


# JPEG: segments put behind its start


def segment(marker: int, *bodies: bytes) -> Make:
    def make() -> bytes:
        plain = saved("JPEG")
        more = (bytes((0xFF, marker)) + struct.pack(">H", len(one) + 2) + one for one in bodies)
        return plain[:2] + b"".join(more) + plain[2:]

    return make


def behind(kind: str, more: bytes) -> Make:
    return lambda: saved(kind) + more


def jpeg_with_small_copy() -> bytes:
    """The second picture of a multi-picture file, behind the first."""
    return saved("JPEG") + saved("JPEG", exif=exif())


def between_scans() -> bytes:
    """A comment before the last scan of a picture that is sharpened step by step."""
    plain = saved("JPEG", progressive=True)
    at = plain.rindex(b"\xff\xda")
    body = b"shot at " + POINT + CANARY
    return plain[:at] + b"\xff\xfe" + struct.pack(">H", len(body) + 2) + body + plain[at:]


APP1_XMP = b"http://ns.adobe.com/xap/1.0/\0"


def extended(*parts: bytes) -> tuple[bytes, ...]:
    """Parts of an extended packet, the last one first, as the standard lets them stand."""
    ends = list(itertools.accumulate(map(len, parts)))
    head = b"http://ns.adobe.com/xmp/extension/\0" + b"0" * 32
    return tuple(
        head + struct.pack(">II", ends[-1], end - len(part)) + part
        for part, end in reversed(list(zip(parts, ends, strict=True)))
    )


# PNG: chunks put behind its first; WebP: behind its last


def chunk(kind: bytes, body: bytes) -> Make:
    def make() -> bytes:
        plain, whole = saved("PNG"), struct.pack(">I", len(body)) + kind + body
        return plain[:33] + whole + struct.pack(">I", zlib.crc32(kind + body)) + plain[33:]

    return make


HEX = b"\nexif\n    1234\n" + raw_exif().hex().encode() + b"\n"


def piece(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def riff(kind: bytes, body: bytes) -> Make:
    def make() -> bytes:
        whole = saved("WEBP", lossless=True)[8:] + piece(kind, body)
        return b"RIFF" + struct.pack("<I", len(whole)) + whole

    return make


def in_a_frame() -> bytes:
    """A moving WebP whose last frame holds more than its picture."""
    frames = [Image.fromarray(np.roll(pixels(), n, 0)) for n in range(3)]
    out = io.BytesIO()
    frames[0].save(out, "WEBP", save_all=True, append_images=frames[1:], lossless=True)
    plain = out.getvalue()
    at = plain.rindex(b"ANMF")
    size = struct.unpack_from("<I", plain, at + 4)[0]
    whole = plain[8:at] + piece(b"ANMF", plain[at + 8 : at + 8 + size] + piece(b"GPSx", NMEA))
    return b"RIFF" + struct.pack("<I", len(whole)) + whole


# TIFF, and the boxes of HEIF, AVIF and films


def tiff(tag: int, value: bytes) -> Make:
    def make() -> bytes:
        more = TiffImagePlugin.ImageFileDirectory_v2()
        more.tagtype[tag] = 7
        more[tag] = value
        return saved("TIFF", tiffinfo=more)

    return make


def tiff_with_small_copy() -> bytes:
    """A second directory, as a small copy has one, with a position of its own."""
    plain = b"II*\0" + struct.pack("<IHI", 8, 0, 14)
    return plain + struct.pack("<HHHIII", 1, 0x8825, 4, 1, 32, 0) + CANARY


def box(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body) + 8) + kind + body


def heif(body: bytes, more: bytes = b"") -> Make:
    return lambda: box(b"ftyp", b"heic\0\0\0\0mif1heic") + box(b"meta", more) + box(b"mdat", body)


def film(brand: bytes, body: bytes, more: bytes = b"") -> Make:
    return lambda: (
        box(b"ftyp", brand + b"\0\0\0\0") + box(b"moov", body) + box(b"mdat", b"\0" * 40) + more
    )


def cover() -> bytes:
    """The small picture of a film."""
    return box(b"covr", box(b"data", bytes(8) + saved("JPEG", exif=exif())))


def pdf(stream: bytes, more: bytes = b"", how: bytes = b"/FlateDecode", end: bytes = b"") -> Make:
    def make() -> bytes:
        body = zlib.compress(stream) if b"Flate" in how else stream
        if b"ASCII85" in how:
            body = base64.a85encode(body) + b"~>"
        elif b"ASCIIHex" in how:
            body = body.hex().encode() + b">"
        filters = b"/Filter" + how if how else b""
        return (b"%PDF-1.7\n1 0 obj\n<</Type/Catalog/Metadata 2 0 R" + more
                + b">>\nendobj\n2 0 obj\n<<" + filters + f"/Length {len(body)}>>\n".encode()
                + b"stream\n" + body + b"\nendstream\nendobj\ntrailer\n<</Root 1 0 R>>\n%%EOF\n"
                + end)  # fmt: skip

    return make


def package() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("word/media/image1.jpeg", saved("JPEG", exif=exif()))
    return out.getvalue()


def drawing() -> bytes:
    """A drawing with a photo written into it."""
    held = base64.b64encode(saved("JPEG", exif=exif()))
    return b'<svg xmlns="x"><image href="data:image/jpeg;base64,' + held + b'"/></svg>'


def a_film(brand: bytes, place: bytes) -> dict[str, Make]:
    """All places of a film; only its own location differs between the two kinds."""
    return {
        "EXIF directory": film(brand, b"Exif\0\0" + raw_exif()),
        "XMP attribute": film(brand, box(b"uuid", bytes(16) + XMP)),
        "XMP element": film(brand, box(b"uuid", bytes(16) + XMP_ELEMENT)),
        "comment": film(brand, box(b"udta", box(b"\xa9cmt", POINT + CANARY))),
        "color profile": film(brand, box(b"colr", b"prof" + PROFILE)),
        "private part": film(brand, NMEA),
        "small copy or second picture": lambda: film(brand, cover())(),
        "behind the end": film(brand, b"", TRACK),
        "location of a film": film(brand, place),
    }


FORMATS: dict[str, dict[str, Make]] = {
    "JPEG": {
        "EXIF directory": lambda: saved("JPEG", exif=exif()),
        "XMP attribute": segment(0xE1, APP1_XMP + XMP),
        "XMP element": segment(0xE1, APP1_XMP + XMP_ELEMENT),
        "XMP split over parts": segment(0xE1, APP1_XMP, *extended(XMP[:60], XMP[60:70], XMP[70:])),
        "IPTC": segment(0xED, IPTC),
        "comment": segment(0xFE, b"shot at " + POINT + CANARY),
        "color profile": segment(0xE2, b"ICC_PROFILE\0\1\1" + PROFILE),
        "private part": segment(0xEB, NMEA),
        "small copy or second picture": jpeg_with_small_copy,
        "behind the end": behind("JPEG", TRACK),
    },
    "PNG": {
        "EXIF directory": lambda: saved("PNG", exif=exif()),
        "XMP attribute": chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + XMP),
        "XMP element": chunk(
            b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + zlib.compress(XMP_ELEMENT)),
        "comment": chunk(b"tEXt", b"Comment\0" + POINT + CANARY),
        "packed text": chunk(b"zTXt", b"Comment\0\0" + zlib.compress(POINT + CANARY)),
        "profile in hexadecimal": chunk(
            b"zTXt", b"Raw profile type exif\0\0" + zlib.compress(HEX)),
        "color profile": chunk(b"iCCP", b"a profile\0\0" + zlib.compress(PROFILE)),
        "private part": chunk(b"gpSx", NMEA),
        "behind the end": behind("PNG", TRACK),
    },
    "WebP": {
        "EXIF directory": lambda: saved("WEBP", lossless=True, exif=exif()),
        "XMP attribute": lambda: saved("WEBP", lossless=True, xmp=XMP),
        "XMP element": lambda: saved("WEBP", lossless=True, xmp=XMP_ELEMENT),
        "color profile": lambda: saved("WEBP", lossless=True, icc_profile=PROFILE),
        "private part": riff(b"GPSx", NMEA),
        "small copy or second picture": in_a_frame,
        "behind the end": behind("WEBP", TRACK),
    },
    "TIFF": {
        "EXIF directory": lambda: raw_exif() + CANARY,
        "XMP attribute": tiff(700, XMP),
        "XMP element": tiff(700, XMP_ELEMENT),
        "IPTC": tiff(33723, IPTC),
        "comment": tiff(270, POINT + CANARY),
        "color profile": tiff(34675, PROFILE),
        "private part": tiff(33922, CANARY),
        "small copy or second picture": tiff_with_small_copy,
        "behind the end": behind("TIFF", TRACK),
    },
    "AVIF/HEIC": {
        "EXIF directory": heif(b"\0\0\0\6Exif\0\0" + raw_exif()),
        "XMP attribute": heif(XMP),
        "XMP element": heif(XMP_ELEMENT),
        "comment": heif(b"", box(b"udes", bytes(4) + b"en\0name\0" + POINT + CANARY + b"\0\0")),
        "packed text": heif(bytes(200) + zlib.compress(XMP) + bytes(200)),
        "color profile": heif(b"", box(b"colr", b"prof" + PROFILE)),
        "private part": heif(NMEA),
        "small copy or second picture": lambda: heif(saved("JPEG", exif=exif()))(),
        "behind the end": lambda: heif(b"")() + TRACK,
    },
    "MP4": a_film(b"isom", box(b"loci", bytes(20) + CANARY)),
    "MOV": a_film(b"qt  ", TRACK),
    "PDF": {
        "XMP attribute": pdf(XMP),
        "XMP element": pdf(XMP_ELEMENT, how=b""),
        "comment": pdf(b"BT (" + POINT + CANARY + b") Tj ET", how=b"/ASCIIHexDecode"),
        "packed text": pdf(POINT + CANARY, how=b"[/ASCII85Decode/FlateDecode]"),
        "color profile": pdf(PROFILE),
        "private part": pdf(b"q", b"/VP[<</Measure<</Subtype/GEO/GPTS[52.5 13.4]>>>>]"),
        "small copy or second picture": lambda: pdf(saved("JPEG", exif=exif()), how=b"")(),
        "behind the end": pdf(b"q", end=TRACK),
    },
}  # fmt: skip
PLACES = tuple(dict.fromkeys(place for held in FORMATS.values() for place in held))
# What a format has no place for, by its standard.
CANNOT = {
    "XMP split over parts": "the 64 kB of a JPEG's segment alone make it",
    "IPTC": "it stands in segments of JPEG and tags of TIFF; in PNG it is a profile in hexadecimal",
    "packed text": "texts of this format are not packed",
    "profile in hexadecimal": "editors write it into the texts of PNG alone",
    "location of a film": "it is no film",
    "comment": "RFC 9649 has no text but EXIF and XMP",
    "small copy or second picture": "a PNG holds one, in its EXIF directory",
    "EXIF directory": "a PDF has none but those of the pictures in it",
}
# Beyond the table: more of one format, and what carries pictures of the eight.
MORE: dict[tuple[str, str], Make] = {
    ("JPEG", "between the scans"): between_scans,
    ("JPEG", "a part that no standard uses"): segment(0xF7, NMEA),
    ("JPEG", "beside the head"): segment(0xE0, b"JFXX\0\x10" + NMEA),
    ("JPEG", "color profile in two parts"): segment(
        0xE2, b"ICC_PROFILE\0\1\2" + PROFILE[:12], b"ICC_PROFILE\0\2\2" + PROFILE[12:]),
    ("MP4", "points of a camera"): film(b"isom", b"GPS5l\x14\0\x01" + bytes(20) + CANARY),
    ("PDF", "packed picture"): lambda: pdf(FORMATS["PNG"]["profile in hexadecimal"]())(),
    ("PDF", "a packing of old"): pdf(b"q", how=b"/LZWDecode"),
    ("PDF", "locked"): pdf(b"q", b"/Encrypt 3 0 R"),
    ("drawing", "small copy or second picture"): drawing,
    ("packed file", "private part"): lambda: gzip.compress(NMEA),
    ("package", "small copy or second picture"): package,
}  # fmt: skip
HIDING = {
    **{(kind, place): make for kind, held in FORMATS.items() for place, make in held.items()},
    **MORE,
}

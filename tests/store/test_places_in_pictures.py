"""Thirteen places a position hides in, over eight formats: cleaned with equal pixels, or refused.

Places and formats are those of published standards: EXIF (CIPA DC-008), XMP (ISO 16684-1) and its
extended form, IPTC-IIM, the segments of JPEG (ITU-T T.81), the chunks of PNG (W3C) and WebP
(RFC 9649), the boxes of ISO 14496-12 and QuickTime, ISO 6709, NMEA 0183, PDF (ISO 32000).
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable

import numpy as np
import pytest

from buildlog.errors import InvalidInput
from buildlog.store.exchange.pictures import cleaned
from buildlog.store.exchange.told_places import tells_place
from tests.store.test_photo import POSITION

Image = pytest.importorskip("PIL.Image", reason="Pillow comes with matplotlib")
POINT = b"+52.5012+013.4012/"
CANARY = b"CANARY-7731"
XMP = (b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description exif:GPSLatitude="52,30.1N" '
       b'exif:GPSLongitude="13,24.1E" note="' + CANARY + b'"/></x:xmpmeta>')  # fmt: skip
XMP_ELEMENT = b"<exif:GPSLatitude>52,30.1N</exif:GPSLatitude>" + CANARY
IPTC = b"Photoshop 3.0\0" + b"8BIM\x04\x04\0\0" + struct.pack(">I", 18)
IPTC += b"\x1c\x02\x5a\x00\x0c" + CANARY + b"x" + b"\0"
NMEA = b"$GPRMC,120000,A,5230.07,N,01324.08,E" + CANARY
TRACK = b"\0\0\0\x2a\xa9xyz\0\x12\x15\xc7" + POINT + CANARY


def pixels() -> np.ndarray:
    return np.arange(48 * 32 * 3, dtype=np.uint32).reshape(32, 48, 3).astype(np.uint8)


def exif(**more: bytes) -> object:
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
    whole: bytes = exif().tobytes()  # type: ignore[attr-defined]
    return whole.removeprefix(b"Exif\0\0")


# JPEG: segments put behind its start


def segment(marker: int, body: bytes) -> Callable[[], bytes]:
    def make() -> bytes:
        plain = saved("JPEG")
        return (
            plain[:2] + bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body + plain[2:]
        )

    return make


def behind(kind: str, more: bytes) -> Callable[[], bytes]:
    return lambda: saved(kind) + more


def jpeg_with_small_copy() -> bytes:
    """The second picture of a multi-picture file, behind the first."""
    return saved("JPEG") + saved("JPEG", exif=exif())


# PNG: chunks put behind its first


def chunk(kind: bytes, body: bytes) -> Callable[[], bytes]:
    def make() -> bytes:
        plain, whole = saved("PNG"), struct.pack(">I", len(body)) + kind + body
        return plain[:33] + whole + struct.pack(">I", zlib.crc32(kind + body)) + plain[33:]

    return make


HEX = b"\nexif\n    1234\n" + raw_exif().hex().encode() + b"\n"
PROFILE = b"a profile\0\0" + zlib.compress(b"desc " + POINT + CANARY)


def riff(kind: bytes, body: bytes) -> Callable[[], bytes]:
    def make() -> bytes:
        plain = saved("WEBP", lossless=True)
        more = kind + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
        whole = plain[8:] + more
        return b"RIFF" + struct.pack("<I", len(whole)) + whole

    return make


def tiff(tag: int, value: bytes) -> Callable[[], bytes]:
    from PIL import TiffImagePlugin

    def make() -> bytes:
        more = TiffImagePlugin.ImageFileDirectory_v2()
        more.tagtype[tag] = 7
        more[tag] = value
        return saved("TIFF", tiffinfo=more)

    return make


def box(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body) + 8) + kind + body


def heif(body: bytes) -> Callable[[], bytes]:
    return lambda: (
        box(b"ftyp", b"heic\0\0\0\0mif1heic") + box(b"meta", b"\0\0\0\0") + box(b"mdat", body)
    )


def film(brand: bytes, body: bytes) -> Callable[[], bytes]:
    return lambda: box(b"ftyp", brand + b"\0\0\0\0") + box(b"moov", body) + box(b"mdat", b"\0" * 40)


def pdf(stream: bytes, more: bytes = b"", packed: bool = True) -> Callable[[], bytes]:
    body = zlib.compress(stream) if packed else stream
    return lambda: (
        b"%PDF-1.7\n1 0 obj\n<</Type/Catalog/Metadata 2 0 R" + more + b">>\nendobj\n2 0 obj\n<<"
        + (b"/Filter/FlateDecode" if packed else b"") + f"/Length {len(body)}>>\nstream\n".encode()
        + body + b"\nendstream\nendobj\ntrailer\n<</Root 1 0 R>>\n%%EOF\n"
    )  # fmt: skip


def package() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("word/media/image1.jpeg", saved("JPEG", exif=exif()))
    return out.getvalue()


EXTENDED = b"http://ns.adobe.com/xmp/extension/\0" + b"0" * 32 + b"\0\0\1\0\0\0\0\0" + XMP
APP1_XMP = b"http://ns.adobe.com/xap/1.0/\0"
HIDING: dict[tuple[str, str], Callable[[], bytes]] = {
    ("JPEG", "EXIF directory"): lambda: saved("JPEG", exif=exif()),
    ("JPEG", "XMP attribute"): segment(0xE1, APP1_XMP + XMP),
    ("JPEG", "XMP element"): segment(0xE1, APP1_XMP + XMP_ELEMENT),
    ("JPEG", "extended XMP"): segment(0xE1, EXTENDED),
    ("JPEG", "IPTC"): segment(0xED, IPTC),
    ("JPEG", "comment"): segment(0xFE, b"shot at " + POINT + CANARY),
    ("JPEG", "private part"): segment(0xEB, NMEA),
    ("JPEG", "small copy or second picture"): jpeg_with_small_copy,
    ("JPEG", "behind the end"): behind("JPEG", TRACK),
    ("PNG", "EXIF directory"): lambda: saved("PNG", exif=exif()),
    ("PNG", "XMP attribute"): chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + XMP),
    ("PNG", "XMP element"): chunk(
        b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + zlib.compress(XMP_ELEMENT)),
    ("PNG", "comment"): chunk(b"tEXt", b"Comment\0" + POINT + CANARY),
    ("PNG", "packed text"): chunk(b"zTXt", b"Comment\0\0" + zlib.compress(POINT + CANARY)),
    ("PNG", "profile in hexadecimal"): chunk(
        b"zTXt", b"Raw profile type exif\0\0" + zlib.compress(HEX)),
    ("PNG", "colour profile"): chunk(b"iCCP", PROFILE),
    ("PNG", "private part"): chunk(b"gpSx", NMEA),
    ("PNG", "behind the end"): behind("PNG", TRACK),
    ("WebP", "EXIF directory"): lambda: saved("WEBP", lossless=True, exif=exif()),
    ("WebP", "XMP attribute"): lambda: saved("WEBP", lossless=True, xmp=XMP),
    ("WebP", "private part"): riff(b"GPSx", NMEA),
    ("WebP", "colour profile"): lambda: saved("WEBP", lossless=True, icc_profile=POINT + CANARY),
    ("WebP", "behind the end"): behind("WEBP", TRACK),
    ("TIFF", "EXIF directory"): lambda: raw_exif() + CANARY,
    ("TIFF", "XMP attribute"): tiff(700, XMP),
    ("TIFF", "IPTC"): tiff(33723, IPTC),
    ("TIFF", "comment"): tiff(270, POINT + CANARY),
    ("TIFF", "private part"): tiff(33922, CANARY),
    ("AVIF/HEIF", "EXIF directory"): heif(b"\0\0\0\6Exif\0\0" + raw_exif()),
    ("AVIF/HEIF", "XMP attribute"): heif(XMP),
    ("AVIF/HEIF", "private part"): heif(NMEA),
    ("MP4/MOV", "location of QuickTime"): film(b"qt  ", TRACK),
    ("MP4/MOV", "location of 3GPP"): film(b"isom", box(b"loci", bytes(20) + CANARY)),
    ("MP4/MOV", "EXIF directory"): film(b"mp42", b"Exif\0\0" + raw_exif()),
    ("MP4/MOV", "XMP attribute"): film(b"isom", XMP),
    ("MP4/MOV", "private part"): film(b"isom", NMEA),
    ("PDF", "XMP attribute"): pdf(XMP),
    ("PDF", "XMP element"): pdf(XMP_ELEMENT, packed=False),
    ("PDF", "comment"): pdf(b"BT (" + POINT + CANARY + b") Tj ET"),
    ("PDF", "small copy or second picture"): pdf(
        saved("JPEG", exif=exif()), packed=False),
    ("PDF", "private part"): pdf(b"q", b"/VP[<</Measure<</Subtype/GEO/GPTS[52.5 13.4]>>>>]"),
    ("PDF", "locked"): pdf(b"q", b"/Encrypt 3 0 R"),
    ("package", "small copy or second picture"): package,
}  # fmt: skip


@pytest.mark.parametrize(("kind", "place"), HIDING, ids=lambda one: one.replace(" ", "-"))
def test_no_position_is_kept(kind: str, place: str) -> None:
    data = HIDING[kind, place]()
    try:
        copy = cleaned(data)
    except InvalidInput as error:
        assert error.hint  # noqa: PT017 - the way out
        assert kind not in ("JPEG", "PNG", "WebP")
        return
    assert kind in ("JPEG", "PNG", "WebP")
    assert copy.removed
    assert not tells_place(copy.data)
    for word in (CANARY, POINT, b"GPS", b"$GP"):
        assert word not in copy.data, word
        assert not any(word in part for part in _unpacked(copy.data))
    with Image.open(io.BytesIO(data)) as one, Image.open(io.BytesIO(copy.data)) as other:
        assert np.array_equal(np.asarray(one), np.asarray(other))
        if place == "EXIF directory":
            assert other.getexif().get(0x0112, 1) == 6
    assert cleaned(copy.data).data == copy.data


@pytest.mark.parametrize(("kind", "place"), HIDING, ids=lambda one: one.replace(" ", "-"))
def test_a_position_is_seen_wherever_it_stands(kind: str, place: str) -> None:
    """For what somebody put into the folder by hand, and for the list of what would leave."""
    if kind == "package":
        pytest.skip("a package is looked into by attach alone")
    try:
        assert tells_place(HIDING[kind, place]())
    except InvalidInput:
        assert place == "locked"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "AVIF", "GIF", "PDF", "BMP"])
def test_a_plain_picture_tells_nothing(kind: str) -> None:
    assert not tells_place(saved(kind))


def test_other_files_stay_as_they_are() -> None:
    for data in (b"n,P\n3000,60.1\n", bytes(range(256)), saved("PDF"), saved("PNG"), saved("JPEG")):
        assert cleaned(data).data == data


def test_a_moving_picture_and_deep_colours_stay_as_they_are() -> None:
    out = io.BytesIO()
    frames = [Image.fromarray(np.roll(pixels(), n, 0)) for n in range(3)]
    frames[0].save(out, "PNG", save_all=True, append_images=frames[1:], exif=exif())
    copy = cleaned(out.getvalue()).data
    with Image.open(io.BytesIO(copy)) as moving:
        assert moving.n_frames == 3
    deep = io.BytesIO()
    Image.fromarray(np.arange(1024, dtype=np.uint16).reshape(32, 32)).save(deep, "PNG", exif=exif())
    with Image.open(io.BytesIO(cleaned(deep.getvalue()).data)) as other:
        assert np.array_equal(np.asarray(other).ravel(), np.arange(1024))


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_a_torn_picture_is_refused(kind: str) -> None:
    whole = saved(kind, exif=exif())
    for cut in range(20, len(whole) - 1, 97):
        with pytest.raises(InvalidInput):
            cleaned(whole[:cut])


def _unpacked(data: bytes) -> list[bytes]:
    found = []
    for at in (match.start() for match in re.finditer(rb"x[\x01\x5e\x9c\xda]", data)):
        try:
            found.append(zlib.decompressobj().decompress(data[at:], 1 << 16))
        except zlib.error:
            continue
    return found

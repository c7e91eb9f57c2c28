"""What leaves through a picture: it is cleaned without a pixel being touched, or refused.

JPEG (`photo.py`), PNG and WebP are taken apart into the pieces their standards name, and only
what a viewer needs for the picture stays. What keeps its descriptions all over the file (TIFF and
raw files of cameras, HEIF and AVIF, films) is refused, with the way out. A PDF or any other file
is evidence byte for byte: it is taken as it is, and refused where it tells a position.
"""

from __future__ import annotations

import hashlib
import io
import struct
import zipfile
import zlib

from buildlog.errors import InvalidInput
from buildlog.store.exchange import photo
from buildlog.store.exchange.photo import Stripped
from buildlog.store.exchange.picture_parts import PNG, png_chunks, webp_chunks
from buildlog.store.exchange.told_places import tells_place

# PNG, third edition (W3C): what draws the picture and its colours, and the frames of a moving one.
_PNG_STAYS = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"sBIT", b"sRGB", b"cICP",
     b"mDCV", b"cLLI", b"bKGD", b"hIST", b"pHYs", b"acTL", b"fcTL", b"fdAT"}
)  # fmt: skip
_WEBP_STAYS = frozenset({b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ANIM", b"ANMF"})  # RFC 9649
_NOTE = "buildlog original sha256 "
_AS_JPEG = "export it as a JPEG, and attach that"
_FILM = "keep it outside with attach --outside, or attach a still picture of it"
_FILMS = (b"qt  ", b"isom", b"iso2", b"mp4", b"M4V", b"avc1", b"3gp", b"dash", b"MSNV")
_LARGEST_MEMBER = 32 << 20


def cleaned(data: bytes) -> Stripped:
    """A file as it may be attached, and what was left out of it.

    InvalidInput for one that cannot be cleaned and may tell more than its picture.
    """
    if photo.is_photo(data):
        return photo.strip(data)
    if data.startswith(PNG):
        return _png(data)
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return _webp(data)
    if refused := _refused(data):
        raise InvalidInput(f"{refused[0]} cannot be cleaned of what it tells", hint=refused[1])
    if data.startswith(b"PK\3\4"):
        _refuse_package(data)
    if tells_place(data):
        raise InvalidInput(
            "this file tells a position",
            hint="save it anew without: a PDF by printing it, a picture as a JPEG",
        )
    return Stripped(data, (), hashlib.sha256(data).hexdigest())


def _refused(data: bytes) -> tuple[str, str] | None:
    """A kind of picture or film that is not taken, and the way out."""
    if data[4:8] == b"ftyp":
        film = data[8:12].startswith(_FILMS)
        return ("a film", _FILM) if film else ("a picture of this kind (HEIF or AVIF)", _AS_JPEG)
    if data[4:8] in (b"moov", b"mdat", b"wide") or data.startswith(b"\x1a\x45\xdf\xa3"):
        return "a film", _FILM
    if data[:4] == b"RIFF" and data[8:12] == b"AVI ":
        return "a film", _FILM
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+", b"IIU\0", b"IIRO", b"FUJI"):
        return "a TIFF or a camera's raw file", _AS_JPEG
    if data.startswith((b"\xff\x0a", b"\0\0\0\x0cJXL ", b"\0\0\0\x0cjP  ", b"GIF8", b"8BPS")):
        return "a picture of this kind", _AS_JPEG
    return None


def _refuse_package(data: bytes) -> None:
    """Pictures in a package (a document of an office program is one) tell what they tell."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            for member in package.infolist():
                inside = b""
                if member.file_size <= _LARGEST_MEMBER:
                    with package.open(member) as file:
                        inside = file.read(_LARGEST_MEMBER)
                if _refused(inside) or tells_place(inside):
                    raise InvalidInput(
                        f"{member.filename} in this package tells a position, or may",
                        hint="attach its files one by one",
                    )
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, zlib.error, EOFError):
        raise InvalidInput(
            "this package cannot be looked into", hint="attach its files one by one"
        ) from None


def _png(data: bytes) -> Stripped:
    original = hashlib.sha256(data).hexdigest()
    held, behind = png_chunks(data)
    removed = [kind.decode("latin-1") for kind, body in held if not _png_stays(kind, body)]
    removed += ["what hangs on behind the picture"] * bool(behind)
    if not removed:
        return Stripped(data, (), original)
    kept = [(kind, body) for kind, body in held if _png_stays(kind, body)]
    note = (b"tEXt", f"Comment\0{_NOTE}{original}".encode())
    exif = next((body for kind, body in held if kind == b"eXIf"), b"")
    turned = photo.turned_alone(exif)
    between = [(b"eXIf", turned)] if turned else []
    whole = b"".join(_png_chunk(*one) for one in (kept[0], note, *between, *kept[1:]))
    return Stripped(PNG + whole, tuple(dict.fromkeys(removed)), original)


def _png_stays(kind: bytes, body: bytes) -> bool:
    if kind == b"tEXt":
        return body.startswith(f"Comment\0{_NOTE}".encode()) and len(body) == 8 + len(_NOTE) + 64
    return kind in _PNG_STAYS or (kind == b"eXIf" and body == photo.turned_alone(body))


def _png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def _webp(data: bytes) -> Stripped:
    original = hashlib.sha256(data).hexdigest()
    end = 8 + struct.unpack_from("<I", data, 4)[0]
    held = webp_chunks(data[12:end])
    removed = [kind.decode("latin-1").strip() for kind, _ in held if kind not in _WEBP_STAYS]
    frames = [(kind, _frame(body) if kind == b"ANMF" else body) for kind, body in held]
    removed += ["what stands in its frames"] * (frames != held)
    removed += ["what hangs on behind the picture"] * bool(data[end:])
    exif = next((body for kind, body in held if kind == b"EXIF"), b"")
    turned = photo.turned_alone(exif)
    if removed in ([], ["EXIF"]) and exif in (b"", turned):
        return Stripped(data, (), original)
    kept = [(kind, _flags(body, turned) if kind == b"VP8X" else body)
            for kind, body in frames if kind in _WEBP_STAYS]  # fmt: skip
    kept += [(b"EXIF", turned)] if turned else []
    body = b"".join(_riff(*one) for one in kept)
    whole = b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body
    return Stripped(whole, tuple(dict.fromkeys(removed)), original)


def _frame(body: bytes) -> bytes:
    """One frame of a moving WebP, with what draws it alone."""
    held = webp_chunks(body[16:])
    return body[:16] + b"".join(_riff(*one) for one in held if one[0] in _WEBP_STAYS)


def _riff(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def _flags(body: bytes, turned: bytes) -> bytes:
    """The list of what a WebP holds, without profile, descriptions and what went."""
    held = body[0] & ~(0x20 | 0x08 | 0x04) | (0x08 if turned else 0)
    return bytes([held]) + body[1:]

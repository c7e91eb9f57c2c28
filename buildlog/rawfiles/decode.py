"""Bytes of a raw file to lines of text, whatever the encoding and however large the file.

Fast readers want bytes, and everything that matters in a table of numbers is ASCII; so a file in a
one-byte encoding or UTF-8 is passed through as it is, and UTF-16 is turned into UTF-8 on the way.
"""

from __future__ import annotations

import codecs
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from buildlog.errors import InvalidInput, NotFound
from buildlog.rawfiles import mdf

Source = bytes | Path
HEAD = 1 << 16  # bytes looked at to find encoding and layout
CHUNK = 1 << 20  # bytes handed on at a time
MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# Control characters that no text file holds; tab, newline, form feed, return and escape aside.
BINARY = bytes(set(range(32)) - {9, 10, 12, 13, 26, 27})
PICTURES = (b"%PDF", b"PK\x03\x04", b"\x89PNG", b"\xff\xd8\xff")


@dataclass(frozen=True)
class Encoding:
    """How the bytes become text: codec name, length of the byte-order mark, newline character."""

    codec: str
    mark: int = 0
    newline: bytes = b"\n"

    @property
    def wide(self) -> bool:
        return self.codec.startswith("utf-16")

    @property
    def inner(self) -> str:
        """Codec of the lines handed on by `line_chunks`."""
        return "utf-8" if self.wide else self.codec


def open_source(source: Source) -> BinaryIO:
    """A binary stream over bytes (not copied) or a file; an MDF file as the text of its table."""
    if isinstance(source, bytes):
        return io.BytesIO(mdf.as_csv(source) if mdf.is_mdf(source[:8]) else source)
    try:
        stream = source.open("rb")
        if not mdf.is_mdf(stream.read(8)):
            stream.seek(0)
            return stream
        with stream:
            return io.BytesIO(mdf.as_csv(source.read_bytes()))
    except FileNotFoundError:
        raise NotFound("there is no such file", where=str(source)) from None
    except OSError as problem:
        why = problem.strerror or str(problem)
        raise InvalidInput(f"the file cannot be read ({why})", where=str(source)) from None


def find_encoding(head: bytes, name: str) -> Encoding:
    """Encoding from the first bytes: the mark, else zero bytes, else UTF-8, else Windows Latin."""
    marked = ((codec, len(mark)) for mark, codec in MARKS if head.startswith(mark))
    codec, mark = next(marked, None) or (_unmarked(head), 0)
    if not head[mark:].strip():
        raise InvalidInput("the file is empty", where=name, hint="export the pull again")
    text = _check_text(head[mark:], codec, name)
    newline = b"\r" if "\r" in text and "\n" not in text else b"\n"
    return Encoding(codec, mark, newline)


def _unmarked(head: bytes) -> str:
    """UTF-16 shows zero bytes in every other place; the rest is decided by trying."""
    even, odd = head[0::2].count(0), head[1::2].count(0)
    half = len(head) // 2
    if odd > 0.6 * half and even < 0.1 * half:
        return "utf-16-le"
    if even > 0.6 * half and odd < 0.1 * half:
        return "utf-16-be"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _check_text(head: bytes, codec: str, name: str) -> str:
    """The head as text, or a refusal when it is no text."""
    text = codecs.getincrementaldecoder(codec)("replace").decode(head)
    strange = sum(text.count(chr(code)) for code in BINARY)
    if strange or head.startswith(PICTURES):
        raise InvalidInput(
            "the file holds bytes that are no text",
            where=name,
            hint="export the pull as text (CSV) and add that file",
        )
    return text


def decode(data: bytes, name: str) -> str:
    """The whole file as text with newlines as "\\n".

    >>> decode("Drehzahl;Leistung\\r\\n3000;80,5".encode("utf-16"), "a.csv").splitlines()
    ['Drehzahl;Leistung', '3000;80,5']
    """
    encoding = find_encoding(data[:HEAD], name)
    lines = b"".join(line_chunks(data, name, encoding))
    return text_of(lines, encoding).replace("\r\n", "\n")


def text_of(lines: bytes, encoding: Encoding) -> str:
    """Lines handed on by `line_chunks` as text; bytes without a meaning become U+FFFD."""
    return lines.decode(encoding.inner, "replace")


def line_chunks(source: Source, name: str, encoding: Encoding) -> Iterator[bytes]:
    """Whole lines, about a megabyte at a time, each ended by a newline."""
    rest = b""
    for block in _blocks(source, encoding):
        if b"\0" in block:
            raise _zero_byte(source, name, encoding)
        block = rest + block
        cut = block.rfind(b"\n") + 1
        lines, rest = block[:cut], block[cut:]
        if lines:
            yield lines
    if rest:
        yield rest + b"\n"


def _zero_byte(source: Source, name: str, encoding: Encoding) -> InvalidInput:
    """The error for a zero byte, with its line, which is counted only now."""
    line = 1
    for block in _blocks(source, encoding):
        before, zero, _ = block.partition(b"\0")
        line += before.count(b"\n")
        if zero:
            break
    return InvalidInput(
        "a zero byte stands in the text",
        where=f"{name}, line {line}",
        hint="the file was cut short or damaged when it was copied; copy or export it again",
    )


def _blocks(source: Source, encoding: Encoding) -> Iterator[bytes]:
    decoder = codecs.getincrementaldecoder(encoding.codec)("replace") if encoding.wide else None
    with open_source(source) as stream:
        stream.seek(encoding.mark)
        while block := stream.read(CHUNK):
            if decoder:
                block = decoder.decode(block).encode("utf-8")
            yield block if encoding.newline == b"\n" else block.replace(b"\r", b"\n")


def head_of(source: Source) -> bytes:
    """The first bytes of the file, enough to find encoding and layout."""
    with open_source(source) as stream:
        return stream.read(HEAD)

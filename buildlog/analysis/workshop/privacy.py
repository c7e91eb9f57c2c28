"""Looks for what may be personal data: e-mail addresses, telephone numbers, street addresses.

A heuristic: it asks a person to look, it proves nothing either way. What it found is named by
line and never repeated.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from buildlog.findings import Finding

_EMAIL = re.compile(r"[\w.+-]+@[\w-]+(\.[\w-]+)*\.[A-Za-z]{2,}")
_PHONE = re.compile(
    r"""(?<![\w.,-])(?:
        \+\d{1,3}[ ./-]?(?:\(?\d{1,5}\)?[ ./-]?){2,5}\d{2,}      # +49 30 1234567
      | \(\d{2,5}\)[ -]?\d{3,4}[ -]?\d{3,5}                      # (555) 123-4567
      | \d{3}[-. ]\d{3}[-. ]\d{4}                                # 555-123-4567
      | 0\d{2,4}[ /-]\d{3,}(?:[ -]\d{2,})*                       # 030 1234567
    )(?![\w-])""",
    re.VERBOSE,
)
_STREET = re.compile(
    r"""\b\d{1,5}[A-Za-z]?\s+(?:[A-Z][\w'.-]+\s+){1,3}
        (?:Street|St|Road|Rd|Avenue|Ave|Lane|Ln|Drive|Dr|Boulevard|Blvd|Court|Ct|Crescent|
           Terrace|Close|Way|Place)\b\.?
      | \b[A-ZÄÖÜ][\wäöüß.-]*(?:straße|strasse|str\.|weg|gasse|allee|platz)\s+\d{1,4}[a-z]?\b
      | \b\d{1,4}\s?,?\s+(?:rue|avenue|boulevard|chemin|place)\s+(?:de\s+|du\s+|des\s+)?\w+""",
    re.VERBOSE,
)
_OWNER_LINE = re.compile(
    r"^\W*(customer|owner|client|driver name|phone|e-?mail|address|kunde|halter|telefon|adresse)"
    r"\W*[:=;,\t]\s*[^\s:=;,]+",
    re.IGNORECASE,
)
_AUTHOR = re.compile(
    rb"/Author\s*(?:\((?:[^()\\]|\\.)+\)|<[0-9A-Fa-f\s]{4,}>)|<dc:creator>.{0,400}?[^\s<>].{0,400}?</dc:creator>",
    re.DOTALL,
)
KINDS = {
    "an e-mail address": _EMAIL,
    "a telephone number": _PHONE,
    "a street address": _STREET,
}
"""What is looked for, by its name."""
_PIECE, _OVERLAP = 400, 150  # characters; what is looked for is shorter than the second
_HINT = "keep the customer's data in a file of your own outside the ledger, by the ledger's id"


def look(text: str, where: str) -> list[Finding]:
    """Cautions for what looks like personal data in a text that people write."""
    return [
        Finding("personal-data", "caution", f"this looks like {kind}", (), f"{where}, line {line}",
                _HINT)
        for line, kind in places(text)
    ]  # fmt: skip


def look_in_raw(text: str, where: str) -> list[Finding]:
    """Cautions for the head of a raw file: e-mail addresses, and lines that name a person."""
    return [
        Finding("personal-data", "caution", "this line of the raw file looks like personal data",
                (), f"{where}, line {number}", "a raw file is evidence and enters whole: "
                "ask for one without it, or have its owner agree")
        for number in places_in_raw(text)
    ]  # fmt: skip


def names_author(data: bytes) -> bool:
    """Whether a PDF says who wrote it, as far as that stands there uncompressed.

    >>> names_author(b"%PDF-1.4 <</Author(K. Example)>>"), names_author(b"%PDF-1.4 <</Author()>>")
    (True, False)
    """
    return data.startswith(b"%PDF") and _AUTHOR.search(data) is not None


def places(text: str) -> Iterator[tuple[int, str]]:
    """Each line that looks like personal data, and what it looks like, one of KINDS."""
    for number, line in enumerate(text.split("\n"), start=1):
        for kind, pattern in KINDS.items():
            if any(map(pattern.search, _pieces(line))):
                yield number, kind


def places_in_raw(text: str) -> Iterator[int]:
    """Lines of the head of a raw file that look like personal data.

    Numbers are not looked at: a raw file is full of them.
    """
    for number, line in enumerate(text.split("\n")[:60], start=1):
        if any(map(_EMAIL.search, _pieces(line))) or _OWNER_LINE.search(line[:_PIECE]):
            yield number


def _pieces(line: str) -> Iterator[str]:
    """A long line in pieces that overlap: looking through it costs no more than its length."""
    for start in range(0, max(1, len(line) - _OVERLAP), _PIECE - _OVERLAP):
        yield line[start : start + _PIECE]

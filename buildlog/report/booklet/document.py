"""A document in blocks: what HTML and text have in common.

The words come from the sections; how they look is the business of `html` and `text`. A span
is text with a mark, so that no user's text is ever taken for markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Mark = Literal["", "strong", "quiet", "code", "state", "was", "now"]


@dataclass(frozen=True)
class Span:
    """A run of text. `was` is struck through, `now` is what replaced it; `state` is a word
    for a state (clear, close, over, unknown; open, closed)."""

    text: str
    mark: Mark = ""


Spans = tuple[Span, ...]
Cell = str | Span | Spans


def spans(cell: Cell) -> Spans:
    """A cell as spans."""
    if isinstance(cell, str):
        return (Span(cell),)
    return (cell,) if isinstance(cell, Span) else cell


@dataclass(frozen=True)
class Para:
    """A paragraph; `lead` is set larger, `quiet` smaller."""

    content: Spans
    tone: Literal["", "lead", "quiet"] = ""


@dataclass(frozen=True)
class Bullets:
    """A list of short statements."""

    items: tuple[Spans, ...]


@dataclass(frozen=True)
class FactTable:
    """Labels with what they stand for."""

    items: tuple[tuple[str, Spans], ...]


@dataclass(frozen=True)
class PageTable:
    """Rows under a head. `right` names the columns set flush right, `tight` those that never
    break; the first column names its row. A row that holds one cell runs across and begins a
    group."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Spans, ...], ...]
    right: tuple[int, ...] = ()
    note: str = ""
    tight: tuple[int, ...] = ()


@dataclass(frozen=True)
class PageFigure:
    """A picture as SVG, with a sentence that stands for it and its numbers as tables."""

    name: str
    svg: bytes
    alt: str
    caption: str
    data: tuple[PageTable, ...] = ()


@dataclass(frozen=True)
class PageHeading:
    """A heading below that of the section; `name` is what links point to."""

    name: str
    text: str
    level: Literal[3, 4] = 3


@dataclass(frozen=True)
class Code:
    """Lines to type, or to compare letter by letter."""

    lines: tuple[str, ...]


Block = Para | Bullets | FactTable | PageTable | PageFigure | PageHeading | Code


@dataclass(frozen=True)
class Section:
    """A part of the document with its heading. `front` sections open the first page."""

    name: str
    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False


@dataclass(frozen=True)
class Document:
    """The whole: what stands on the cover, the first page's blocks, the sections behind it."""

    title: str
    kicker: str
    subtitle: str
    strip: tuple[tuple[str, str], ...]
    front: tuple[Section, ...]
    sections: tuple[Section, ...]
    colophon: tuple[Spans, ...]
    answer: Spans = ()
    shop: str | None = None
    seal: str = ""
    qr: str | None = None


def para(*parts: Cell, tone: Literal["", "lead", "quiet"] = "") -> Para:
    """A paragraph of texts and spans."""
    return Para(joined(*parts), tone)


def joined(*parts: Cell) -> Spans:
    """Texts and spans one behind the other."""
    return tuple(span for part in parts for span in spans(part))


def table(
    caption: str,
    head: Sequence[str],
    rows: Iterable[Sequence[Cell]],
    right: Sequence[int] = (),
    note: str = "",
    tight: Sequence[int] = (),
) -> PageTable:
    """A table of texts and spans."""
    body = tuple(tuple(spans(cell) for cell in row) for row in rows)
    return PageTable(caption, tuple(head), body, tuple(right), note, tuple(tight))


def bullets(items: Iterable[Cell]) -> Bullets:
    """A list of texts and spans."""
    return Bullets(tuple(spans(item) for item in items))


def facts(items: Iterable[tuple[str, Cell | None]]) -> FactTable:
    """Labels and values; what is not known is left out."""
    return FactTable(
        tuple((label, spans(value)) for label, value in items if value not in (None, ""))
    )


def plain(content: Spans) -> str:
    """Spans as plain text, struck text and states said in words."""
    words = {"was": "[was: {}]", "now": "[now: {}]", "state": "[{}]"}
    return "".join(words.get(span.mark, "{}").format(span.text) for span in content)

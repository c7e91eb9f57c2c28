"""A document in blocks: what HTML and text have in common.

The words come from the sections; how they look is the business of `html` and `text`. A span
is text with a mark, so that no user's text is ever taken for markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from buildlog.report.pictures.paper import Paper

Mark = Literal["", "strong", "quiet", "code", "state", "was", "now"]


@dataclass(frozen=True)
class Span:
    """A run of text. `was` is struck through, `now` is what replaced it; `state` is a word
    for a state; `to` names the place in the document that it leads to."""

    text: str
    mark: Mark = ""
    to: str = ""


Spans = tuple[Span, ...]
Cell = str | Span | Spans
Tone = Literal["", "quiet", "ruled"]


def spans(cell: Cell) -> Spans:
    """A cell as spans."""
    if isinstance(cell, str):
        return (Span(cell),)
    return (cell,) if isinstance(cell, Span) else cell


@dataclass(frozen=True)
class Para:
    """A paragraph; `quiet` is set smaller, `ruled` stands between two lines."""

    content: Spans
    tone: Tone = ""


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
    break, `far` those that a phone leaves out; the first column names its row. A row that holds
    one cell runs across and begins a group."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Spans, ...], ...]
    right: tuple[int, ...] = ()
    note: str = ""
    tight: tuple[int, ...] = ()
    far: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class PageFigure:
    """A picture for a page and the same for a narrow screen, with a sentence that stands for it
    and its numbers as tables."""

    name: str
    wide: Paper
    narrow: Paper
    alt: str
    caption: str
    data: tuple[PageTable, ...] = ()


@dataclass(frozen=True)
class PagePhoto:
    """A small JPEG with its caption; the whole one lies in the package."""

    data: bytes
    caption: str
    size: tuple[int, int]
    cover: bool = False


@dataclass(frozen=True)
class Photos:
    """Small photos side by side."""

    items: tuple[PagePhoto, ...]


@dataclass(frozen=True)
class PageHeading:
    """A heading below that of the section; `name` is what links point to."""

    name: str
    text: str
    level: Literal[2, 3, 4] = 3


@dataclass(frozen=True)
class Code:
    """Lines to type, or to compare letter by letter."""

    lines: tuple[str, ...]


@dataclass(frozen=True)
class Columns:
    """Two columns of blocks side by side; one below the other on a narrow screen."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]


Block = (
    Para | Bullets | FactTable | PageTable | PageFigure | Photos | PageHeading | Code | Columns
)  # fmt: skip


@dataclass(frozen=True)
class Section:
    """A part of the document with its heading."""

    name: str
    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False


@dataclass(frozen=True)
class Document:
    """The whole: the first page, the sections behind it, and what stands at every page's foot.

    `line` tells the odometer with its date, the VIN and the layout; `lead` is the sentence.
    """

    title: str
    kicker: str
    at: str
    line: Spans
    lead: Spans
    front: tuple[Block, ...]
    sections: tuple[Section, ...]
    running: str = ""
    foot: str = ""
    proof: Spans = ()
    qr: str | None = None


def para(*parts: Cell, tone: Tone = "") -> Para:
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
    far: Sequence[int] = (),
) -> PageTable:
    """A table of texts and spans."""
    body = tuple(tuple(spans(cell) for cell in row) for row in rows)
    return PageTable(caption, tuple(head), body, tuple(right), note, tuple(tight), tuple(far))


def bullets(items: Iterable[Cell]) -> Bullets:
    """A list of texts and spans."""
    return Bullets(tuple(spans(item) for item in items))


def facts(items: Iterable[tuple[str, Cell | None]]) -> FactTable:
    """Labels and values; what is not known is left out."""
    return FactTable(
        tuple((label, spans(value)) for label, value in items if value not in (None, ""))
    )


def flat(blocks: Iterable[Block]) -> Iterable[Block]:
    """Blocks one after the other, those of columns too."""
    for one in blocks:
        if isinstance(one, Columns):
            yield from flat((*one.left, *one.right))
        else:
            yield one


def plain(content: Spans) -> str:
    """Spans as plain text: what is struck or bold is said in words anyway."""
    return "".join(span.text for span in content)

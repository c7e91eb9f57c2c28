"""A picture as a list of what stands on it, in px from the top left; nothing is drawn here.

Whatever is put on the paper has a colour by its role, so that one picture is light, dark or of
ink alone, and a box or a line that a test can hold against all others.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from buildlog.report.lines import clean
from buildlog.report.pictures import letters
from buildlog.report.pictures.look import Dash, PageSizes

Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, top, right, bottom


@dataclass(frozen=True)
class Text:
    """A line of text by its baseline."""

    x: float
    y: float
    text: str
    size: float
    colour: str = "ink"
    bold: bool = False
    anchor: Anchor = "start"
    plate: bool = False  # on a piece of the ground, over gridlines

    @property
    def box(self) -> Box:
        """What the line takes up."""
        wide = letters.width(self.text, self.size, self.bold)
        left = self.x - {"start": 0.0, "middle": wide / 2, "end": wide}[self.anchor]
        top, bottom = self.y - letters.ASCENT * self.size, self.y + letters.DESCENT * self.size
        return left, top, left + wide, bottom


@dataclass(frozen=True)
class Stroke:
    """A line through points; `kind` says to a test what must not be crossed."""

    points: tuple[Point, ...]
    colour: str
    width: float
    dash: Dash = ()
    kind: Literal["rule", "curve", "leader"] = "rule"


@dataclass(frozen=True)
class Area:
    """A filled outline."""

    points: tuple[Point, ...]
    colour: str


@dataclass(frozen=True)
class Mark:
    """A dot, or a diamond, with a ring around it."""

    x: float
    y: float
    size: float
    colour: str
    ring: str = "ground"
    ring_width: float = 1.4
    diamond: bool = False


Thing = Text | Stroke | Area | Mark


@dataclass(frozen=True)
class Reading:
    """What is told where a finger or a pointer rests: the strip that it belongs to, the line
    drawn within it, and lines of text with their colours."""

    strip: Box
    at: float
    lines: tuple[tuple[str, str], ...]


@dataclass
class Paper:
    """What stands on a picture, back to front, and how far down it is filled."""

    layout: PageSizes
    title: str = ""
    description: str = ""
    y: float = 0.0
    things: list[Thing] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    columns: tuple[str, ...] = ()  # what the lines of a reading are of

    @property
    def width(self) -> float:
        """Of the whole picture."""
        return self.layout.width

    @property
    def height(self) -> float:
        """Of the whole picture: what was put on it, and the margin."""
        return round(self.y + self.layout.margin * 0.8)

    @property
    def texts(self) -> list[Text]:
        """Every line of text."""
        return [one for one in self.things if isinstance(one, Text)]

    def put(self, *things: Thing) -> None:
        """Put things on top of what is there."""
        self.things += things

    def say(
        self, x: float, y: float, text: str, size: float, colour: str = "ink",
        bold: bool = False, anchor: Anchor = "start", plate: bool = False,
    ) -> Text:  # fmt: skip
        """Put one line of text down."""
        one = Text(x, y, shown(text), size, colour, bold, anchor, plate)
        self.things.append(one)
        return one

    def lines(
        self, said: Iterable[str], size: float, colour: str = "ink", bold: bool = False,
        step: float = letters.LINE,
    ) -> None:  # fmt: skip
        """Lines from the left margin, one below the other, from `y` on."""
        for text in said:
            self.y += size * step
            self.say(self.layout.margin, self.y - letters.DESCENT * size, text, size, colour, bold)


def shown(text: str) -> str:
    """A text as the terminal has it, for which a font has letters, with the signs of print."""
    return letters.bound(clean(text))


def heading(paper: Paper, headline: str, conditions: str) -> None:
    """The sentence on top and the conditions below it."""
    layout = paper.layout
    room = layout.width - 2 * layout.margin
    paper.title = headline
    paper.y = layout.margin * 0.85
    paper.lines(letters.balanced(shown(headline), layout.headline, room, True), layout.headline,
                bold=True, step=letters.HEADLINE)  # fmt: skip
    paper.y += layout.headline * 0.14
    for line in conditions.split("\n"):
        paper.lines(
            letters.flowing(shown(line), layout.conditions, room), layout.conditions, "soft"
        )


def notes(paper: Paper, text: str) -> None:
    """What stands below everything."""
    if text:
        layout = paper.layout
        paper.y += 0.7 * layout.note
        room = layout.width - 2 * layout.margin
        paper.lines(letters.flowing(shown(text), layout.note, room), layout.note, "soft")


def panel_title(paper: Paper, strong: str, rest: str) -> None:
    """The quantity semibold, its unit and band soft."""
    layout, size = paper.layout, paper.layout.panel
    room = layout.width - 2 * layout.margin
    paper.y += 2.1 * size
    lead = letters.fitted(shown(f"{strong}," if rest else strong), size, 0.94 * room, True)
    paper.say(layout.margin, paper.y, lead, size, bold=True)
    x = layout.margin + letters.width(lead, size, True) + 0.32 * size
    if rest:
        rest = shown(rest)
        pieces = [
            rest,
            rest.replace("mean of the pulls with its ", "mean and "),
            rest.split(",")[0].split(";")[0],
        ]
        whole = next((p for p in pieces if x + letters.width(p, size) <= layout.margin + room), "")
        paper.say(x, paper.y, whole or letters.fitted(rest, size, layout.margin + room - x), size,
                  "soft")  # fmt: skip
    paper.y += 0.75 * size


def overlaps(one: Box, other: Box, apart: float = 0.0) -> bool:
    """Whether two boxes touch, or come nearer than a distance."""
    return (one[0] < other[2] + apart and other[0] < one[2] + apart
            and one[1] < other[3] + apart and other[1] < one[3] + apart)  # fmt: skip


def crosses(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two pieces of line cross."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def enters(box: Box, a: Point, b: Point) -> bool:
    """Whether a piece of line touches a box."""
    left, top, right, bottom = box
    if any(left <= x <= right and top <= y <= bottom for x, y in (a, b)):
        return True
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    return any(crosses(a, b, corners[i], corners[i - 1]) for i in range(4))


def touched(box: Box, strokes: Iterable[Sequence[Point]]) -> bool:
    """Whether any of some lines touches a box."""
    return any(
        enters(box, one[i], one[i + 1])
        for one in strokes
        for i in range(len(one) - 1)
        if min(one[i][0], one[i + 1][0]) <= box[2] and max(one[i][0], one[i + 1][0]) >= box[0]
    )


def spread(
    wanted: Sequence[float], heights: Sequence[float], low: float, high: float
) -> list[float]:
    """Places of blocks in a column, as near to those wanted as their heights allow, in order:
    least squares by pooling neighbours that would touch. Tops, from those wanted as middles."""
    pools: list[
        tuple[float, float, int]
    ] = []  # sum of wanted tops of the first, its height, how many
    for middle, height in zip(wanted, heights, strict=True):
        pools.append((middle - height / 2, height, 1))
        while (
            len(pools) > 1
            and pools[-2][0] / pools[-2][2] + pools[-2][1] > pools[-1][0] / pools[-1][2]
        ):
            (s1, h1, n1), (s2, h2, n2) = pools[-2:]
            pools[-2:] = [(s1 + s2 - n2 * h1, h1 + h2, n1 + n2)]
    tops: list[float] = []
    index, floor = 0, low
    for place, (total, tall, number) in enumerate(pools):
        below = sum(pool[1] for pool in pools[place + 1 :])
        top = max(min(total / number, high - tall - below), floor)
        floor = top + tall
        for height in heights[index : index + number]:
            tops.append(top)
            top += height
        index += number
    return tops

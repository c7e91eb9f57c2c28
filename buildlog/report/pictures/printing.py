"""A picture as bytes: SVG with live text and its letters in it, PNG and PDF by matplotlib."""

from __future__ import annotations

import io
import math
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from html import escape
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildlog.report.pictures import letters
from buildlog.report.pictures.look import palette
from buildlog.report.pictures.paper import Area, Mark, Paper, Reading, Stroke, Text, Thing

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure as Figure

Outline = Callable[[tuple[tuple[float, float], ...]], str]
ENDINGS = {".png": "png", ".svg": "svg", ".pdf": "pdf"}
_DPI = 200
_PT = 0.75  # of a px


def ending_of(path: Path) -> str:
    """What a picture is written as by its file's ending; UsageError for any other."""
    from buildlog.errors import UsageError

    ending = ENDINGS.get(path.suffix.lower())
    if ending is None:
        raise UsageError(
            f"{path.name} is no kind of picture known here", hint="end it in .png, .svg or .pdf"
        )
    return ending


def render(paper: Paper, ending: str, *, dark: bool = False, ink_only: bool = False) -> bytes:
    """The bytes of a picture; the same picture, the same bytes."""
    if ending == "svg":
        style = letters.font_face([(one.text, one.bold) for one in paper.texts])
        whole = svg(paper, palette(dark, ink_only), f"<style>{style}</style>")
        return f'<?xml version="1.0" encoding="utf-8"?>\n{whole}\n'.encode()
    return _by_matplotlib(paper, dark, ink_only, ending)


def svg(
    paper: Paper, colours: Mapping[str, str], style: str = "", name: str = "picture",
    touch: bool = False,
) -> str:  # fmt: skip
    """The picture as an element of SVG with title and description. Each thing carries its colour
    and a class of its role (`f-ink`, `s-grid`), by which a page may colour it otherwise.

    `touch`: with the values at round places (`at`), each of which a page's style sheet shows
    (`told`) while somebody points at it.
    """
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {paper.width:g} {paper.height:g}" '
        f'width="{paper.width:g}" height="{paper.height:g}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc" font-family="{letters.FAMILY}, sans-serif" '
        'stroke-linejoin="round">',
        f'<title id="{name}-title">{escape(paper.title)}</title>',
        f'<desc id="{name}-desc">{escape(paper.description)}</desc>',
        style,
        f'<rect width="100%" height="100%"{_paint("f", "fill", "ground", colours)}/>',
    ]
    path = _steps if touch else _path
    for thing in paper.things:
        parts += _element(thing, colours, path)
    if touch:
        parts += [part for one in paper.readings for part in _reading(one, paper, colours)]
    return "".join([*parts, "</svg>"])


def _reading(one: Reading, paper: Paper, colours: Mapping[str, str]) -> Iterator[str]:
    """A strip that catches the pointer, and what is told there on a piece of the ground."""
    left, top, right, bottom = one.strip
    size, step = paper.layout.note, paper.layout.note * letters.LINE
    wide = max(letters.width(text, size, True) for text, _ in one.lines) + 12
    x = one.at + 8 if one.at < paper.width / 2 else one.at - 8 - wide
    yield (f'<g class="at"><path d="M{left:.1f} {top:.0f}H{right:.1f}V{bottom:.0f}H{left:.1f}Z" '
           f'fill="none" pointer-events="all"/><g class="told" font-size="{size:g}">')  # fmt: skip
    line = _paint("s", "stroke", "soft", colours)
    yield f'<path d="M{one.at:.1f} {top:.0f}V{bottom:.0f}"{line}/>'
    yield (f'<path d="M{x:.1f} {top:.0f}h{wide:.1f}v{step * len(one.lines) + 6:.1f}h{-wide:.1f}Z"'
           f"{_paint('f', 'fill', 'ground', colours)}/>")  # fmt: skip
    for row, (text, role) in enumerate(one.lines, 1):
        yield (f'<text x="{x + 6:.0f}" y="{top + row * step:.0f}"'
               f"{_paint('f', 'fill', role, colours)}>{escape(text)}</text>")  # fmt: skip
    yield "</g></g>"


def _paint(kind: str, attribute: str, role: str, colours: Mapping[str, str]) -> str:
    return f' class="{kind}-{role}" {attribute}="{colours[role]}"'


def _element(thing: Thing, colours: Mapping[str, str], path: Outline) -> Iterator[str]:
    match thing:
        case Text():
            if thing.plate:
                left, top, right, bottom = thing.box
                yield (
                    f'<rect x="{left - 2:.1f}" y="{top:.1f}" width="{right - left + 4:.1f}" '
                    f'height="{bottom - top:.1f}"{_paint("f", "fill", "ground", colours)}/>'
                )
            bold = ' font-weight="600"' if thing.bold else ""
            anchor = f' text-anchor="{thing.anchor}"' if thing.anchor != "start" else ""
            yield (
                f'<text x="{thing.x:.1f}" y="{thing.y:.1f}" font-size="{thing.size:g}"{bold}'
                f"{anchor}{_paint('f', 'fill', thing.colour, colours)}>{escape(thing.text)}</text>"
            )
        case Stroke():
            dash = " ".join(f"{one * thing.width:.1f}" for one in thing.dash)
            dashed = f' stroke-dasharray="{dash}"' if dash else ""
            yield (f'<path d="{path(thing.points)}" fill="none" stroke-width="{thing.width:g}"'
                   f'{dashed}{_paint("s", "stroke", thing.colour, colours)}/>')  # fmt: skip
        case Area():
            paint = _paint("f", "fill", thing.colour, colours)
            yield f'<path d="{path(thing.points)}Z"{paint}/>'
        case Mark():
            half, x, y = thing.size / 2, thing.x, thing.y
            look = (
                f' class="f-{thing.colour} s-{thing.ring}" fill="{colours[thing.colour]}" '
                f'stroke="{colours[thing.ring]}" stroke-width="{thing.ring_width:g}"'
            )
            if thing.diamond:
                ends = ((x, y - half), (x + half, y), (x, y + half), (x - half, y))
                yield f'<path d="{path(ends)}Z"{look}/>'
            else:
                yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{half:g}"{look}/>'


def _path(points: tuple[tuple[float, float], ...]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _steps(points: tuple[tuple[float, float], ...]) -> str:
    """The same outline without points that lie on it anyway, in tenths from point to point."""
    tenths = [(round(10 * x), round(10 * y)) for x, y in _needed(points)]
    steps = [(x - a, y - b) for (a, b), (x, y) in pairwise(tenths)]
    said = "".join(f"{x / 10:g}{' ' if y >= 0 else ''}{y / 10:g} " for x, y in steps)
    first = f"M{tenths[0][0] / 10:g} {tenths[0][1] / 10:g}"
    return f"{first}l{said.rstrip()}" if steps else first


def _needed(points: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Points between which a straight line passes all others within a tenth of a px."""
    start = 0
    yield points[0]
    for end in range(2, len(points)):
        (x0, y0), (x1, y1) = points[start], points[end]
        long = math.hypot(x1 - x0, y1 - y0) or 1.0
        between = points[start + 1 : end]
        if any(abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) > 0.1 * long for x, y in between):
            start = end - 1
            yield points[start]
    if len(points) > 1:
        yield points[-1]


def _by_matplotlib(paper: Paper, dark: bool, ink_only: bool, ending: str) -> bytes:
    import warnings

    import matplotlib

    metadata = {
        "png": {"Software": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None, "Title": paper.title},
    }[ending]
    out = io.BytesIO()
    with (
        matplotlib.rc_context({"text.parse_math": False, "pdf.fonttype": 42}),
        warnings.catch_warnings(),
    ):
        warnings.filterwarnings("ignore", message="Glyph .* missing")  # it is drawn as a box
        made = figure(paper, dark=dark, ink_only=ink_only)
        made.savefig(out, format=ending, dpi=_DPI, metadata=metadata)
    return out.getvalue()


def figure(paper: Paper, *, dark: bool = False, ink_only: bool = False) -> Figure:
    """The picture as a figure of matplotlib, one frame that spans it with px as its values."""
    import matplotlib
    from matplotlib.figure import Figure

    _know_fonts()
    colours = palette(dark, ink_only)
    with matplotlib.rc_context({"text.parse_math": False}):
        made = Figure(figsize=(paper.width / 96, paper.height / 96), facecolor=colours["ground"])
        frame = made.add_axes((0.0, 0.0, 1.0, 1.0))
        frame.set(xlim=(0, paper.width), ylim=(paper.height, 0))
        frame.axis("off")
        for order, thing in enumerate(paper.things, 1):
            for artist in _artists(thing, colours, order):
                artist.set_clip_on(False)
                frame.add_artist(artist)
    return made


def _know_fonts() -> None:
    from matplotlib import font_manager

    known = {entry.fname for entry in font_manager.fontManager.ttflist}
    for bold in (False, True):
        if str(letters.file(bold)) not in known:
            font_manager.fontManager.addfont(letters.file(bold))


def _from_left(text: str) -> str:
    """A line that runs from left to right, as a browser takes it, also where it begins with a name
    in letters that run the other way: by the mark of Unicode that says so (Unicode Standard Annex
    9, "implicit directional marks"), which is drawn as nothing."""
    turns = any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text)
    return f"\N{LEFT-TO-RIGHT MARK}{text}" if turns else text


def _artists(thing: Thing, colours: Mapping[str, str], order: int) -> Iterator[Artist]:
    from matplotlib import lines, patches, text

    match thing:
        case Text():
            if thing.plate:
                left, top, right, bottom = thing.box
                yield patches.Rectangle(
                    (left - 2, top),
                    right - left + 4,
                    bottom - top,
                    color=colours["ground"],
                    linewidth=0,
                    zorder=order,
                )
            own = f"{letters.FAMILY} Semibold" if thing.bold else letters.FAMILY
            yield text.Text(
                thing.x, thing.y, _from_left(thing.text), color=colours[thing.colour], zorder=order,
                fontsize=thing.size * _PT, family=[own, "DejaVu Sans"], va="baseline",
                ha={"start": "left", "middle": "center", "end": "right"}[thing.anchor],
            )  # fmt: skip
        case Stroke():
            x, y = zip(*thing.points, strict=True)
            style: Any = (0, thing.dash) if thing.dash else "-"
            yield lines.Line2D(x, y, color=colours[thing.colour], linewidth=thing.width * _PT,
                               linestyle=style, zorder=order, dash_capstyle="butt",
                               solid_capstyle="butt")  # fmt: skip
        case Area():
            yield patches.Polygon(thing.points, closed=True, facecolor=colours[thing.colour],
                                  linewidth=0, zorder=order)  # fmt: skip
        case Mark():
            yield lines.Line2D(
                [thing.x], [thing.y], marker="D" if thing.diamond else "o", zorder=order,
                markersize=thing.size * _PT * (0.7071 if thing.diamond else 1),
                markerfacecolor=colours[thing.colour], markeredgecolor=colours[thing.ring],
                markeredgewidth=thing.ring_width * _PT, linestyle="none",
            )  # fmt: skip

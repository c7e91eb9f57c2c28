"""Curves as figures: one quantity a panel, bands, direct labels, the difference below.

Okabe-Ito colours with a line style per version, so that curves can be told apart in
print and by colour-blind readers. No pyplot; the same data give the same bytes.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from buildlog.report.lines import clean

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Figure

Floats = NDArray[np.float64]

# M. Okabe, K. Ito, "Color Universal Design" (2008) [from memory]; their yellow is left
# out because it is too light on white paper.
COLOURS = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00")
STYLES: tuple[Any, ...] = (
    "-",
    (0, (6, 2)),
    (0, (2, 1.5)),
    (0, (8, 2, 2, 2)),
    (0, (4, 1.5, 1, 1.5, 1, 1.5)),
    (0, (1, 1)),
    (0, (10, 3)),
)
_DOTS = (0, (1, 2))  # of a target: no curve is drawn so
PAGE_FONTS = rb"'Segoe UI', 'Helvetica Neue', Arial, 'Liberation Sans', sans-serif"
_FAMILIES = re.compile(rb"'DejaVu Sans',[^;\"]*sans-serif")
_DPI = 144
ENDINGS = {".png": "png", ".svg": "svg", ".pdf": "pdf"}


@dataclass(frozen=True)
class FigureLine:
    """One curve in display units: `x`, `y`, half-width of its band, and the marked top.

    A target is drawn thin; `owner`: the curve it belongs to, whose colour it has.
    """

    label: str
    x: Floats
    y: Floats
    half: Floats | None = None
    top: tuple[float, float] | None = None
    target: bool = False
    owner: str = ""

    @property
    def coloured(self) -> str:
        """The label that its colour goes by."""
        return self.owner or self.label


@dataclass(frozen=True)
class Panel:
    """One frame: a quantity with its unit, its curves, and where it starts."""

    title: str
    y_label: str
    lines: tuple[FigureLine, ...]
    from_zero: bool = False
    zero_line: bool = False
    height: float = 1.0


@dataclass(frozen=True)
class Picture:
    """A whole figure: the sentence on top, the conditions below it, the panels."""

    headline: str
    conditions: str
    x_label: str
    panels: tuple[Panel, ...]
    notes: str = ""


def draw(picture: Picture) -> Figure:
    """The figure, not yet written."""
    import matplotlib

    with matplotlib.rc_context({"text.parse_math": False}):  # a dollar is a dollar
        return _drawn(_shown(picture))


def _drawn(picture: Picture) -> Figure:
    from matplotlib.figure import Figure

    heights = [panel.height for panel in picture.panels]
    headline = _broken(picture.headline, 84)
    conditions = _broken(picture.conditions, 112)
    below = 0.12 + 0.19 * len(headline)  # inches from the top to the conditions
    head = below + 0.16 * len(conditions) + 0.1
    size = (8.0, 0.65 + head + 3.2 * sum(heights))
    figure = Figure(figsize=size, layout="constrained")
    figure.get_layout_engine().set(rect=(0, 0.0, 1, 1 - head / size[1]))  # type: ignore[union-attr,call-arg]
    axes = figure.subplots(
        len(heights), 1, sharex=True, squeeze=False, gridspec_kw={"height_ratios": heights}
    )
    for lines, top, look in (
        (headline, 0.1, {"fontsize": 10.5, "weight": "bold"}),
        (conditions, below, {"fontsize": 8.5}),
    ):
        figure.text(0.02, 1 - top / size[1], "\n".join(lines), va="top", **look)
    names = list(dict.fromkeys(one.coloured for panel in picture.panels for one in panel.lines))
    for panel, frame in zip(picture.panels, axes[:, 0], strict=True):
        _fill(frame, panel, names)
    axes[-1, 0].set_xlabel(picture.x_label)
    axes[-1, 0].xaxis.set_major_formatter("{x:,.15g}")  # whole readings, never "30 +1.432e5"
    if picture.notes:
        figure.supxlabel(picture.notes, fontsize=7.5, x=0.02, ha="left")
    return figure


def _shown(picture: Picture) -> Picture:
    """The same with its texts as the terminal shows them: no font has a letter for the rest."""
    panels = tuple(
        replace(
            panel,
            title=clean(panel.title),
            y_label=clean(panel.y_label),
            lines=tuple(
                replace(line, label=clean(line.label), owner=clean(line.owner))
                for line in panel.lines
            ),
        )
        for panel in picture.panels
    )
    said = {name: clean(getattr(picture, name)) for name in ("headline", "conditions", "notes")}
    return replace(picture, panels=panels, **said)


def _broken(text: str, width: int) -> list[str]:
    """Text in lines that fit the figure's width."""
    return [piece for line in text.split("\n") for piece in textwrap.wrap(line, width) or [""]]


def _fill(frame: Axes, panel: Panel, names: Sequence[str]) -> None:
    for line in panel.lines:
        index = names.index(line.coloured) % len(COLOURS)
        colour, style = COLOURS[index], _DOTS if line.owner else STYLES[index]
        frame.plot(
            line.x, line.y, color=colour, linestyle=style, linewidth=1.0 if line.target else 1.7,
            label=line.label,
        )  # fmt: skip
        if line.half is not None:
            frame.fill_between(
                line.x,
                line.y - line.half,
                line.y + line.half,
                color=colour,
                alpha=0.18,
                linewidth=0,
            )
        if line.top is not None:
            frame.plot(*line.top, marker="o", markersize=4, color=colour)
    if panel.zero_line:
        frame.axhline(0, color="#666666", linewidth=0.8)
    if panel.from_zero:
        frame.set_ylim(bottom=0)
    frame.set_title(panel.title, loc="left", fontsize=9.5)
    frame.set_ylabel(panel.y_label)
    frame.grid(visible=True, color="#dddddd", linewidth=0.6)
    frame.spines[["top", "right"]].set_visible(False)
    _label_ends(frame, panel, names)


def _label_ends(frame: Axes, panel: Panel, names: Sequence[str]) -> None:
    """Write each curve's name at its right end, moved apart where they would touch."""
    ends = []
    for line in panel.lines:
        known = np.flatnonzero(np.isfinite(line.y))
        if known.size:
            colour = COLOURS[names.index(line.coloured) % len(COLOURS)]
            ends.append((float(line.y[known[-1]]), float(line.x[known[-1]]), line.label, colour))
    if not ends:
        return
    low, high = frame.get_ylim()
    least = 0.055 * (high - low) / max(panel.height, 0.3)
    right = max(x for _, x, *_ in ends)
    placed: list[float] = []
    for y, x, label, colour in sorted(ends):
        at = y if not placed else max(y, placed[-1] + least)
        placed.append(at)
        frame.annotate(
            label, (x, y), xytext=(right, at), textcoords="data", fontsize=8, color=colour,
            va="center", ha="left",
            arrowprops={"arrowstyle": "-", "color": colour, "lw": 0.5}
            if abs(at - y) > 0.2 * least or right > x
            else None,
        )  # fmt: skip
    left, _ = frame.get_xlim()
    frame.set_xlim(left, right + 0.16 * (right - left))


def write(figure: Figure, path: Path) -> None:
    """Write a figure as PNG, SVG or PDF by the file's ending; the same figure, the same bytes."""
    from buildlog.errors import DiskError, UsageError

    ending = ENDINGS.get(path.suffix.lower())
    if ending is None:
        raise UsageError(
            f"{path.name} is no kind of picture known here", hint="end it in .png, .svg or .pdf"
        )
    try:
        path.write_bytes(render(figure, ending))
    except OSError as error:
        raise DiskError(
            f"{path} cannot be written: {error.strerror}", hint="choose another place"
        ) from None


def render(figure: Figure, ending: str, *, letters: bool = False) -> bytes:
    """The bytes of a figure. With `letters`, the text of an SVG stays text, set in the fonts of
    the page it stands in, which know scripts that the figure's own font lacks."""
    import warnings

    import matplotlib

    metadata: dict[str, dict[str, Any]] = {
        "png": {"Software": None},
        "svg": {"Date": None, "Creator": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    }
    out = io.BytesIO()
    kind = "none" if letters else "path"
    setting = matplotlib.rc_context({"svg.hashsalt": "buildlog", "svg.fonttype": kind})
    with setting, warnings.catch_warnings():
        if letters:  # it is measured with a font that may lack a letter, not drawn with it
            warnings.filterwarnings("ignore", message="Glyph .* missing")
        _lay_out(figure)
        figure.savefig(out, format=ending, dpi=_DPI, metadata=metadata[ending])
    data = out.getvalue()
    return _FAMILIES.sub(PAGE_FONTS, data) if letters else data


def _lay_out(figure: Figure) -> None:
    """Give the axes their places once; with a layout engine, saving would draw all of it twice."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    engine = figure.get_layout_engine()
    if engine is not None:
        figure.set_dpi(_DPI)
        FigureCanvasAgg(figure)  # what measures the texts
        engine.execute(figure)
        figure.set_layout_engine(None)


def rounded(svg: bytes) -> bytes:
    """Paths to a hundredth of a point, which no eye and no printer can tell: half the bytes;
    products of units with their dot, as in the text beside it."""
    for unit in ("lb*ft", "N*m"):
        svg = svg.replace(unit.encode(), unit.replace("*", "·").encode())
    return re.sub(rb' d="[^"]*"', lambda path: re.sub(rb"(\.\d\d)\d+", rb"\1", path.group(0)), svg)

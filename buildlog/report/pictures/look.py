"""How every picture looks: three layouts, one scale of type, colours, and eight kinds of line.

Lengths are px at 96 to the inch. The colours of lines are those of M. Okabe, K. Ito, "Color
Universal Design" (2008) [from memory] without their yellow, which is too light on white; a dash
of its own tells each apart in grey.
"""

from __future__ import annotations

from dataclasses import dataclass

Dash = tuple[float, ...]  # in widths of the line; empty where it is full


@dataclass(frozen=True)
class PageSizes:
    """The sizes of one layout; text sizes are px of the letter."""

    width: float
    margin: float
    headline: float
    conditions: float
    panel: float
    name: float
    tick: float
    note: float
    main: float
    difference: float
    small: float
    row: float
    curve: float
    context: float
    narrow: bool = False


WIDE = PageSizes(1152, 40, 26, 16, 16, 16, 14.5, 13.5, 430, 190, 220, 27, 2.4, 1.2)
PAGE = PageSizes(780, 24, 21, 14, 14, 14, 13, 12, 330, 150, 172, 23, 2, 1)
PHONE = PageSizes(390, 16, 19, 13.5, 14, 13.5, 12.5, 12, 260, 130, 150, 21, 1.9, 1, narrow=True)
# On a page that has headline, conditions and notes itself: as wide as a phone's text.
SHEET = PageSizes(358, 0, 19, 13.5, 14, 13.5, 12.5, 12, 260, 130, 150, 21, 1.9, 1, narrow=True)

LIGHT = {
    "ground": "#FFFFFF", "ink": "#16191C", "soft": "#5A6168", "grid": "#DFE2E5",
    "band": "#C9CDD1", "faint": "#E9EBED", "context": "#A4AAB0",
}  # fmt: skip
DARK = {
    "ground": "#15181B", "ink": "#ECE9E4", "soft": "#A9AEB3", "grid": "#31363B",
    "band": "#4A5157", "faint": "#2B3035", "context": "#62696F",
}  # fmt: skip
_HUES = ("", "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00", "")  # "": ink
DASHES: tuple[Dash, ...] = (
    (), (5, 1.8), (1.8, 1.2), (6, 1.5, 1.2, 1.5), (5, 1.3, 1.1, 1.3, 1.1, 1.3), (0.9, 1.1),
    (11, 2.2), (9, 1.6, 3, 1.6),
)  # fmt: skip
TARGET: Dash = (1, 2.2)
RELIEF: Dash = (9, 3, 1.5, 3)
SLOTS = len(_HUES)
_LEAST_CONTRAST = 4.6


def palette(dark: bool = False, ink_only: bool = False) -> dict[str, str]:
    """Every role a colour: ground, ink and greys; `line1`... of the slots, `word1`... of the
    words in a slot's colour, `wash1`... of its band and `fill1`... of its sag."""
    base = DARK if dark else LIGHT
    out = dict(base)
    for slot, hue in enumerate(_HUES):
        line = base["ink"] if ink_only or not hue else hue
        out[f"line{slot}"] = line
        out[f"word{slot}"] = _readable(line, base["ink"], base["ground"])
        out[f"wash{slot}"] = mixed(line, base["ground"], 0.26 if dark else 0.17)
        out[f"fill{slot}"] = mixed(line, base["ground"], 0.45)
    return out


def mixed(colour: str, other: str, share: float) -> str:
    """A share of one colour and the rest of another.

    >>> mixed("#000000", "#FFFFFF", 0.5)
    '#808080'
    """
    pairs = zip(_rgb(colour), _rgb(other), strict=True)
    return "#" + "".join(f"{round(share * a + (1 - share) * b):02X}" for a, b in pairs)


def contrast(one: str, other: str) -> float:
    """The ratio of two colours' luminance, 1 to 21 (W3C, WCAG 2.2, "contrast ratio")."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _readable(line: str, ink: str, ground: str) -> str:
    shares = (1 - step / 20 for step in range(21))
    words = (mixed(line, ink, share) for share in shares)
    return next((one for one in words if contrast(one, ground) >= _LEAST_CONTRAST), ink)


def _rgb(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))


def _luminance(colour: str) -> float:
    parts = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (one / 255 for one in _rgb(colour))
    ]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]

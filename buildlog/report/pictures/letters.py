"""The typeface: what a text measures, how it is broken, and the letters that a page carries.

`fonts/` holds two subsets of Source Sans (SIL Open Font License, its text beside them), renamed
as the licence asks of changed fonts. What they lack is measured and drawn in the fonts that
matplotlib carries.
"""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

FAMILY = "Buildlog Sans"
_FILES = {False: "BuildlogSans-Regular.ttf", True: "BuildlogSans-Semibold.ttf"}
ASCENT, DESCENT = 0.76, 0.24  # of a line's box, in sizes above and below its baseline
LINE, HEADLINE = 1.28, 1.22  # from one line to the next, in sizes
_BOUND = "\N{NO-BREAK SPACE}"
_NO_LETTER = 1.15  # sizes: the box of the font that matplotlib has for such letters
_UNIT = re.compile(
    r"(?<=[\d)]) (?=(?:%|hp|kW|lb·ft|N·m|rpm|km/h|mph|mi|km|psi|kPa|bar|°[CF])(?![\w·]))"
)


def file(bold: bool) -> Path:
    """The font's file."""
    return Path(__file__).with_name("fonts") / _FILES[bold]


def bound(text: str) -> str:
    """Signs as print has them, and what belongs together kept on one line.

    >>> bound("66 ± 17 hp, 95 %, 270 of 284 lb*ft").replace(_BOUND, "~")
    '66~±~17~hp, 95~%, 270~of~284~lb·ft'
    """
    text = text.replace("lb*ft", "lb·ft").replace("N*m", "N·m").replace(" ± ", f"{_BOUND}±{_BOUND}")
    text = re.sub(r"(?<=\d )deg([CF])\b", r"°\1", text)
    text = re.sub(r"(?<![\w.)\-/])-(?=\d)", "\N{MINUS SIGN}", text)
    text = re.sub(r"(?<=[\d,]) of (?=\d)", f"{_BOUND}of{_BOUND}", text)
    return _UNIT.sub(_BOUND, text)


@cache
def _face(bold: bool) -> Any:
    from matplotlib.ft2font import FT2Font

    return FT2Font(str(file(bold)))


@cache
def _other_face() -> Any:
    from matplotlib import get_data_path
    from matplotlib.ft2font import FT2Font

    return FT2Font(str(Path(get_data_path(), "fonts", "ttf", "DejaVuSans.ttf")))


@cache
def _advance(letter: str, bold: bool) -> float:
    """The width of a letter, in sizes; of one that no font has, that of the box drawn for it."""
    from matplotlib.ft2font import LoadFlags

    for face in (_face(bold), _other_face()):
        if face.get_char_index(ord(letter)):
            face.set_size(100, 72)
            glyph = face.load_char(ord(letter), flags=LoadFlags.NO_HINTING)
            return float(glyph.linearHoriAdvance) / 6_553_600
    return _NO_LETTER


def width(text: str, size: float, bold: bool = False) -> float:
    """How wide a text is at a size; letters side by side, without kerning."""
    return size * sum(_advance(letter, bold) for letter in text)


def wrapped(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """The fewest lines that fit, broken at blanks alone; a word too wide is broken, too."""
    lines: list[str] = []
    now = ""
    for word in text.split(" "):
        told = f"{now} {word}" if now else word
        if width(told, size, bold) <= room:
            now = told
            continue
        lines += [now] if now else []
        while width(word, size, bold) > room and len(word) > 1:
            keep = next(n for n in range(len(word), 0, -1)
                        if n == 1 or width(word[:n], size, bold) <= room)  # fmt: skip
            lines.append(word[:keep])
            word = word[keep:]
        now = word
    return [*lines, now]


def balanced(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """As few lines as fit, in the narrowest column that keeps their number."""
    lines = wrapped(text, size, room, bold)
    low, high = 0.0, room
    while high - low > 1 and len(lines) > 1:
        middle = (low + high) / 2
        tried = wrapped(text, size, middle, bold)
        if len(tried) <= len(lines):
            high, lines = middle, tried
        else:
            low = middle
    return lines


def flowing(text: str, size: float, room: float) -> list[str]:
    """Lines that fill the width; balanced where the last would hold a few words only."""
    lines = wrapped(text, size, room)
    short = len(lines) > 1 and width(lines[-1], size) < 0.3 * room
    return balanced(text, size, room) if short else lines


def fitted(text: str, size: float, room: float, bold: bool = False) -> str:
    """A name that keeps both its ends, cut in the middle at a word's end where one is near."""
    if width(text, size, bold) <= room:
        return text
    for left_out in range(1, len(text)):
        keep = len(text) - left_out
        head, tail = text[: keep - keep // 2], text[len(text) - keep // 2 :] if keep > 1 else ""
        if width(f"{head}…{tail}", size, bold) <= room:
            blank = head.rfind(" ", len(head) - 5)
            head = head[:blank] if blank > 0 else head
            blank = tail.find(" ", 0, 5)
            tail = tail[blank + 1 :] if blank >= 0 else tail
            return f"{head.rstrip()}…{tail.lstrip()}"
    return "…"


@cache
def woff(letters: str, bold: bool) -> bytes:
    """The part of a font that these letters need, as a browser reads it; the same letters, the
    same bytes."""
    from fontTools import subset
    from fontTools.ttLib import TTFont

    options = subset.Options(layout_features=["kern"], notdef_outline=True, hinting=False)
    font = TTFont(file(bold), recalcTimestamp=False)
    chosen = subset.Subsetter(options)
    chosen.populate(text=letters)
    chosen.subset(font)
    font.flavor = "woff"
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


def font_face(texts: Sequence[tuple[str, bool]]) -> str:
    """The rules of CSS that carry the letters of texts, each with whether it is semibold."""
    rules = []
    for bold in (False, True):
        letters = "".join(sorted({letter for text, b in texts if b is bold for letter in text}))
        if letters.strip():
            data = base64.b64encode(woff(letters, bold)).decode()
            rules.append(
                f'@font-face{{font-family:"{FAMILY}";font-weight:{600 if bold else 400};'
                f"src:url(data:font/woff;base64,{data})}}"
            )
    return "".join(rules)

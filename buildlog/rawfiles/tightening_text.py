"""What a maker's sheet asks of a joint, as people write it: "30 / 60 N*m + 90 deg", "22 ± 2 Nm"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from buildlog import units
from buildlog.errors import InvalidInput
from buildlog.rawfiles.aliases import spelling

_NUMBER = r"\d+(?:\.\d+)?|\.\d+"
_APART = re.compile(r"\s*(?:;|→|->|\bthen\b|\bplus\b|\band\b|,\s+|\+(?!/)|/(?=\s*\d))\s*", re.I)
_RANGE = re.compile(
    rf"({_NUMBER})\s*([^\d\s.][^\d]*?)?\s*(?:-|–|—|\bto\b|\.{{2,3}}|…)\s*({_NUMBER})\s*(.*)"
)
_SPREAD = re.compile(rf"({_NUMBER})\s*([^\d±+]*?)\s*(?:±|\+/-|\+-)\s*({_NUMBER})\s*(.*)")
_PLAIN = re.compile(rf"({_NUMBER})\s*(.*)")
_TIMES = re.compile(r"([2-9])\s*[x×]\s*(\d.*)")
_TURN = re.compile(r"(\d+)\s*/\s*(\d+)\s*(?:of a\s*)?turns?\b", re.I)
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")


@dataclass(frozen=True)
class TightenTo:
    """One stage: least and largest, in one unit of the table; equal where it is no range."""

    low: str
    high: str
    turns: bool

    @property
    def text(self) -> str:
        """ "30 N*m", "20 to 24 N*m"."""
        if self.low == self.high:
            return self.low
        return f"{self.low.split(' ', 1)[0]} to {self.high}"


def asked(text: str, unit: str | None = None) -> list[TightenTo]:
    """The stages that a text asks for; a bare number is in the unit behind it, else in `unit`.

    >>> [one.text for one in asked("30 / 60 N*m + 2 x 90°")]
    ['30 N*m', '60 N*m', '90 deg', '90 deg']
    >>> [one.text for one in asked("20-24", "lb*ft") + asked("22 ± 2 Nm") + asked("1/4 turn")]
    ['20 to 24 lb*ft', '20 to 24 N*m', '90 deg']
    """
    plain = _TURN.sub(lambda turn: f"{360 * int(turn[1]) / int(turn[2]):g} deg", text)
    plain = _DECIMAL_COMMA.sub(".", plain.replace("°", " deg "))
    read = [found for piece in _APART.split(plain) if piece for found in _pieces(piece, text)]
    stages, behind = [], None
    for numbers, own in reversed(read):
        behind = own or behind
        stages.append(_stage(numbers, behind or unit or _before(read), text))
    return stages[::-1]


def _before(read: list[tuple[tuple[float, float], str]]) -> str | None:
    """The unit that stands first, for bare numbers behind it."""
    return next((unit for _, unit in read if unit), None)


def _pieces(piece: str, text: str) -> list[tuple[tuple[float, float], str]]:
    """Least and largest number of a stage and its unit, as often as it is asked for."""
    if times := _TIMES.fullmatch(piece.strip()):
        return _pieces(times[2], text) * int(times[1])
    plain = piece.strip()
    if found := _SPREAD.fullmatch(plain):
        middle, off = float(found[1]), float(found[3])
        off = middle * off / 100 if found[4].strip() in ("%", "percent") else off
        unit = found[2] or ("" if found[4].strip() in ("%", "percent") else found[4])
        return [((middle - off, middle + off), unit.strip())]
    if found := _RANGE.fullmatch(plain):
        return [((float(found[1]), float(found[3])), (found[4] or found[2] or "").strip())]
    if found := _PLAIN.fullmatch(plain):
        return [((float(found[1]), float(found[1])), found[2].strip())]
    raise InvalidInput(
        f'"{text}" is no torque, range or angle',
        hint='write it like "22 N*m", "20 to 24 N*m", "30 / 60 N*m + 90 deg"',
    )


def _plainest(row: units.Unit) -> units.Unit:
    """The first of the table's spellings of one unit: what is printed everywhere."""
    known = (units.unit(text, row.dimension) for text in units.texts((row.dimension,)))
    return next(one for one in known if one.factor == row.factor)


def _stage(numbers: tuple[float, float], unit: str | None, text: str) -> TightenTo:
    if unit is None:
        raise InvalidInput(f'"{text}" needs a unit', hint='write "22 N*m", or say it with --map')
    found = units.as_written(f"1 {unit}")
    spelt = spelling(unit) if found is None or found.dimension == "energy" else None
    found = units.as_written(f"1 {spelt.unit}") if spelt else found
    row = units.find(found.unit.text, ("torque", "angle")) if found else None
    row = _plainest(row) if row else None
    if row is None:
        raise InvalidInput(
            f'"{unit}" in "{text}" is no unit of torque or angle',
            hint=f"known here: {', '.join(units.one_spelling(('torque', 'angle')))}",
        )
    low, high = numbers
    if low > high:
        raise InvalidInput(f'"{text}" is no range: {low:g} is above {high:g}')
    return TightenTo(f"{low:g} {row.text}", f"{high:g} {row.text}", row.dimension == "angle")

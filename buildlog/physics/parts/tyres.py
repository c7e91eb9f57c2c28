"""Tyre sizes, rolling circumference, speed symbols and load indices."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import pi

from buildlog.physics.numerics.constants import INCH


@dataclass(frozen=True)
class TyreSize:
    """A size designation in SI, with the service description where it was written.

    width: nominal section width [m]; aspect: section height over width [-];
    rim: nominal rim diameter [m]; load_index and speed_symbol as marked, or None.
    """

    width: float
    aspect: float
    rim: float
    load_index: int | None = None
    speed_symbol: str | None = None


_DESIGNATION = re.compile(
    r"""(?:P|LT)?\s*(?P<width>\d{3}) (?: \s*/\s* (?P<aspect>\d{2,3}) )?
    \s* (?P<zr>Z?)R \s* (?P<rim>\d{2}(?:\.5)?) \s* (?:XL|C)?
    (?: \s* \(?\s* (?P<load>\d{2,3}) (?:/\d{2,3})? \s* (?P<speed>[A-Z]) \s*\)? )? \s* (?:XL)?""",
    re.VERBOSE | re.IGNORECASE,
)


OLDER_SERIES = 82  # [%] height over width of a radial that states none; common practice, no source


def parse_size(text: str) -> TyreSize:
    """Read a metric radial tyre size such as "205/55 R16" or "205/55R16 91V".

    Formula: width in mm / height in % of width, R, rim diameter code (25.4 mm each);
    then load index and speed symbol if marked.
    Inputs: text [-].
    Result: TyreSize (width [m], aspect [-], rim [m]).
    Validity: metric radial sizes, "ZR" and the prefixes P and LT included; one without a height,
    as older cars have it ("165 R14"), is of the 82 series (common practice). Not inch
    ("31x10.5"), diagonal or millimetre-rim sizes.
    Errors: ValueError for anything else.
    Source: marking rules of UN Regulation No. 30 (from memory).

    >>> parse_size("205/55R16 91V").load_index
    91
    >>> round(parse_size("205/55 R16").rim, 4)
    0.4064
    """
    found = _DESIGNATION.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{text!r} is not a metric radial tire size such as 205/55 R16 91V.")
    load, speed = found["load"], found["speed"]
    return TyreSize(
        width=int(found["width"]) / 1000,
        aspect=int(found["aspect"] or OLDER_SERIES) / 100,
        rim=float(found["rim"]) * INCH,
        load_index=int(load) if load else None,
        speed_symbol=speed.upper() if speed else ("ZR" if found["zr"] else None),
    )


def diameter(size: TyreSize) -> float:
    """Return the design outer diameter of a new tyre, unloaded.

    Formula: D = d + 2 H, H = aspect * width.
    Inputs: size TyreSize ([m], [-], [m]).
    Result: outer diameter [m].
    Validity: nominal; UN R30 allows 0.97 to 1.04 of H for a new radial (from memory), and
    rounds H and d to whole millimetres, which differs by at most 0.8 mm from this.
    Errors: none.
    Source: UN Regulation No. 30 (from memory; the rule D = rim + 2 H secondary).

    >>> round(diameter(parse_size("245/45 R17")) * 1000, 1)
    652.3
    """
    return size.rim + 2 * size.aspect * size.width


def rolling_circumference(diameter: float) -> float:
    """Return the distance covered in one turn of a rolling, loaded tyre.

    Formula: C = pi D / 1.032.
    Inputs: design outer diameter D [m].
    Result: rolling circumference [m].
    Validity: radial car tyres at their usual pressure and road speed; one standard
    deviation of 1.6 % between cars. A measured value is better.
    Errors: ValueError unless the diameter is above zero.
    Source: 1.032 is the median of 70 manual cars (Consumer Reports, April 1990, table
    car90; computed). The tyre makers' convention 3.05 D (from memory) is 1.030.

    >>> round(1609.344 / rolling_circumference(0.6523), 2)  # turns per mile
    810.46
    """
    if diameter <= 0:
        raise ValueError(f"the tire diameter must be above zero, not {diameter} m.")
    return pi * diameter / 1.032


# Note that H stands between U and V. Two consistent trade tables, a car maker's support
# page for Q, T, H, V, W and Y (secondary).
SPEED_SYMBOLS: dict[str, float] = {
    symbol: kmh / 3.6
    for symbol, kmh in {
        "F": 80, "G": 90, "J": 100, "K": 110, "L": 120, "M": 130, "N": 140, "P": 150,
        "Q": 160, "R": 170, "S": 180, "T": 190, "U": 200, "H": 210, "V": 240, "W": 270,
        "Y": 300, "ZR": 240,
    }.items()
}  # fmt: skip
"""Highest speed of each speed symbol [m/s]. "ZR" alone promises "above 240 km/h" and
states no upper end: what is here is its floor, up to which it is clear; beyond it is unknown."""

# UN Regulation No. 30, annex 4 (from memory); checked against the geometric rule
# kg = 45 * 10^(index/80), which holds to 1.8 % and must not replace the table.
LOAD_INDEX: dict[int, float] = {
    70: 335, 71: 345, 72: 355, 73: 365, 74: 375, 75: 387, 76: 400, 77: 412, 78: 425, 79: 437,
    80: 450, 81: 462, 82: 475, 83: 487, 84: 500, 85: 515, 86: 530, 87: 545, 88: 560, 89: 580,
    90: 600, 91: 615, 92: 630, 93: 650, 94: 670, 95: 690, 96: 710, 97: 730, 98: 750, 99: 775,
    100: 800, 101: 825, 102: 850, 103: 875, 104: 900, 105: 925, 106: 950, 107: 975, 108: 1000,
    109: 1030, 110: 1060, 111: 1090, 112: 1120, 113: 1150, 114: 1180, 115: 1215, 116: 1250,
    117: 1285, 118: 1320, 119: 1360, 120: 1400,
}  # fmt: skip
"""Load one tyre may carry [kg] by load index."""

"""How numbers are shown: units, digits, signs. The only place that decides these.

- Digits follow the uncertainty: its two leading digits are shown, the value to match.
- Without an uncertainty, power and torque are shown to a tenth, speeds to the unit.
- A share of a limit is rounded away from it: 99.6 % of a limit never reads 100 %.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from buildlog.units import System, Unit, unit

_UNITS = {  # of a dimension: in US units, in metric ones
    "power": ("hp", "kW"),
    "torque": ("lb*ft", "N*m"),
    "length": ("mi", "km"),
    "speed": ("mph", "km/h"),
    "pressure": ("psi", "kPa"),
    "temperature": ("degF", "degC"),
    "mass": ("lb", "kg"),
    "volume_flow": ("cc/min", "cc/min"),
    "mass_flow": ("lb/h", "kg/h"),
}


@dataclass(frozen=True)
class Display:
    """The units that results are shown in."""

    system: System

    def unit(self, dimension: str) -> Unit:
        """The display unit of a dimension."""
        return unit(_UNITS[dimension][self.system == "metric"], dimension)

    def value(self, si: float, dimension: str, decimals: int | None = None) -> str:
        """ "142.1 hp": a value with its unit."""
        shown = self.unit(dimension)
        return f"{plain(shown.from_si(si), _decimals(dimension, decimals))} {shown.text}"

    def number(self, si: float, dimension: str, decimals: int | None = None) -> str:
        """ "142.1": a value without its unit."""
        return plain(self.unit(dimension).from_si(si), _decimals(dimension, decimals))

    def change(self, si: float, half: float | None, dimension: str) -> str:
        """ "+69.3 ± 6.9 hp": a difference with its 95 % half-width."""
        shown = self.unit(dimension)
        value = si / shown.factor
        if half is None or not math.isfinite(half):
            return f"{signed(value, _decimals(dimension, None))} {shown.text}"
        half /= shown.factor
        decimals = digits_for(half)
        return f"{signed(value, decimals)} ± {plain(half, decimals)} {shown.text}"

    def distance(self, metres: float | None) -> str:
        """ "88,412 mi", or "unknown"."""
        if metres is None:
            return "unknown"
        return self.value(metres, "length", 0)


def plain(value: float, decimals: int = 0) -> str:
    """ "12,345.7" with thousands commas and no negative zero."""
    text = f"{value:,.{decimals}f}"
    return text.lstrip("-") if float(text.replace(",", "")) == 0 else text


def signed(value: float, decimals: int = 0) -> str:
    """ "+69.3" or "-2.1"; a difference that rounds to nothing is "0.0"."""
    text = plain(value, decimals)
    return text if text.startswith("-") or float(text.replace(",", "")) == 0 else f"+{text}"


def digits_for(half_width: float) -> int:
    """Decimals that show the two leading digits of an uncertainty.

    >>> digits_for(6.93), digits_for(0.42), digits_for(125.0)
    (1, 2, 0)
    """
    if not half_width > 0 or not math.isfinite(half_width):
        return 1
    return max(0, 1 - math.floor(math.log10(half_width)))


def share(value: float) -> str:
    """A share as per cent, rounded towards less being left: 0.079 -> "7 %".

    >>> share(0.0799), share(-0.001), share(0.0)
    ('7 %', '-1 %', '0 %')
    """
    return f"{math.floor(100 * value + 1e-9)} %"


def count(number: int, one: str, many: str | None = None) -> str:
    """ "1 entry", "3 entries"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def finite(value: float) -> float | None:
    """A number for JSON, which knows none that is infinite."""
    return value if math.isfinite(value) else None


def kilometres(metres: float | None) -> float | None:
    """A distance in metres as the kilometres of a key that ends in _km."""
    return None if metres is None else metres / 1000


def axis_unit(axis: str) -> str:
    """What an axis is measured in."""
    return "rpm" if axis == "engine_speed" else "km/h"


def axis_value(value: float, axis: str) -> str:
    """ "5,600 rpm", to ten on an engine-speed axis."""
    return f"{axis_number(value, axis)} {axis_unit(axis)}"


def axis_number(value: float, axis: str) -> str:
    """The same without its unit."""
    return plain(round(value, -1) if axis == "engine_speed" else value)


def _decimals(dimension: str, asked: int | None) -> int:
    return asked if asked is not None else int(dimension != "length")

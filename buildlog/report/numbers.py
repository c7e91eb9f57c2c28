"""How numbers are shown: units, digits, signs. The only place that decides these.

- Digits follow the uncertainty: its two leading digits are shown, the value to match.
- Without an uncertainty, power and torque are shown to a tenth, speeds to the unit.
- A share of a limit is rounded away from it: 99.6 % of a limit never reads 100 %.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from buildlog.findings import how_many
from buildlog.units import BY_THE_THOUSAND, Quantity, System, Unit, unit

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
    "force": ("lbf", "N"),
}


# What stands for a unit of the other system, where somebody declared a value in that one.
_METRIC = {
    "in": "mm", "thou": "mm", "ft": "m", "mi": "km", "psi": "kPa", "ksi": "MPa", "inHg": "hPa",
    "degF": "degC", "hp": "kW", "lb*ft": "N*m", "ft*lb": "N*m", "lbf*ft": "N*m", "lb-ft": "N*m",
    "ft-lb": "N*m", "lb*in": "N*m", "lbf*in": "N*m", "lb": "kg", "lbf": "N", "mph": "km/h",
    "lb/h": "kg/h", "lb/hr": "kg/h", "lb/min": "kg/h", "cu in": "cc", "in^3": "cc",
    "in^2": "cm^2", "ft^2": "m^2", "lb*ft^2": "kg*m^2", "lb*in^2": "kg*m^2", "cfm": "m^3/h",
    "ft/min": "m/s", "lbf/mph": "N*s/m", "lbf/mph^2": "N*s^2/m^2",
}  # fmt: skip
_US = {
    "mm": "in", "cm": "in", "m": "ft", "km": "mi", "um": "thou", "kPa": "psi", "bar": "psi",
    "MPa": "psi", "GPa": "ksi", "hPa": "inHg", "mbar": "inHg", "Pa": "psi", "mmHg": "inHg",
    "kgf/cm^2": "psi", "degC": "degF", "kW": "hp", "PS": "hp", "W": "hp", "N*m": "lb*ft",
    "Nm": "lb*ft", "kgf*m": "lb*ft", "kg": "lb", "g": "lb", "t": "lb", "N": "lbf", "kN": "lbf",
    "kgf": "lbf", "km/h": "mph", "m/s": "ft/min", "kg/h": "lb/h", "kg/s": "lb/min", "g/s": "lb/min",
    "g/min": "lb/h", "mm^2": "in^2", "cm^2": "in^2", "m^2": "ft^2", "kg*m^2": "lb*ft^2",
    "m^3/h": "cfm", "N*s/m": "lbf/mph", "N/(km/h)": "lbf/mph", "N*s^2/m^2": "lbf/mph^2",
    "N/(km/h)^2": "lbf/mph^2",
}  # fmt: skip


OTHER: dict[str, dict[str, str]] = {"us": _US, "metric": _METRIC}  # what stands instead, by system
# The system of an answer, once it is known for whom; everything that it says is in it.
SPOKEN: ContextVar[System | None] = ContextVar("spoken", default=None)

# Of units that go by several names in the table, the one that is printed.
PRINTED = {
    "lb-ft": "lb*ft", "ft-lb": "lb*ft", "ft*lb": "lb*ft", "lbf*ft": "lb*ft", "lbf*in": "lb*in",
    "Nm": "N*m", "lb/hr": "lb/h", "in^3": "cu in", "l": "L", "l/min": "L/min", "l/h": "L/h",
    "ml": "mL", "ml/min": "cc/min", "cm^3/min": "cc/min",
}  # fmt: skip
_WRITTEN = re.compile(r"[-+]?[\d.,]+(?:[eE][-+]?\d+)?")


@contextmanager
def all_in(system: System | None) -> Iterator[None]:
    """Inside, declared values and the program's sentences are in these units."""
    before = SPOKEN.set(system)
    try:
        yield
    finally:
        SPOKEN.reset(before)


def speaking(system: System) -> Display:
    """The units of results; from here on whatever the program says is in them."""
    SPOKEN.set(system)
    return Display(system)


def declared(value: Quantity) -> str:
    """A declared value in the units of the answer, to about the digits that it was written with;
    as its author wrote it where its unit belongs there, or where nobody said for whom.

    >>> from buildlog.units import parse
    >>> with all_in("us"):
    ...     print(declared(parse("84.0 mm", ("length",))), declared(parse("7 psi", ("pressure",))))
    3.307 in 7 psi
    >>> with all_in("us"):
    ...     print(declared(parse("230 ft-lbs", ("torque",))))
    230 lb*ft
    """
    system = SPOKEN.get()
    other = OTHER[system].get(value.unit.text) if system else None
    if other is None:
        written = value.text if system is None else _one_spelling(value)
        many = system is not None and value.dimension in BY_THE_THOUSAND
        return _by_thousands(written) if many else written
    shown = unit(other, value.dimension)
    told = shown.from_si(value.si)
    step = max(2 * value.half_step / shown.factor, 1e-6) * (2 if abs(told) >= 100 else 1)
    number = plain(told, max(0, math.ceil(-math.log10(step) - 1e-9)))
    if value.dimension not in BY_THE_THOUSAND:
        number = number.replace(",", "")  # so that it is taken when it is typed
    return f"{number} {shown.text}"


def _one_spelling(value: Quantity) -> str:
    """ "230 ft-lbs" as print has every torque: "230 lb*ft"."""
    written, name = value.text, value.unit.text
    number = _WRITTEN.match(written)
    if number is None or (name not in PRINTED and written.endswith(f" {name}")):
        return written
    return f"{number[0]} {PRINTED.get(name, name)}"


def _by_thousands(written: str) -> str:
    """ "6500 rpm" as results have it: "6,500 rpm"."""
    number, blank, unit_of = written.partition(" ")
    whole, dot, rest = number.partition(".")
    if len(whole) > 3 and whole.isdecimal():
        whole = f"{int(whole):,}"
    return f"{whole}{dot}{rest}{blank}{unit_of}"


@dataclass(frozen=True)
class Display:
    """The units that results are shown in."""

    system: System

    def unit(self, dimension: str) -> Unit:
        """The display unit of a dimension."""
        return unit(_UNITS[dimension][self.system == "metric"], dimension)

    def instead(self, text: str) -> str:
        """What stands for a unit of the trade in this system: "m/s" -> "ft/min"."""
        if (text, self.system) == ("MPa", "us"):
            return "ksi"  # of a stress; a pressure of so many MPa is told in psi
        return OTHER[self.system].get(text, text)

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


def gain_digits(*ends: float) -> int:
    """Decimals of a predicted gain: none, but as many as it takes that a small one is not nothing.

    >>> gain_digits(-1.2, 5.0), gain_digits(0.04, 0.31), gain_digits(0.0, 0.03)
    (0, 1, 2)
    """
    most = max(abs(end) for end in ends)
    return next((n for n in (0, 1) if round(most * 10**n) >= 1), 2 if most > 0 else 0)


def gains(ends: Sequence[float], factor: float = 1.0) -> list[str]:
    """Ends of a predicted gain [SI] in a unit of so many SI: "+51", "+82"."""
    told = [end / factor for end in ends]
    digits = gain_digits(*told)
    return [signed(end, digits) for end in told]


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


count = how_many  # "1 entry", "3 entries"


def freedom(dof: float) -> str:
    """ "4 degrees of freedom".

    >>> freedom(1.0), freedom(2.5)
    ('1 degree of freedom', '2.5 degrees of freedom')
    """
    return f"{dof:g} {'degree' if dof == 1 else 'degrees'} of freedom"


def finite(value: float) -> float | None:
    """A number for JSON, which knows none that is infinite."""
    return value if math.isfinite(value) else None


def kilometres(metres: float | None) -> float | None:
    """A distance in metres as the kilometres of a key that ends in _km."""
    return None if metres is None else metres / 1000


def axis_unit(axis: str) -> str:
    """What an axis is shown in; in files and in JSON road speed is in km/h always.

    >>> with all_in("us"):
    ...     print(axis_unit("road_speed"), axis_value(100.0, "road_speed"))
    mph 62 mph
    """
    if axis == "engine_speed":
        return "rpm"
    return _UNITS["speed"][SPOKEN.get() != "us"]


def axis_scale(axis: str) -> float:
    """What a place on an axis [rpm or km/h] is multiplied by to be shown."""
    shown, stored = axis_unit(axis), "km/h"
    if axis == "engine_speed" or shown == stored:
        return 1.0
    return unit(stored, "speed").factor / unit(shown, "speed").factor


def axis_value(value: float, axis: str) -> str:
    """ "5,600 rpm", to ten on an engine-speed axis."""
    return f"{axis_number(value, axis)} {axis_unit(axis)}"


def axis_number(value: float, axis: str) -> str:
    """The same without its unit."""
    return plain(round(value, -1) if axis == "engine_speed" else value * axis_scale(axis))


def _decimals(dimension: str, asked: int | None) -> int:
    return asked if asked is not None else int(dimension != "length")

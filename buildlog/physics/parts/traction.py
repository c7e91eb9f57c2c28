"""Grip, load and age of tyres."""

from __future__ import annotations

import re
from datetime import date

from buildlog.physics.numerics.arguments import above_zero, not_negative
from buildlog.physics.numerics.constants import G0
from buildlog.physics.parts.tyres import LOAD_INDEX, SPEED_SYMBOLS

# Share of the load index allowed at the symbol's own speed, and the speed from which it
# falls in a straight line: UN Regulation No. 30 (from memory).
_LOAD_AT_SPEED = {
    "V": (210 / 3.6, 240 / 3.6, 0.91),
    "W": (240 / 3.6, 270 / 3.6, 0.85),
    "Y": (270 / 3.6, 300 / 3.6, 0.85),
}


def speed_rating(symbol: str) -> float:
    """Return the highest speed of a tyre's speed symbol.

    Formula: table. Inputs: symbol, such as "H". Result: speed [m/s].
    Validity: inflation and load as marked. Errors: ValueError for an unknown symbol.
    Source: tyres.SPEED_SYMBOLS.

    >>> round(speed_rating("h") * 3.6, 6)
    210.0
    """
    try:
        return SPEED_SYMBOLS[symbol.strip().upper()]
    except KeyError:
        known = ", ".join(SPEED_SYMBOLS)
        raise ValueError(f"{symbol!r} is not a speed symbol of a tire ({known}).") from None


def axle_capacity(load_index: int, tyres: int = 2, symbol: str = "", speed: float = 0.0) -> float:
    """Return the mass that the tyres of one axle may carry.

    Formula: number of tyres times the table's load, less the reduction above 210 (V), 240
    (W) or 270 (Y) km/h.
    Inputs: load_index [-], tyres on the axle [-], speed symbol, highest speed [m/s].
    Result: mass [kg].
    Validity: inflation for that load. Errors: ValueError for an index outside the table.
    Source: tyres.LOAD_INDEX; reduction UN Regulation No. 30 (from memory).

    >>> axle_capacity(91)
    1230.0
    """
    above_zero(number_of_tires=tyres)
    if load_index not in LOAD_INDEX:
        first, last = min(LOAD_INDEX), max(LOAD_INDEX)
        raise ValueError(f"{load_index} is not a load index in the table ({first} to {last}).")
    return float(tyres * LOAD_INDEX[load_index] * load_share(symbol, speed))


def load_share(symbol: str, speed: float) -> float:
    """Return the share of the load index that a tyre may carry at a speed.

    Formula: 1 up to a speed, falling in a straight line to 0.91 (V) or 0.85 (W, Y) at the
    symbol's own. Inputs: symbol, speed [m/s]. Result: share [-].
    Validity: V, W and Y; others carry all of it up to their own speed. Above the symbol's
    speed the last share is kept, since the speed margin tells of that.
    Errors: ValueError for a negative speed. Source: UN Regulation No. 30 (from memory).

    >>> round(load_share("V", 225 / 3.6), 4)
    0.955
    """
    not_negative(speed=speed)
    if symbol not in _LOAD_AT_SPEED:
        return 1.0
    begin, end, least = _LOAD_AT_SPEED[symbol]
    share = min(1.0, max(0.0, (speed - begin) / (end - begin)))
    return 1 - share * (1 - least)


def made_on(code: str) -> date:
    """Return the Monday of the week in which a tyre was made.

    Formula: the code's last four digits are week and year.
    Inputs: code such as "2319" or "DOT ... 2319". Result: date.
    Validity: tyres made since 2000; before, three digits leave the decade open.
    Errors: ValueError for anything else or a week the year does not have.
    Source: tyre marking (DOT code; common knowledge of the trade, from memory).

    >>> made_on("2319").isoformat()
    '2019-06-03'
    """
    found = re.search(r"(?:^|\s)(\d{2})(\d{2})$", code.strip())
    if found is None:
        raise ValueError(
            f"{code!r} is not a tire's date code: four digits, week and year, such as 2319; "
            "three digits mean a tire made before 2000."
        )
    week, year = int(found[1]), 2000 + int(found[2])
    try:
        return date.fromisocalendar(year, week, 1)
    except ValueError:
        raise ValueError(
            f"{code!r} is not a tire's date code: {year} has no week {week}."
        ) from None


def age_years(made: date, on: date) -> float:
    """Return the age of a tyre.

    Formula: days/365.25. Inputs: dates. Result: age [years].
    Validity: any. Errors: ValueError if the tyre was made after the date.
    Source: definition.

    >>> round(age_years(date(2019, 6, 3), date(2026, 6, 3)), 2)
    7.0
    """
    if made > on:
        raise ValueError(f"the tire would be made ({made}) after the date of the check ({on}).")
    return (on - made).days / 365.25


def grip_force(friction: float, axle_mass: float, height_over_wheelbase: float = 0.0) -> float:
    """Return the force that the driven tyres can pass to the road.

    Formula: F = mu N with the load that the force itself moves, mu m g/(1 -/+ mu h/L):
    height_over_wheelbase positive for rear drive, negative for front drive, 0 for a car on
    a roller or with all wheels driven.
    Inputs: friction mu [-], static mass on the driven axle [kg], h/L [-]. Result: force [N].
    Validity: level road, no aerodynamic load; a locked or open differential is not modelled.
    Errors: ValueError unless mu and mass are above zero, or when the car would lift its
    front wheels (mu h/L of 1 and more).
    Source: equilibrium of forces; Gillespie, Fundamentals of Vehicle Dynamics, ch. 2 (from
    memory).

    >>> round(grip_force(1.0, 700.0, 0.2) / (700 * G0), 4)
    1.25
    """
    above_zero(tire_friction=friction, axle_mass=axle_mass)
    share = 1 - friction * height_over_wheelbase
    if share <= 0:
        raise ValueError("friction and height of the center of gravity would lift the front axle.")
    return friction * axle_mass * G0 / share


def torque_at_grip(force: float, overall_ratio: float, radius: float) -> float:
    """Return the torque in front of a ratio that a wheel force answers to, losses left out.

    Formula: T = F r/i; with losses the torque there would be higher, so this bounds what
    the tyres let a driveshaft see. Inputs: force [N], overall_ratio between shaft and wheel
    [-], radius [m]. Result: torque [N*m].
    Validity: steady running. Errors: ValueError unless ratio and radius are above zero.
    Source: power balance.

    >>> torque_at_grip(9000.0, 3.0, 0.3)
    900.0
    """
    above_zero(overall_ratio=overall_ratio, rolling_radius=radius)
    return force * radius / overall_ratio

"""Moist air by 40 CFR 1065.645, the standard atmosphere, and a barometer's plausibility.

Relative humidity is always referred to liquid water, below 0 degC too: weather stations
report it so (WMO-No. 8; from memory) and 1065.645 carries its water formula to -50 degC.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from buildlog.physics.numerics.constants import ATM, ZERO_CELSIUS, Real

_TRIPLE_POINT = 273.16
_LOWEST, _HIGHEST = ZERO_CELSIUS - 50, ZERO_CELSIUS + 100
_GAS_CONSTANT = 8.314472  # [J/(mol*K)] as 40 CFR 1065.1005 (from memory)
_M_DRY, _M_WATER = 28.96559e-3, 18.01528e-3  # [kg/mol] 40 CFR part 1066 (opened)


def _log(x: Any) -> Any:
    """Natural logarithm of a float, or of an array without importing numpy for a float."""
    if isinstance(x, (int, float)):
        return math.log(x)
    import numpy as np

    return np.log(x)


def _all_within(x: Any, low: float, high: float) -> bool:
    inside = (low <= x) & (x <= high)
    return inside if isinstance(inside, bool) else bool(inside.all())


def _check(x: Any, low: float, high: float, what: str) -> None:
    if not _all_within(x, low, high):
        raise ValueError(f"{what} must be {low:g} to {high:g}, not {x}.")


def saturation_pressure(temperature: Real) -> Real:
    """Return the vapour pressure of water over liquid (below 0 degC supercooled) water.

    Formula: 40 CFR 1065.645(a), after Goff 1957 (the log10 polynomial in T / 273.16 K).
    Inputs: temperature [K] scalar or array of any shape.
    Result: saturation pressure [Pa], shape of temperature.
    Validity: 223.15 to 373.15 K; 0.08 to 0.11 % below the IAPWS steam tables.
    Errors: ValueError outside that range.
    Source: 40 CFR 1065.645 (text and examples opened; coefficients secondary, confirmed by
    all three published examples): 1.186581 kPa at 9.5 degC.

    >>> round(saturation_pressure(282.65) / 1000, 6)
    1.186581
    """
    _check(temperature, _LOWEST, _HIGHEST, "the temperature [K] of moist air")
    ratio = temperature / _TRIPLE_POINT
    exponent = (
        10.79574 * (1 - 1 / ratio)
        - 5.02800 * _log(ratio) / math.log(10)
        + 1.50475e-4 * (1 - 10 ** (-8.2969 * (ratio - 1)))
        + 0.42873e-3 * (10 ** (4.76955 * (1 - 1 / ratio)) - 1)
        - 0.2138602
    )
    pressure: Real = 1000 * 10**exponent
    return pressure


def vapour_pressure(temperature: Real, relative_humidity: float) -> Real:
    """Return the partial pressure of water vapour in air.

    Formula: p_v = RH * p_sat(T), 40 CFR 1065.645(c).
    Inputs: temperature [K] scalar or array, relative humidity [-] 0 to 1 of equal shape
    or scalar.
    Result: vapour pressure [Pa].
    Validity: as saturation_pressure. From a dew point instead: saturation_pressure(dew point).
    Errors: ValueError outside the ranges, a humidity in per cent included.
    Source: 40 CFR 1065.645(c) (opened): 39.61 % at 20 degC gives 925.717 Pa.

    >>> round(vapour_pressure(293.15, 0.3961), 3)
    925.717
    """
    _check(relative_humidity, 0, 1, "the relative humidity (a fraction)")
    return relative_humidity * saturation_pressure(temperature)


def moist_density(pressure: Real, temperature: Real, relative_humidity: float) -> Real:
    """Return the density of moist air.

    Formula: rho = p M / (R T), M = M_dry (1 - x) + M_water x, x = p_v / p.
    Inputs: total pressure [Pa], temperature [K], relative humidity [-]; scalars or arrays of
    one shape.
    Result: density [kg/m^3].
    Validity: ideal gas; 0.03 to 0.05 % below the real gas near room conditions.
    Errors: ValueError outside the ranges.
    Source: mixing rule and molar masses of a 40 CFR part 1066 flow-calibration section
    (opened); gas constant 40 CFR 1065.1005 (from memory).

    >>> round(moist_density(96.5e3, 303.15, 0.60), 4)
    1.0979
    """
    water = vapour_pressure(temperature, relative_humidity) / pressure
    molar_mass = _M_DRY * (1 - water) + _M_WATER * water
    density: Real = pressure * molar_mass / (_GAS_CONSTANT * temperature)
    return density


def standard_atmosphere_pressure(altitude: float) -> float:
    """Return the pressure of the standard atmosphere at an altitude.

    Formula: p = 101 325 (1 - 0.0065 h / 288.15)^5.25588, the troposphere of ISO 2533.
    Inputs: geopotential altitude h [m] (differs from height by 0.05 % at 3000 m).
    Result: pressure [Pa].
    Validity: -500 to 11 000 m.
    Errors: ValueError outside that range.
    Source: ISO 2533 / US Standard Atmosphere 1976 (constants from memory; the packages
    ambiance and fluids agree).

    >>> round(standard_atmosphere_pressure(1609) / 1000, 2)
    83.43
    """
    _check(altitude, -500, 11_000, "the altitude [m]")
    pressure: float = ATM * (1 - 0.0065 * altitude / 288.15) ** 5.25588
    return pressure


@dataclass(frozen=True)
class BarometerCheck:
    """What a barometer reading looks like for the altitude of the place. Pressures [Pa].

    suspected: the reading looks reduced to sea level, as weather reports are;
    possible: weather can make it at that altitude; low, high: the range it can make;
    expected: the standard atmosphere's pressure there.
    """

    suspected: bool
    possible: bool
    low: float
    high: float
    expected: float

    def __bool__(self) -> bool:
        return self.suspected


# Sea-level pressures [Pa] that weather makes at all, and on all but rare days of the year.
# Common practice, no source.
_WEATHER = (94_000.0, 105_000.0)
_USUAL_WEATHER = (98_000.0, 104_000.0)


def sea_level_reading_suspected(pressure: float, altitude: float) -> BarometerCheck:
    """Judge whether a station pressure was in truth reduced to sea level.

    Formula: suspected if the reading, taken as station pressure, means a sea-level
    pressure above the usual 1040 hPa, while taken as a sea-level pressure it is usual.
    Inputs: pressure [Pa], altitude of the place [m].
    Result: BarometerCheck, true in a condition if suspected.
    Validity: from about 250 m altitude an average reduced reading is caught; below about
    100 m the two readings cannot be told apart (and differ by under 1.2 %).
    Errors: ValueError outside the altitudes of standard_atmosphere_pressure.
    Source: standard atmosphere; ranges of weather: common practice, no source.

    >>> sea_level_reading_suspected(101_600, 1609).suspected
    True
    >>> sea_level_reading_suspected(83_600, 1609).suspected
    False
    """
    expected = standard_atmosphere_pressure(altitude)
    scale = expected / ATM
    low, high = _WEATHER[0] * scale, _WEATHER[1] * scale
    usual_at_sea_level = _USUAL_WEATHER[0] <= pressure <= _USUAL_WEATHER[1]
    return BarometerCheck(
        suspected=usual_at_sea_level and pressure > _USUAL_WEATHER[1] * scale,
        possible=low <= pressure <= high,
        low=low,
        high=high,
        expected=expected,
    )

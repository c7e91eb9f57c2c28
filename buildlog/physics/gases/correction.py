"""Referring a measured power to a standard atmosphere, by a named standard.

All standards here are rules for net power at the crankshaft on an engine bench; using them
for wheel power from a chassis dyno is common practice, no source. Temperature is that of
the air at the engine's inlet, pressure the station pressure, never reduced to sea level.

The standards print 273 + t and 298, 293 or 520; absolute temperatures are used here
instead, which changes a factor by less than 3e-5.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from math import pi
from typing import TYPE_CHECKING, Literal

from buildlog.physics.gases.air import vapour_pressure as humid_vapour_pressure
from buildlog.physics.numerics.constants import INHG, ZERO_CELSIUS, Real

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Ignition = Literal["spark", "compression"]
Aspiration = Literal["natural", "supercharged", "turbocharged"]

_ASSUMED_EFFICIENCY = 0.85


@dataclass(frozen=True)
class StandardLimits:
    """Ranges a standard accepts: inlet air [K], dry pressure [Pa], factor [-]; with source."""

    temperature: tuple[float, float]
    dry_pressure: tuple[float, float]
    value: tuple[float, float]
    source: str


@dataclass(frozen=True)
class Standard:
    """One named way to refer power to reference air.

    Its atmospheric factor is (p_ref/p)^a (T/T_ref)^b, with the pressure dry, or total where
    `humidity` is false: `reference` holds p_ref [Pa] and T_ref [K], `exponents` a and b [-].
    friction: whether it acts on indicated power.
    """

    name: str
    edition: str
    source: str
    reference: tuple[float, float]
    exponents: tuple[float, float] = (1.0, 0.5)
    humidity: bool = True
    friction: bool = False
    spark_limits: StandardLimits | None = None
    compression_limits: StandardLimits | None = None

    def ratio(self, pressure: float, temperature: float) -> float:
        """The atmospheric factor [-] of a pressure [Pa] and a temperature [K]."""
        return _ratio(self.reference, self.exponents, pressure, temperature)


@dataclass(frozen=True)
class Factor:
    """A correction ready to apply: corrected = value * observed + offset.

    value [-]; offset [W], zero except with a measured friction power; the pressures [Pa]
    that went in, or None where the standard ignores humidity and none was given; limits:
    one sentence for each limit of the standard that the air or the factor passed.
    """

    value: float
    standard: str
    edition: str
    source: str
    dry_pressure: float | None = None
    vapour_pressure: float | None = None
    limits: tuple[str, ...] = ()
    offset: float | NDArray[np.float64] = 0.0

    @property
    def inside_limits(self) -> bool:
        """Whether no limit was passed; for 60F-29.92-dry and DIN 70020 none is known."""
        return not self.limits


_BENCH_AIR = (99e3, 298.15)


def _ratio(
    reference: tuple[float, float], exponents: tuple[float, float], pressure: float, kelvin: float
) -> float:
    (p, t), (a, b) = reference, exponents
    ratio: float = (p / pressure) ** a * (kelvin / t) ** b
    return ratio


_R85_ACCEPTED = "UN R85 annex 5: factor range secondary, air ranges from memory"

STANDARDS: dict[str, Standard] = {
    standard.name: standard
    for standard in (
        Standard(
            name="SAE J1349",
            edition="form of JUN 1990 to SEP 2011",
            source="SAE J1349 (secondary: formula quoted from JUN90, reference air from a "
            "guide to the 2011 text)",
            reference=_BENCH_AIR,
            friction=True,
            spark_limits=StandardLimits(
                (288.15, 308.15), (90e3, 105e3), (0.93, 1.07), "SAE J1349, from memory, unverified"
            ),
        ),
        Standard(
            name="ISO 1585",
            edition="ISO 1585 / UN R85 / 80/1269/EEC as amended",
            source="UN R85 annex 5 (exponents secondary; reference air opened in Regulation "
            "(EU) 134/2014, annex X)",
            reference=_BENCH_AIR,
            exponents=(1.2, 0.6),
            spark_limits=StandardLimits(
                (288.15, 308.15), (80e3, 110e3), (0.93, 1.07), _R85_ACCEPTED
            ),
            compression_limits=StandardLimits(
                (283.15, 313.15), (80e3, 110e3), (0.9, 1.1), _R85_ACCEPTED
            ),
        ),
        Standard(
            name="60F-29.92-dry",
            edition="60 degF, 29.92 inHg, dry air, no friction term",
            source="SAE J607 as dynamometer makers use it (secondary)",
            reference=(29.92 * INHG, ZERO_CELSIUS + (60 - 32) / 1.8),
        ),
        Standard(
            name="DIN 70020",
            edition="old part 6: 20 degC, 1013 mbar total pressure, humidity ignored",
            source="DIN 70020 (secondary: two public texts)",
            reference=(101.3e3, 293.15),
            humidity=False,
        ),
    )
}

UNCORRECTED = Factor(1.0, "none", "observed power, no correction", "definition")

# The name a file may give when nobody knows what was applied; it has no factor.
UNKNOWN = "unknown"

_TRADE_NAMES: dict[str, tuple[str, ...]] = {
    "SAE J1349": ("sae", "j1349", "saej1349"),
    "ISO 1585": (
        "iso", "iso1585", "r85", "unr85", "ecer85", "unecer85", "801269", "801269eec",
        "801269ewg", "ewg801269", "eec801269", "ewg", "eec",
    ),
    "60F-29.92-dry": ("60f2992dry", "std", "j607", "saej607", "stdj607"),
    "DIN 70020": ("din", "din70020"),
    "none": ("none", "uncorrected", "observed", "off", "no"),
    UNKNOWN: (UNKNOWN,),
}  # fmt: skip
_BY_TRADE_NAME = {spelling: name for name, all_ in _TRADE_NAMES.items() for spelling in all_}


def standard_named(text: str) -> str:
    """Return the identifier of the standard that the trade calls by a name.

    Formula: a closed list of spellings; case, spaces and punctuation do not count.
    Inputs: text [-].
    Result: a key of STANDARDS, "none" or "unknown".
    Validity: "SAE" is read as J1349, "STD" as J607, as dyno operators use them (secondary).
    SAE J816 and J245 have other reference air (85 degF) and are not offered.
    Errors: ValueError that lists the known names.
    Source: trade usage, see the sources of STANDARDS.

    >>> standard_named("STD"), standard_named("ECE R85")
    ('60F-29.92-dry', 'ISO 1585')
    """
    found = _BY_TRADE_NAME.get(re.sub(r"[^a-z0-9]", "", text.casefold()))
    if found is None:
        raise ValueError(
            f"{text!r} is not a correction standard known here; known are "
            f"{', '.join(_TRADE_NAMES)}."
        )
    return found


def factor(
    standard: str,
    pressure: float,
    temperature: float,
    *,
    relative_humidity: float | None = None,
    vapour_pressure: float | None = None,
    ignition: Ignition = "spark",
    aspiration: Aspiration = "natural",
    friction_power: float | NDArray[np.float64] | None = None,
    engine_factor: float | None = None,
) -> Factor:
    """Return the factor that refers observed power to the reference air of a standard.

    Formula: SAE J1349 (X - 0.15)/0.85, X = (99 kPa / p_d) sqrt(T / 298), or with measured
    friction P_f: X P + (X - 1) P_f. ISO 1585: (99 kPa / p_d)^1.2 (T / 298)^0.6.
    60F-29.92-dry: (29.92 inHg / p_d) sqrt(T / 60 degF). DIN 70020: (1013 mbar / p)
    sqrt(T / 293), p total. ISO 1585, compression ignition: f_a^f_m, f_a = (99 kPa / p_d)
    (T / 298)^0.7, turbocharged (99 kPa / p_d)^0.7 (T / 298)^1.5.
    Inputs: station pressure [Pa], temperature [K] of the inlet air, one of relative
    humidity [-] and vapour pressure [Pa]; friction power [W] at the engine speeds of the
    power it will be applied to (SAE J1349 only), scalar or array; engine_factor f_m [-]
    (compression ignition by ISO 1585 only), from compression_engine_factor.
    Result: Factor. Outside a standard's limits the value is still given and each limit
    passed is named; with a measured friction power it is X that is judged.
    Validity: the relative humidity must belong to the temperature given; if it was read at
    another one, pass the vapour pressure instead. A boost held in closed loop to an
    absolute pressure is not ambient-sensitive in the way the spark-ignition forms assume.
    Not for electric motors. For compression ignition only ISO 1585 has a form here (the
    makers of J1349 call its own one no longer appropriate); the others give their
    spark-ignition value and say so in the limits.
    Errors: ValueError for an unknown standard, air that no weather makes, humidity missing
    or given twice, a dry pressure not above zero, or a missing engine_factor.
    Source: of each standard, in STANDARDS and in the Factor.

    >>> a = factor("SAE J1349", 96.5e3, 303.15, relative_humidity=0.60)
    >>> round(a.value, 4), a.limits
    (1.0735, ('the factor 1.0735 is above 1.07 (SAE J1349, from memory, unverified).',))
    """
    if standard == UNCORRECTED.standard:
        return UNCORRECTED
    rule = _rule(standard)
    vapour = _vapour(pressure, temperature, relative_humidity, vapour_pressure, rule)
    dry = None if vapour is None else pressure - vapour
    used = dry if rule.humidity and dry is not None else pressure
    if friction_power is not None and not rule.friction:
        raise ValueError(f"{rule.name} has no place for a measured friction power.")
    said: tuple[str, ...] = ()
    if ignition == "compression" and rule.compression_limits is not None:
        found = _compression(rule, used, temperature, aspiration, engine_factor)
        limits: StandardLimits | None = rule.compression_limits
    else:
        found, limits = _spark(rule, used, temperature, friction_power), rule.spark_limits
        if ignition == "compression":
            said = (f"{rule.name} has no compression-ignition form here; the other is used.",)
    passed = said + _passed(limits, temperature, used, found.value)
    return replace(found, dry_pressure=dry, vapour_pressure=vapour, limits=passed)


def _rule(standard: str) -> Standard:
    if standard == UNKNOWN:
        raise ValueError("an unknown correction standard has no factor.")
    if standard not in STANDARDS:
        raise ValueError(f"{standard!r} is not one of {', '.join([*STANDARDS, 'none'])}.")
    return STANDARDS[standard]


def _vapour(
    pressure: float,
    temperature: float,
    relative_humidity: float | None,
    vapour_pressure: float | None,
    rule: Standard,
) -> float | None:
    """Check that the air is air in SI units, and return its vapour pressure if known."""
    if not 40e3 <= pressure <= 115e3:
        raise ValueError(f"a station pressure of {pressure:g} Pa is not one of the open air.")
    if not 223.15 <= temperature <= 353.15:
        raise ValueError(f"{temperature:g} K is not a temperature of inlet air.")
    if relative_humidity is not None and vapour_pressure is not None:
        raise ValueError("give the relative humidity or the vapor pressure, not both.")
    if relative_humidity is not None:
        vapour_pressure = humid_vapour_pressure(temperature, relative_humidity)
    if vapour_pressure is None and rule.humidity:
        raise ValueError(f"{rule.name} needs the humidity of the air, which is missing.")
    if vapour_pressure is not None and not 0 <= vapour_pressure < pressure:
        raise ValueError(f"a vapor pressure of {vapour_pressure:g} Pa is impossible here.")
    return vapour_pressure


def _spark(
    rule: Standard,
    pressure: float,
    temperature: float,
    friction_power: float | NDArray[np.float64] | None,
) -> Factor:
    x = rule.ratio(pressure, temperature)
    if not rule.friction:
        return Factor(x, rule.name, rule.edition, rule.source)
    if friction_power is not None:
        edition = f"{rule.edition}; friction measured"
        return Factor(x, rule.name, edition, rule.source, offset=(x - 1) * friction_power)
    value = (x - (1 - _ASSUMED_EFFICIENCY)) / _ASSUMED_EFFICIENCY
    edition = (
        f"{rule.edition}; 85 % mechanical efficiency assumed, exact form (X - 0.15)/0.85, "
        "which is printed rounded as 1.18 X - 0.18"
    )
    return Factor(value, rule.name, edition, rule.source)


def _compression(
    rule: Standard,
    dry: float,
    temperature: float,
    aspiration: Aspiration,
    engine_factor: float | None,
) -> Factor:
    if engine_factor is None:
        raise ValueError(
            f"{rule.name} for compression ignition needs the engine factor f_m, and so the "
            "fuel flow at full load, which is missing."
        )
    exponents = (0.7, 1.5) if aspiration == "turbocharged" else (1.0, 0.7)
    atmospheric = _ratio(rule.reference, exponents, dry, temperature)
    edition = f"compression ignition by the figures of UN R85 revision 1, {aspiration}"
    return Factor(atmospheric**engine_factor, rule.name, edition, rule.source)


def compression_engine_factor(
    fuel_flow: float, displacement: float, omega: float, boost_pressure_ratio: float = 1.0
) -> float:
    """Return the engine factor f_m of UN R85 for a four-stroke compression-ignition engine.

    Formula: f_m = 0.036 q_c - 1.14, q_c = q / r, q the fuel per cycle and litre; f_m is 0.3
    for q_c below 40 and 1.2 above 65 mg per litre and cycle.
    Inputs: fuel flow [kg/s] at full load, displacement [m^3], engine speed omega [rad/s],
    absolute pressure ratio r of the charger [-], 1 if naturally aspirated.
    Result: f_m [-], 0.3 to 1.2.
    Validity: four-stroke engines. ISO 1585:1992 prints 37.2 and 0.2 at the low end (secondary).
    Errors: ValueError unless displacement and speed are above zero and r at least 1.
    Source: an open type-approval library that states UN R85 revision 1 as its basis
    (secondary).

    >>> round(compression_engine_factor(0.006, 0.002, 4000 * pi / 30, 1.6), 4)
    0.885
    """
    if min(fuel_flow, displacement, omega) <= 0 or boost_pressure_ratio < 1:
        raise ValueError(
            "fuel flow, displacement and engine speed must be above zero and the boost "
            "pressure ratio at least 1."
        )
    per_cycle = 4 * pi * fuel_flow / (displacement * omega) * 1000  # mg per litre
    corrected = per_cycle / boost_pressure_ratio
    if corrected < 40:
        return 0.3
    return 0.036 * min(corrected, 65.0) - 1.14


def _passed(
    limits: StandardLimits | None, temperature: float, pressure: float, value: float
) -> tuple[str, ...]:
    """Say each limit of the standard that was passed, with the value that passed it."""
    if limits is None:
        return ()
    celsius = (limits.temperature[0] - ZERO_CELSIUS, limits.temperature[1] - ZERO_CELSIUS)
    kilopascal = (limits.dry_pressure[0] / 1e3, limits.dry_pressure[1] / 1e3)
    said = (
        _outside("the inlet air at", temperature - ZERO_CELSIUS, celsius, ".1f", " degC"),
        _outside("the dry pressure of", pressure / 1e3, kilopascal, ".2f", " kPa"),
        _outside("the factor", value, limits.value, ".4f", ""),
    )
    return tuple(f"{text} ({limits.source})." for text in said if text)


def _outside(
    what: str, x: float, allowed: tuple[float, float], digits: str, unit: str
) -> str | None:
    low, high = allowed
    if low <= round(x, 9) <= high:
        return None
    side, edge = ("below", low) if x < low else ("above", high)
    return f"{what} {x:{digits}}{unit} is {side} {edge:g}{unit}"


def apply(power: Real, factor: Factor) -> Real:
    """Return the corrected power of an observed one.

    Formula: value * P + offset.
    Inputs: observed power [W] scalar or array (torque [N*m] where the offset is zero);
    factor Factor.
    Result: corrected power [W], shape of power.
    Validity: with a measured friction power, at the engine speeds it was measured at.
    Errors: none.
    Source: see factor.

    >>> apply(100e3, UNCORRECTED)
    100000.0
    """
    return factor.value * power + factor.offset  # type: ignore[return-value]  # offset fits power


def undo(power: Real, factor: Factor) -> Real:
    """Return the observed power of a corrected one; the exact inverse of apply.

    Formula: (P - offset) / value.
    Inputs: corrected power [W] scalar or array; factor Factor, of the standard and the air
    that were used when the figure was corrected.
    Result: observed power [W], shape of power.
    Validity: never turn one standard's figure into another's by a fixed percentage; undo
    the one and apply the other.
    Errors: none.
    Source: see factor.

    >>> undo(100e3, UNCORRECTED)
    100000.0
    """
    return (power - factor.offset) / factor.value  # type: ignore[return-value]  # as in apply

"""The air that a curve holds for, and the air that a prediction is asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildlog.errors import InvalidInput
from buildlog.physics.gases import air
from buildlog.physics.numerics.constants import ATM, INHG, ZERO_CELSIUS


@dataclass(frozen=True)
class Day:
    """Air at the engine's inlet [Pa, K, Pa], and in words where it comes from."""

    pressure: float
    temperature: float
    vapour_pressure: float
    words: str


# Reference air of each standard: total pressure, temperature, water vapour.
_REFERENCE = {
    "SAE J1349": Day(100e3, 298.15, 1e3, "reference air of SAE J1349"),
    "ISO 1585": Day(100e3, 298.15, 1e3, "reference air of ISO 1585"),
    "60F-29.92-dry": Day(
        29.92 * INHG, ZERO_CELSIUS + (60 - 32) / 1.8, 0.0, "60 degF, 29.92 inHg, dry"
    ),
    "DIN 70020": Day(101.3e3, 293.15, 0.0, "reference air of DIN 70020"),
}
ASSUMED = Day(ATM, 298.15, 1e3, "air not recorded: 25 degC at sea level taken")


def day_of(standard: str, observed: tuple[float, float, float] | None) -> Day:
    """The air that numbers in a standard hold for; `observed`: pressure, temperature, humidity."""
    if standard in _REFERENCE:
        return _REFERENCE[standard]
    if observed is None:
        return ASSUMED
    pressure, temperature, humidity = observed
    vapour = air.vapour_pressure(temperature, humidity)
    return Day(pressure, temperature, vapour, "air of the session")


def asked(
    base: Day,
    *,
    temperature: float | None = None,
    pressure: float | None = None,
    altitude: float | None = None,
    humidity: float | None = None,
) -> Day:
    """The air asked for; what is not given stays as in `base`.

    Altitude [m] gives the pressure of the standard atmosphere there. InvalidInput for both
    a pressure and an altitude, or for air that no place has.
    """
    if pressure is not None and altitude is not None:
        raise InvalidInput(
            "air pressure and altitude were both given", hint="give the one that was measured"
        )
    words = []
    day = base
    try:
        if altitude is not None:
            pressure = air.standard_atmosphere_pressure(altitude)
            words.append(f"{altitude:,.0f} m of altitude ({pressure / 1e3:.1f} kPa)")
        elif pressure is not None:
            words.append(f"{pressure / 1e3:.1f} kPa")
        if pressure is not None:
            day = replace(day, pressure=pressure)
        if temperature is not None:
            day = replace(day, temperature=temperature)
            words.append(f"{temperature - ZERO_CELSIUS:.0f} degC")
        if humidity is not None:
            vapour = air.vapour_pressure(day.temperature, humidity)
            day = replace(day, vapour_pressure=vapour)
            words.append(f"{100 * humidity:.0f} % humidity")
    except ValueError as error:
        raise InvalidInput(str(error).rstrip("."), hint="look at the units") from None
    return replace(day, words=", ".join(words)) if words else base

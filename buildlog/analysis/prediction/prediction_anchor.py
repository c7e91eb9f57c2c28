"""What a prediction starts from: a measured curve, or an estimate from the maker's figures; and the
air that a curve holds for or a prediction is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from buildlog.analysis.car.gearing import loss_prior
from buildlog.analysis.pulls.curves import air_of
from buildlog.analysis.pulls.pull_data import RPM, Floats
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.errors import InvalidInput
from buildlog.physics.engines.cycle import typical_full_load_power
from buildlog.physics.engines.state import Anchor
from buildlog.physics.gases import air
from buildlog.physics.numerics.constants import ATM, INHG, ZERO_CELSIUS
from buildlog.physics.numerics.sampling import Uncertain
from buildlog.records.car.configuration import Configuration
from buildlog.records.session import TankFuel


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


OnOff = Literal["on", "off"] | None


@dataclass(frozen=True)
class Start:
    """An anchor and what is known of the day on which it was measured.

    measured: False for an estimate from the maker's rated power. boost: measured boost on
    the grid [Pa gauge]; lambda_: measured full-load lambda; observed_pressure [Pa].
    """

    anchor: Anchor
    measured: bool
    words: str
    standard: str
    at: str
    day: Day
    session: str | None = None
    boost: tuple[float, ...] | None = None
    lambda_: float | None = None
    observed_pressure: float | None = None
    tank: TankFuel | None = None
    gear: int | None = None
    used: Mapping[str, OnOff] = field(default_factory=dict)

    @property
    def rpm(self) -> Floats:
        """The grid in rpm."""
        return np.asarray(self.anchor.omega) / RPM

    @property
    def peak(self) -> float:
        """Highest power of the curve [W]."""
        return max(self.anchor.power)


def from_sheet(
    sheet: Sheet, group: PullGroup, configuration: Configuration, priors: Mapping[str, Uncertain]
) -> Start:
    """The kept curve of a session as a start. InvalidInput without engine speed."""
    if sheet.axis != "engine_speed":
        raise InvalidInput(
            f"session {sheet.name} has no engine speed ({sheet.torque_reason})",
            hint="give gearbox.ratios, final_drive.ratio and tyres.size",
        )
    known = np.isfinite(group.mean) & (group.mean > 0)
    if known.sum() < 5:
        raise InvalidInput(f"session {sheet.name} has too little of a curve to start from")
    rpm = sheet.grid[known]
    session, first = sheet.session, group.curves[0].data.pull
    observed = air_of(session, first.air)
    at = "crank" if sheet.at == "crank" else "wheels"
    anchor = _anchor(rpm, group.mean[known], at, configuration, priors)
    return Start(
        anchor,
        True,
        f"measured curve of session {sheet.name}",
        sheet.standard,
        sheet.at,
        day_of(sheet.standard, observed),
        sheet.name,
        _boost(group, rpm),
        _lambda(group, rpm),
        observed[0] if observed else None,
        session.fuel,
        first.gear or session.gear,
        {"nitrous": first.nitrous, "charge_injection": first.charge_injection},
    )


def from_rating(configuration: Configuration, priors: Mapping[str, Uncertain]) -> Start:
    """An estimate for a car that nobody measured. InvalidInput where it cannot be made."""
    engine, induction = configuration.engine, configuration.induction
    if engine is None or engine.rated_power is None or engine.rated_power_speed is None:
        raise InvalidInput(
            "no dyno session measured it, and the maker's rated power and its speed are missing",
            hint="measure it, or set engine.rated_power and engine.rated_power_speed",
        )
    if induction is not None and induction.kind not in (None, "naturally-aspirated"):
        raise InvalidInput(
            "no dyno session measured it, and a curve from the maker's rated power exists for "
            "naturally aspirated engines only",
            hint="measure it first",
        )
    rated, speed = engine.rated_power.si, engine.rated_power_speed.si
    rpm = np.arange(np.ceil(0.35 * speed / RPM / 50) * 50, 1.08 * speed / RPM, 50.0)
    power = np.asarray(typical_full_load_power(rpm * RPM, rated, speed))
    anchor = replace(
        _anchor(rpm, power, "crank", configuration, priors), level=priors["rated_level"]
    )
    words = f"NOT measured: a typical curve through the maker's {engine.rated_power.text}"
    standard = engine.rated_standard or "SAE J1349"
    known = standard if standard in ("ISO 1585", "DIN 70020") else "SAE J1349"
    return Start(anchor, False, words, known, "wheels", day_of(known, None))


def _anchor(
    rpm: Floats,
    power: Floats,
    at: str,
    configuration: Configuration,
    priors: Mapping[str, Uncertain],
) -> Anchor:
    omega = tuple(float(x) for x in rpm * RPM)
    loss = priors[loss_prior(configuration)]
    return Anchor(omega, tuple(float(p) for p in power), at, driveline_loss=loss)


def _boost(group: PullGroup, rpm: Floats) -> tuple[float, ...] | None:
    """Mean measured boost on the grid [Pa gauge]; None where a pull did not log it."""
    if not all("boost" in c.data.channels for c in group.curves):
        return None
    rows = np.vstack([c.channel_on("boost", "engine_speed", rpm) for c in group.curves])
    mean = rows.mean(axis=0)
    known = np.isfinite(mean)
    if known.sum() < 5:
        return None
    filled = np.interp(rpm, rpm[known], mean[known])
    return tuple(float(x) for x in np.maximum(filled, 0.0))


def _lambda(group: PullGroup, rpm: Floats) -> float | None:
    """Median measured lambda over the upper half of the range; None where it was not logged."""
    if not all("lambda" in c.data.channels for c in group.curves):
        return None
    upper = rpm[rpm.size // 2 :]
    rows = np.vstack([c.channel_on("lambda", "engine_speed", upper) for c in group.curves])
    value = float(np.nanmedian(rows)) if np.isfinite(rows).any() else None
    return value if value is not None and 0.6 < value < 1.2 else None

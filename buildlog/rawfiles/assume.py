"""What the size of the numbers alone suggests where a header gives no unit. Always an assumption.

Ranges are common practice, no source: what the trade's channels show on a road car. A size that
fits two units suggests none.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from buildlog import units

Floats = NDArray[np.float64]

# Channel: (unit, lowest, highest) of the largest value in the column, unit by unit apart.
_BY_LARGEST: dict[str, tuple[tuple[str, float, float], ...]] = {
    "engine_speed": (("rpm", 400, 20000),),
    "compressor_speed": (("rpm", 10000, 400000),),
    "boost": (("bar", 0.1, 3.2), ("psi", 4.5, 38), ("kPa", 45, 320), ("mbar", 400, 3500)),
    "manifold_pressure": (
        ("bar", 0.7, 4.2),
        ("psi", 10, 60),
        ("kPa", 75, 420),
        ("mbar", 750, 4200),
    ),
    "ambient_pressure": (
        ("inHg", 24, 31.5),
        ("kPa", 70, 108),
        ("hPa", 800, 1080),
        ("mmHg", 590, 790),
        ("psi", 11.5, 15.6),
        ("bar", 0.7, 1.08),
    ),
    "fuel_pressure": (("bar", 1.5, 9), ("psi", 25, 130), ("kPa", 180, 900)),
    "oil_pressure": (("bar", 1, 9), ("psi", 20, 130), ("kPa", 150, 900)),
    "coolant_temperature": (("degC", 40, 125), ("degF", 140, 255), ("K", 310, 400)),
    "oil_temperature": (("degC", 40, 135), ("degF", 150, 300), ("K", 310, 430)),
    "exhaust_temperature": (("degC", 400, 1050),),
    "throttle": (("1", 0.3, 1.05), ("%", 30, 105)),
    "pedal": (("1", 0.3, 1.05), ("%", 30, 105)),
    "injector_duty": (("1", 0.1, 1.2), ("%", 10, 120)),
    "humidity": (("%", 5, 100),),
    "spark": (("deg", 3, 60),),
    "knock_retard": (("deg", 0.1, 20),),
    "injector_pulse_width": (("ms", 0.5, 40),),
    "battery_voltage": (("V", 9, 16),),
}
_PLAIN = ("lambda", "air_fuel_ratio", "gear", "run_number")  # no unit is their unit


def assumed_unit(channel: str, values: Floats) -> str | None:
    """The one unit in which the column's largest value is an everyday one; None if not just one.

    >>> assumed_unit("manifold_pressure", np.array([35.0, 182.0]))
    'kPa'
    >>> assumed_unit("power", np.array([60.0, 150.0])) is None
    True
    """
    if channel == "time":
        return _time_unit(values)
    largest = float(np.nanmax(values)) if np.isfinite(values).any() else float("nan")
    fitting = [unit for unit, low, high in _BY_LARGEST.get(channel, ()) if low <= largest <= high]
    return fitting[0] if len(fitting) == 1 else None


def plain(channel: str) -> bool:
    """Whether the channel is a bare number, so that a missing unit is no gap."""
    return channel in _PLAIN


def _time_unit(values: Floats) -> str | None:
    """Seconds or milliseconds, by a step that a logger makes (1 to 500 Hz)."""
    steps = np.diff(values[np.isfinite(values)])
    step = float(np.median(steps)) if steps.size else 0.0
    if 0.001 <= step <= 0.5:
        return "s"
    return "ms" if 2 <= step <= 1000 else None


def between(channels: tuple[str, ...], values: Floats) -> str | None:
    """Which of two channels the size of the numbers speaks for, or None.

    >>> between(("air_fuel_ratio", "lambda"), np.array([11.8, 14.9]))
    'air_fuel_ratio'
    """
    finite = values[np.isfinite(values)]
    if not finite.size:
        return None
    low, high = float(finite.min()), float(finite.max())
    if set(channels) == {"air_fuel_ratio", "lambda"}:
        return "lambda" if high < 2 else "air_fuel_ratio" if low > 7 and high < 25 else None
    if set(channels) == {"engine_speed", "road_speed"}:
        return "engine_speed" if high > 600 else None
    return None


def by_identity(power: Floats, torque: Floats, rpm: Floats) -> tuple[str, str] | None:
    """Units of power and torque from P = T * omega, where just one of the pairs
    that the trade prints together fits within 0.4 %.

    hp with Nm and PS with Nm lie 1.4 % apart, and are told apart.

    >>> by_identity(np.array([100.0]), np.array([105.042]), np.array([5000.0]))
    ('hp', 'lb-ft')
    """
    with np.errstate(all="ignore"):
        ratio = power / (torque * rpm)
    usable = ratio[np.isfinite(ratio) & (torque > 0) & (rpm > 500)]
    if not usable.size:
        return None
    measured = float(np.median(usable))
    pairs = [("kW", "Nm"), ("PS", "Nm"), ("hp", "Nm"), ("hp", "lb-ft")]
    fitting = [pair for pair in pairs if abs(measured / _ratio(*pair) - 1) < 0.004]
    return fitting[0] if len(fitting) == 1 else None


def _ratio(power: str, torque: str) -> float:
    per_rpm = units.unit("rpm", "angular_speed").factor
    torque_unit = units.unit(torque, "torque").factor
    return torque_unit * per_rpm / units.unit(power, "power").factor


def known_pair(given: Mapping[str, str], found: tuple[str, str]) -> bool:
    """Whether a found pair of units agrees with the units that the header does give."""
    return all(
        given.get(channel) is None or _same_unit(given[channel], unit)
        for channel, unit in zip(("power", "torque"), found, strict=True)
    )


def _same_unit(one: str, other: str) -> bool:
    first, second = units.find(one), units.find(other)
    return first is not None and second is not None and abs(first.factor / second.factor - 1) < 1e-6

"""What the size of the numbers alone suggests where a header gives no unit. Always an assumption.

The sizes stand in `words.toml`. A size that fits two units suggests none.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from buildlog import units
from buildlog.rawfiles.channel_words import CHANNELS

Floats = NDArray[np.float64]

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
    fitting = [unit for unit, low, high in CHANNELS[channel].sizes if low <= largest <= high]
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


HIGHEST_SPARK_RAIL = 40e6  # [Pa] of a spark-ignition engine's injection; common practice


def rail(channel: str, values: Floats, unit: units.Unit | None) -> str:
    """A rail's pressure that an engine's injection could have by spark is its fuel pressure."""
    if channel != "rail_pressure" or not np.isfinite(values).any():
        return channel
    highest = float(np.nanmax(values))
    if unit is None:
        return channel if assumed_unit(channel, values) else "fuel_pressure"
    return channel if unit.to_si(highest) > HIGHEST_SPARK_RAIL else "fuel_pressure"


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

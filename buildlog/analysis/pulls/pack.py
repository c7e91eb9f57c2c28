"""The traction battery over a pull: its power, state of charge and heat, and what it may give."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.pulls.curves import Curve
from buildlog.analysis.pulls.pull_data import Floats
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.findings import Finding
from buildlog.physics.numerics.regression import local_quadratic
from buildlog.physics.parts.margin import ratio_left
from buildlog.physics.parts.traction_pack import Draw, greatest, telling
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import FieldPath, field, value_at
from buildlog.units import Quantity

_RATED, _LOW = field("battery.rated_power"), field("battery.low_charge.rated_power")
_AT = field("battery.low_charge.state_of_charge")
AT_LIMIT = 0.98  # of the power that the control allows: at it; common practice, no source
TEMPERATURES = ("pack_temperature", "motor_temperature", "inverter_temperature")


@dataclass(frozen=True)
class PackReading:
    """One pull of a car with a pack, in SI.

    `power` is the greatest that the pack gave and `lowest_voltage` the least it fell to; `charge`
    the state of charge at begin and end; `temperatures` the highest by channel; `limit` what is
    stated, by the field `limit_by`, for the charge at which the pack gave the most of it, and
    `left` the share of it that was left; `at_limit` the share of the pull at the power that the
    control allows. None where it is not logged or not stated.
    """

    pull: str
    power: float | None
    lowest_voltage: float | None
    charge: tuple[float, float] | None
    temperatures: dict[str, float]
    limit: float | None
    limit_by: FieldPath | None
    left: float | None
    at_limit: float | None


@dataclass(frozen=True)
class PackGiven:
    """The power that a pack gave in a pull, by its charge: of the smoothed curve, as limits are
    judged. `by_product`: it was not logged, and is voltage times current."""

    draws: tuple[Draw, ...]
    by_product: bool


def pack_readings(sheet: Sheet, car: Configuration) -> tuple[PackReading, ...]:
    """What the pulls that count log of a pack; empty where they log nothing of it."""
    found = (_reading(curve, sheet, car) for curve in sheet.curves)
    return tuple(one for one in found if one is not None)


def findings(readings: tuple[PackReading, ...]) -> Iterator[Finding]:
    """Packs that gave more than is stated, or were held back by their control."""
    for one in readings:
        if one.left is not None and one.left < 0 and one.limit_by is not None:
            yield Finding(
                "pack-over",
                "caution",
                f"pull {one.pull}: the pack gave {-100 * one.left:.0f} % more than {one.limit_by} "
                "states",
                (one.limit_by,),
            )
        if one.at_limit:
            yield Finding(
                "pack-at-limit",
                "note",
                f"pull {one.pull}: over {100 * one.at_limit:.0f} % of it the pack gives what its "
                "control allows: another state of charge or temperature gives another power",
            )


def pack_given(curve: Curve, sheet: Sheet) -> PackGiven | None:
    """What the pack gave over one pull; None where nothing of its power is logged."""
    channels = curve.data.channels
    logged = channels.get("pack_power")
    power = pack_power(logged, channels.get("pack_voltage"), channels.get("pack_current"))
    if power is None:
        return None

    def laid(values: Floats) -> Floats:
        return local_quadratic(
            curve.axis[sheet.axis], values, sheet.grid, curve.width(sheet.axis)
        ).values

    given, charge = laid(power), np.full(sheet.grid.size, np.nan)
    if "state_of_charge" in channels:
        charge = laid(channels["state_of_charge"])
    draws = telling(
        (float(at) if np.isfinite(at) else None, float(most))
        for at, most in zip(charge, given, strict=True)
        if np.isfinite(most)
    )
    return PackGiven(draws, logged is None) if draws else None


def _reading(curve: Curve, sheet: Sheet, car: Configuration) -> PackReading | None:
    channels = curve.data.channels
    power = pack_power(channels.get("pack_power"), channels.get("pack_voltage"),
                       channels.get("pack_current"))  # fmt: skip
    given = pack_given(curve, sheet)
    charge = _ends(channels.get("state_of_charge"))
    heat = {name: float(np.nanmax(channels[name])) for name in TEMPERATURES
            if name in channels and np.isfinite(channels[name]).any()}  # fmt: skip
    voltage = channels.get("pack_voltage")
    if given is None and charge is None and not heat and voltage is None:
        return None
    limit, by, left = _stated(car, given.draws if given else ())
    return PackReading(
        curve.name,
        greatest(given.draws) if given else None,
        None if voltage is None else float(np.nanmin(voltage)),
        charge, heat, limit, by, left, _at_limit(power, channels.get("allowed_power")),
    )  # fmt: skip


def pack_power(
    logged: Floats | None, voltage: Floats | None, current: Floats | None
) -> Floats | None:
    """Power of the pack (n,) [W], positive where it drives: logged, else voltage times current.

    A current that is negative while the car is driven is counted from the other side.
    """
    power = logged
    if power is None and voltage is not None and current is not None:
        power = voltage * current
    if power is None or not np.isfinite(power).any():
        return None
    return -power if float(np.nanmedian(power)) < 0 else power


def _ends(charge: Floats | None) -> tuple[float, float] | None:
    known = charge[np.isfinite(charge)] if charge is not None else np.empty(0)
    return (float(known[0]), float(known[-1])) if known.size else None


def _stated(
    car: Configuration, draws: tuple[Draw, ...]
) -> tuple[float | None, FieldPath | None, float | None]:
    """Of what is stated for the charges of a pull, that of which the least was left."""
    at = value_at(car, _AT)
    low = at.si if isinstance(at, Quantity) else None
    asked = [(_RATED, greatest(draws, above=low))]
    asked += [(_LOW, greatest(draws, at_most=low))] if low is not None else []
    found: list[tuple[float, FieldPath, float]] = []
    for path, power in asked:
        value = value_at(car, path)
        if power is not None and isinstance(value, Quantity) and value.si > 0:
            found.append((ratio_left(power, value.si), path, value.si))
    if not found:
        return None, None, None
    left, by, limit = min(found)
    return limit, by, left


def _at_limit(power: Floats | None, allowed: Floats | None) -> float | None:
    if power is None or allowed is None:
        return None
    both = np.isfinite(power) & np.isfinite(allowed)
    return float(np.mean(power[both] >= AT_LIMIT * allowed[both])) if both.any() else None

"""Do the numbers of a table fit the units they are said to be in? Findings, never corrections.

The ranges in which the LARGEST value of a channel over a pull should lie stand in `words.toml`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildlog import units
from buildlog.findings import Finding
from buildlog.rawfiles.assume import by_identity
from buildlog.rawfiles.channel_words import CHANNELS, WORDS
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import RawTable

Floats = NDArray[np.float64]

# A mixture whose middle lies here is the other: lambda 6 to 25, a ratio 0.4 to 2.
_MISTAKEN = {"lambda": ("air_fuel_ratio", 6, 25), "air_fuel_ratio": ("lambda", 0.4, 2)}
IDENTITY = 0.006  # relative disagreement of P and T * omega beyond rounding of printed numbers
STUCK = 20  # rows of one value that make a channel of a pull stuck


def look_at(table: RawTable, specs: Sequence[ColumnSpec], name: str) -> list[Finding]:
    """Findings about the values of a table that was read with these specs."""
    found: list[Finding] = []
    if table.rows < STUCK:
        rows = f"{table.rows} row{'s' * (table.rows != 1)}"
        text = f"the file holds {rows} of numbers; a curve needs some dozens"
        found = [_finding("few-rows", text, None, name, "check that the whole pull was exported")]
    for spec in specs:
        values = table.channels[spec.channel]
        found += _column(spec, values[np.isfinite(values)], name)
    return [*found, *_identity(table, specs, name)]


def _finding(code: str, text: str, spec: ColumnSpec | None, name: str, hint: str) -> Finding:
    paths = (f"column.{spec.channel}",) if spec else ()
    return Finding(code, "caution", text, paths, name, hint or None)


def _column(spec: ColumnSpec, finite: Floats, name: str) -> list[Finding]:
    if not finite.size:
        text = f"{_named(spec)} holds no number"
        return [_finding("channel-empty", text, spec, name, "leave the channel out")]
    found = [one for rule in (_stuck, _reference, _negative) for one in rule(spec, finite, name)]
    if spec.channel == "time":
        return found + _time(spec, finite, name)
    return found + (_mixture(spec, finite, name) or _range(spec, finite, name))


def _stuck(spec: ColumnSpec, finite: Floats, name: str) -> list[Finding]:
    if finite.size < STUCK or not CHANNELS[spec.channel].moves or np.ptp(finite) > 0:
        return []
    text = f"{_named(spec)} stands at {_shown(spec, float(finite[0]))} in all rows"
    return [_finding("channel-stuck", text, spec, name, "check the sensor; leave the channel out")]


def _range(spec: ColumnSpec, finite: Floats, name: str) -> list[Finding]:
    """The largest value against what the channel shows on a car, and the unit that would fit."""
    if _fits(spec.channel, largest := float(finite.max())):
        return []
    text = f"{_named(spec)} reaches {_shown(spec, largest)}"
    hint = _fitting_unit(spec.channel, spec.unit_row(), spec.unit_row().from_si(largest))
    if spec.channel == "humidity" and largest > 1:
        text += "; relative humidity ends at 100 %"
    return [_finding("unit-implausible", text, spec, name, hint)]


def _named(spec: ColumnSpec) -> str:
    return f'column "{spec.name}" ({spec.channel})'


def _shown(spec: ColumnSpec, si: float) -> str:
    unit = spec.unit_row()
    return f"{unit.from_si(si):.4g}" + (f" {unit.text}" if unit.text != "1" else "")


def _fits(channel: str, si: float) -> bool:
    usual = CHANNELS[channel].largest
    if usual is None:
        return True
    text, low, high = usual
    unit = units.unit(text, CHANNELS[channel].dimensions[0])
    return unit.to_si(low) <= si <= unit.to_si(high) * (1 + 1e-9)


def _fitting_unit(channel: str, given: units.Unit, number: float) -> str:
    if channel == "engine_speed" and _fits(channel, given.to_si(number * 1000)):
        return "the numbers seem to be thousands of rpm; export them as rpm"
    others = [
        text
        for text in WORDS["mixed up"].get(given.dimension, "").split()
        if (unit := units.find(text, (given.dimension,))) and text != given.text
        if _fits(channel, unit.to_si(number)) and unit.to_si(number) != given.to_si(number)
    ]
    if others:
        return f"it would be an everyday value in {' or '.join(others)}; is the unit right?"
    return "check the sensor and the column"


def _mixture(spec: ColumnSpec, finite: Floats, name: str) -> list[Finding]:
    """Lambda and air-fuel ratio taken for each other."""
    other, low, high = _MISTAKEN.get(spec.channel, ("", 0, 0))
    middle = float(np.median(finite))
    if not low < middle < high:
        return []
    text = f'column "{spec.name}" is said to be {spec.channel} but its middle is {middle:.3g}'
    return [_finding("mixture-mistaken", text, spec, name, f"map it as {other}")]


def _reference(spec: ColumnSpec, finite: Floats, name: str) -> list[Finding]:
    """Gauge and absolute pressure taken for each other."""
    lowest, largest = float(finite.min()), float(finite.max())
    if spec.channel == "boost" and lowest > 75e3 and largest < 560e3:
        text = f'boost in "{spec.name}" never falls below {lowest / 1e3:.0f} kPa'
        hint = "that looks like absolute pressure: map it as manifold_pressure"
    elif spec.channel == "manifold_pressure" and lowest < 2e3:
        text = f'absolute pressure in "{spec.name}" falls to {lowest / 1e3:.0f} kPa'
        hint = "that looks like gauge pressure: map it as boost"
    else:
        return []
    return [_finding("pressure-reference", text, spec, name, hint)]


def _negative(spec: ColumnSpec, finite: Floats, name: str) -> list[Finding]:
    """Power or torque below zero by more than a sensor's zero error: a coast-down, or a sign."""
    lowest, largest = float(finite.min()), float(finite.max())
    if spec.channel not in {"power", "torque"} or lowest >= -0.05 * abs(largest):
        return []
    text = f"{_named(spec)} falls to {_shown(spec, lowest)}"
    hint = "a coast-down may be in the file: state the rows of the pull"
    return [_finding("negative", text, spec, name, hint)]


def _time(spec: ColumnSpec, finite: Floats, name: str) -> list[Finding]:
    """Time that runs backwards or jumps."""
    steps = np.diff(finite)
    if not steps.size:
        return []
    found = []
    if (steps < 0).any():
        row = int(np.argmax(steps < 0)) + 2
        text = f'the time in "{spec.name}" runs backwards at data row {row}'
        hint = "state the rows of each pull, or leave the time out"
        found.append(_finding("time-backwards", text, spec, name, hint))
    middle = float(np.median(steps))
    if middle > 0 and steps.max() > max(20 * middle, 0.5):
        row = int(np.argmax(steps)) + 2
        text = f'the time in "{spec.name}" jumps by {steps.max():.3g} s at data row {row}'
        found.append(_finding("time-jumps", text, spec, name, "a logger lost rows there"))
    return found


def _identity(table: RawTable, specs: Sequence[ColumnSpec], name: str) -> list[Finding]:
    """Power, torque and engine speed must satisfy P = T * omega in the units given."""
    by_channel = {spec.channel: spec for spec in specs}
    if not {"power", "torque", "engine_speed"} <= set(by_channel):
        return []
    power, torque, omega = (table.channels[c] for c in ("power", "torque", "engine_speed"))
    with np.errstate(all="ignore"):
        ratio = power / (torque * omega)
    usable = ratio[np.isfinite(ratio) & (torque > 0) & (omega > 50)]
    if not usable.size or abs(off := float(np.median(usable)) - 1) < IDENTITY:
        return []
    text = f"power and torque times engine speed disagree by {100 * off:+.1f} %"
    hint = "wheel and crank figures may be mixed, or one is corrected and the other is not"
    pair = by_identity(
        power / by_channel["power"].unit_row().factor,
        torque / by_channel["torque"].unit_row().factor,
        omega / units.unit("rpm", "angular_speed").factor,
    )
    if pair:
        hint = f"they agree with power in {pair[0]} and torque in {pair[1]}; are the units right?"
    return [_finding("power-torque-identity", text, by_channel["power"], name, hint)]

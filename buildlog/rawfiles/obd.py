"""Raw data bytes of on-board diagnostics, by the scalings of SAE J1979 / ISO 15031-5, service 01.

A log that carries bytes instead of values names the parameter where a unit would stand:
`unit = "J1979 0C"`. Its cells hold the bytes as one whole number, the first byte the highest
(1A F8 is 6904); of a wide-range oxygen sensor (24-2B, 34-3B) the first two bytes, its lambda.

Source: reference tables of the standard's scalings; 04 to 11 from three consistent tables
[secondary], the others [from memory]. The standard itself was not at hand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from buildlog.errors import InvalidInput
from buildlog.units import Unit, find

_NAME = re.compile(r"J1979[ -]?(?:01[ -]?)?([0-9A-Fa-f]{2})")


@dataclass(frozen=True)
class Parameter:
    """One parameter: what it is, how many bytes carry the value, and value = raw*factor + offset
    in `unit`."""

    words: str
    size: int
    factor: float
    offset: float
    unit: str
    dimension: str


def _table() -> dict[int, Parameter]:
    percent = ("percent", "ratio")
    known = {
        0x04: Parameter("calculated load", 1, 100 / 255, 0, *percent),
        0x05: Parameter("coolant temperature", 1, 1, -40, "degC", "temperature"),
        0x0B: Parameter("manifold pressure, absolute", 1, 1, 0, "kPa", "pressure"),
        0x0C: Parameter("engine speed", 2, 1 / 4, 0, "rpm", "angular_speed"),
        0x0D: Parameter("road speed", 1, 1, 0, "km/h", "speed"),
        0x0E: Parameter("timing advance", 1, 1 / 2, -64, "deg", "angle"),
        0x0F: Parameter("intake air temperature", 1, 1, -40, "degC", "temperature"),
        0x10: Parameter("air mass flow", 2, 1 / 100, 0, "g/s", "mass_flow"),
        0x11: Parameter("throttle", 1, 100 / 255, 0, *percent),
        0x33: Parameter("barometric pressure", 1, 1, 0, "kPa", "pressure"),
        0x44: Parameter("commanded lambda", 2, 2 / 65536, 0, "1", "ratio"),
        0x46: Parameter("ambient temperature", 1, 1, -40, "degC", "temperature"),
        0x5C: Parameter("oil temperature", 1, 1, -40, "degC", "temperature"),
        0x5E: Parameter("fuel rate", 2, 1 / 20, 0, "L/h", "volume_flow"),
    }
    for pid in range(0x06, 0x0A):
        known[pid] = Parameter("fuel trim", 1, 100 / 128, -100, *percent)
    for pid in (*range(0x24, 0x2C), *range(0x34, 0x3C)):
        known[pid] = Parameter("lambda, wide-range sensor", 2, 2 / 65536, 0, "1", "ratio")
    return known


PARAMETERS: dict[int, Parameter] = _table()


def unit(text: str, dimensions: tuple[str, ...]) -> Unit | None:
    """The unit that a column of raw numbers has; None where the text names no parameter.

    InvalidInput where it names one that is not known or does not measure what the channel does.

    >>> round(unit("J1979 0C", ("angular_speed",)).to_si(0x1AF8) * 30 / 3.14159265, 3)
    1726.0
    """
    match = _NAME.fullmatch(text.strip())
    if match is None:
        return None
    pid = int(match[1], 16)
    known = PARAMETERS.get(pid)
    if known is None:
        codes = ", ".join(f"{one:02X}" for one in PARAMETERS)
        raise InvalidInput(f"J1979 {pid:02X} is not a known parameter", hint=f"known: {codes}")
    base = find(known.unit, (known.dimension,))
    if base is None or known.dimension not in dimensions:
        what = " or ".join(dimension.replace("_", " ") for dimension in dimensions)
        raise InvalidInput(
            f"J1979 {pid:02X} is {known.words}, no {what}", hint="map it to another channel"
        )
    offset = base.factor * known.offset + base.offset
    return Unit(f"J1979 {pid:02X}", known.dimension, base.factor * known.factor, offset)


def value(pid: int, data: bytes) -> float:
    """The value of a parameter's data bytes in its own unit (`PARAMETERS[pid].unit`).

    >>> value(0x0C, bytes.fromhex("1AF8")), value(0x0F, bytes.fromhex("41"))
    (1726.0, 25.0)
    """
    known = PARAMETERS[pid]
    if len(data) < known.size:
        raise InvalidInput(f"J1979 {pid:02X} needs {known.size} bytes, not {len(data)}")
    return float(int.from_bytes(data[: known.size], "big") * known.factor + known.offset)

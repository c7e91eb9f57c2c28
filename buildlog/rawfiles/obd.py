"""Raw data bytes of on-board diagnostics, by the scalings of SAE J1979 / ISO 15031-5, service 01.

A log that carries bytes instead of values names the parameter where a unit would stand:
`unit = "J1979 0C"`. Its cells hold the bytes as one whole number, the first byte the highest
(1A F8 is 6904); of a wide-range oxygen sensor (24-2B, 34-3B) the first two bytes, its lambda.

With `unit = "J1979 0C bytes"` the cells are hexadecimal text: the data bytes ("1A F8",
"0x1A 0xF8") or the whole answer ("41 0C 1A F8", "410C1AF8"). In a column of answers to
different questions in turn, one that is no answer to this one is an empty cell.

Source: reference tables of the standard's scalings; 04 to 11 from three consistent tables
[secondary], the others [from memory], as are the shape of an answer (41, then each parameter
with its bytes; 7F where it is refused) and of frames (ISO 15765-2: the first half-byte 1 or 2
begins a piece of a longer answer). The standards themselves were not at hand.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from buildlog.errors import InvalidInput
from buildlog.findings import how_many
from buildlog.units import Unit, find

_NAME = re.compile(r"J1979[ -]?(?:01[ -]?)?([0-9A-Fa-f]{2})( bytes)?")
_NO_DIGITS = re.compile(r"0[xX]|[\s_-]")
_BYTES = re.compile(
    r"41(?:[ -]?[0-9A-F]{2}){2,}"
    r"|0x[0-9A-F]{2}(?:[ -]?0x[0-9A-F]{2})*"
    r"|[0-9A-F]{2}(?:[ -][0-9A-F]{2})+",
    re.IGNORECASE,
)
_ANSWER, _REFUSED, _FRAMES = 0x41, 0x7F, (1, 2)


@dataclass(frozen=True)
class Parameter:
    """One parameter: what it is, how many bytes carry the value, and value = raw*factor + offset
    in `unit`; `sent` counts all the bytes of its answer, where there are more."""

    words: str
    size: int
    factor: float
    offset: float
    unit: str
    dimension: str
    sent: int = 0

    @property
    def length(self) -> int:
        """How many data bytes an answer has."""
        return self.sent or self.size


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
        known[pid] = Parameter("lambda, wide-range sensor", 2, 2 / 65536, 0, "1", "ratio", 4)
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
        codes = ", ".join(f"{one:02X}" for one in sorted(PARAMETERS))
        raise InvalidInput(f"J1979 {pid:02X} is not a known parameter", hint=f"known: {codes}")
    base = find(known.unit, (known.dimension,))
    if base is None or known.dimension not in dimensions:
        what = " or ".join(dimension.replace("_", " ") for dimension in dimensions)
        raise InvalidInput(
            f"J1979 {pid:02X} is {known.words}, no {what}", hint="map it to another channel"
        )
    offset = base.factor * known.offset + base.offset
    return Unit(
        f"J1979 {pid:02X}{match[2] or ''}", known.dimension, base.factor * known.factor, offset
    )


def cell_reader(text: str) -> Callable[[str], float] | None:
    """What reads the cells of a column in this unit as whole numbers, NaN for an empty one.

    None where the cells hold plain numbers. The reader raises InvalidInput for what is no bytes.

    >>> reader = cell_reader("J1979 0C bytes")
    >>> [reader(cell) for cell in ("41 0C 1A F8", "410C1AF8", "0x1A 0xF8", "41 0D 37")]
    [6904.0, 6904.0, 6904.0, nan]
    """
    match = _NAME.fullmatch(text.strip())
    if match is None or not match[2]:
        return None
    pid = int(match[1], 16)
    return lambda cell: _whole(cell, pid)


def looks_like_bytes(cell: str) -> bool:
    """Whether a cell is plainly bytes: an answer, bytes set apart, or marked 0x.

    >>> [looks_like_bytes(cell) for cell in ("410C1AF8", "0x1A", "1A F8", "1A", "12", "face")]
    [True, True, True, False, False, False]
    """
    return bool(_BYTES.fullmatch(cell))


def _whole(cell: str, pid: int) -> float:
    data = _bytes(cell)
    known = PARAMETERS[pid]
    if len(data) == known.length:
        return float(int.from_bytes(data[: known.size], "big"))
    if data[:1] == bytes([_REFUSED]):
        return math.nan
    if data[:1] != bytes([_ANSWER]):
        raise _no_answer(cell, data, pid)
    found = dict(_answers(data[1:], cell)).get(pid)
    return math.nan if found is None else float(int.from_bytes(found[: known.size], "big"))


def _bytes(cell: str) -> bytes:
    try:
        return bytes.fromhex(_NO_DIGITS.sub("", cell))
    except ValueError:
        raise InvalidInput(
            f"{cell!r} is not whole bytes in hexadecimal", hint='write them as "41 0C 1A F8"'
        ) from None


def _answers(data: bytes, cell: str) -> Iterator[tuple[int, bytes]]:
    """The parameters in an answer, each with its bytes; what follows an unknown one is left."""
    while data and data[0] in PARAMETERS:
        end = 1 + PARAMETERS[data[0]].length
        if len(data) < end:
            raise InvalidInput(
                f"{cell!r} breaks off: J1979 {data[0]:02X} has {how_many(end - 1, 'byte')}",
                hint="an empty cell would be accepted",
            )
        yield data[0], data[1:end]
        data = data[end:]


def _no_answer(cell: str, data: bytes, pid: int) -> InvalidInput:
    length = PARAMETERS[pid].length
    if data and data[0] >> 4 in _FRAMES and len(data) > length:
        return InvalidInput(
            f"{cell!r} is a piece of an answer in several frames, which is not put together here",
            hint="export the log as values, or with each answer in one cell",
        )
    return InvalidInput(
        f"{cell!r} is neither an answer that begins with 41 nor the {how_many(length, 'byte')} of"
        f" J1979 {pid:02X}",
        hint="leave out the header and the length of the frame",
    )

"""Quantities as an author writes them: "90.2 mm", "7 psi", "310 cc/min".

A quantity is a number, blanks, and a unit from a closed table, nothing else.
The author's text is kept; computations use the SI float; comparison is physical.

- A unit may measure different things ("K" is a temperature or a difference of two):
  the field says which dimension it wants.
- Pressures are never "gauge" or "absolute" here, nor powers "crank" or "wheels": the field says
  it. What says so itself ("psig", "whp") is taken where the field means the same.
- What the trade also writes for a unit ("ft-lbs", "bhp", "cid") is taken and kept as typed.
- Two quantities written in one unit are the same when the numbers are equal. Written
  in different units they are the same when they agree within the coarser of the two
  written precisions: "3.551 in" and "90.2 mm" are one bore.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from buildlog.errors import InvalidInput
from buildlog.unit_table import ROWS

if TYPE_CHECKING:
    from buildlog.in_pint import PintQuantity, Registry

# Digits are 0 to 9 and blanks stay in the line: the published schemas' patterns say the same.
NUMBER = r"[+-]?(?:[0-9]{1,15}(?:\.[0-9]{0,15})?|\.[0-9]{1,15})(?:[eE][+-]?[0-9]{1,2})?"
BLANK = "[ \\t\\u00a0]*"
# A number as screens print it, of what is printed by the thousand: "89,541 mi". A comma with other
# digits behind it may be a decimal sign, and is refused.
THOUSANDS = r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]{0,15})?"
BY_THE_THOUSAND = frozenset(
    {"length", "speed", "angular_speed", "mass", "torque", "mass_flow", "force"}
)
_BY_THE_THOUSAND = re.compile(rf"({BLANK})({THOUSANDS})({BLANK}[A-Za-z][^\n]*)")
_QUANTITY = re.compile(rf"{BLANK}({NUMBER}){BLANK}([A-Za-z°%][^\n]{{0,19}}?)?{BLANK}")
LONGEST = 60

System = Literal["us", "metric"]  # of the units that results are shown in


@dataclass(frozen=True, slots=True)
class Unit:
    """A row of the table: SI value = number * factor + offset."""

    text: str
    dimension: str
    factor: float
    offset: float

    def to_si(self, number: float) -> float:
        """The SI value of a number written in this unit."""
        return number * self.factor + self.offset

    def from_si(self, si: float) -> float:
        """The number to write in this unit for an SI value."""
        return (si - self.offset) / self.factor


_BY_TEXT: dict[str, list[Unit]] = {}
for _row in ROWS:
    _BY_TEXT.setdefault(_row[0], []).append(Unit(*_row))

DIMENSIONS: frozenset[str] = frozenset(row[1] for row in ROWS)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit, as written (`text`), and as an SI float (`si`)."""

    text: str
    number: float
    unit: Unit
    half_step: float  # half of the last written digit, in SI

    @property
    def si(self) -> float:
        """The value in the SI unit of its dimension."""
        return self.unit.to_si(self.number)

    @property
    def dimension(self) -> str:
        """What it measures: "length", "pressure", ..."""
        return self.unit.dimension

    def to(self, unit: str) -> float:
        """The number in another unit of its dimension. InvalidInput where it is none.

        >>> round(parse("90.2 mm", ("length",)).to("in"), 3)
        3.551
        """
        found = find(unit, (self.dimension,))
        if found is None:
            raise _no_unit(unit, (self.dimension,))
        return found.from_si(self.si)

    def to_pint(self, registry: Registry | None = None) -> PintQuantity:
        """The same as a quantity of pint's, in the unit it was written in.

        It belongs to pint's application registry unless another one is given; quantities of two
        registries do not mix. InvalidInput for a level of sound, which is no unit of pint's.
        """
        from buildlog.in_pint import quantity

        return quantity(self.number, self.unit.text, self.dimension, registry)

    def __str__(self) -> str:
        return self.text


def find(text: str, dimensions: Iterable[str] | None = None) -> Unit | None:
    """The unit written exactly like this, of one of these dimensions; None if there is none."""
    wanted = None if dimensions is None else tuple(dimensions)
    for unit in _BY_TEXT.get(text, ()):
        if wanted is None or unit.dimension in wanted:
            return unit
    return None


def unit(text: str, dimension: str) -> Unit:
    """The unit of the table; KeyError if there is none: for texts the program itself writes."""
    found = find(text, (dimension,))
    if found is None:
        raise KeyError(f"{text} ({dimension})")
    return found


def si_text(dimension: str) -> str:
    """The SI unit of a dimension as it is written here: "Pa", "m/s"; "1" of a ratio."""
    here = [text for text, own, *si in ROWS if own == dimension and si == [1.0, 0.0]]
    here = here or [{"energy": "J", "specific_energy": "J/kg"}[dimension]]
    return "K" if "K" in here else here[0]


def texts(dimensions: Iterable[str]) -> list[str]:
    """The unit texts that measure one of these dimensions, in the table's order."""
    wanted = set(dimensions)
    return [row[0] for row in ROWS if row[1] in wanted and row[0] != "1"]


def one_spelling(dimensions: Iterable[str]) -> list[str]:
    """The same, each unit by its first spelling.

    >>> one_spelling(("temperature",))
    ['degC', 'degF', 'K']
    """
    wanted = tuple(dimensions)
    first: dict[tuple[str, float, float], str] = {}
    for text in texts(wanted):
        one = unit(text, *[row[1] for row in ROWS if row[0] == text and row[1] in wanted][:1])
        first.setdefault((one.dimension, one.factor, one.offset), text)
    return [*first.values()]


def parse(text: str, dimensions: Iterable[str], place: str | None = None) -> Quantity:
    """Read "90.2 mm" as a quantity of one of the dimensions; InvalidInput says what is wrong.

    `place` is what the field means by a pressure ("gauge", "absolute") or a power ("crank",
    "wheels"), where it means one of them.

    >>> parse("330 ft-lbs", ("torque",)).unit.text, parse("9 psig", ("pressure",), "gauge").text
    ('lb*ft', '9 psig')
    >>> parse("89,541 mi", ("length",)).number
    89541.0
    """
    wanted = tuple(dimensions)
    if len(text) > LONGEST:
        raise InvalidInput(
            f"a quantity of {len(text)} characters is too long",
            hint=_write(wanted),
        )
    match = _QUANTITY.fullmatch(_plain_number(text, wanted))
    if match is None:
        raise InvalidInput(f'"{text}" is not a number and a unit', hint=_grammar_hint(text, wanted))
    number_text, unit_text = match.group(1), match.group(2)
    if unit_text is None:
        raise InvalidInput(f'"{text}" needs a unit', hint=_write(wanted, number_text))
    found = find(unit_text, wanted) or _spelled(unit_text, wanted, place)
    if found is None:
        raise _no_unit(unit_text, wanted)
    number = float(number_text)
    if not math.isfinite(found.to_si(number)):
        raise InvalidInput(f'"{text}" is not a finite number', hint=_write(wanted))
    return Quantity(text.strip(), number, found, _half_step(number_text) * abs(found.factor))


def without_thousands(text: str) -> str:
    """A distance as files have it: "89,541 mi" -> "89541 mi"."""
    return _plain_number(text, ("length",))


def _plain_number(text: str, dimensions: tuple[str, ...]) -> str:
    """The text without the commas between thousands, where that is what they are."""
    text = text.replace("−", "-")  # as documents print it
    found = _BY_THE_THOUSAND.fullmatch(text) if BY_THE_THOUSAND & {*dimensions} else None
    return found[1] + found[2].replace(",", "") + found[3] if found else text


@dataclass(frozen=True, slots=True)
class UnitSpelling:
    """What is also written for a unit; `place` is what it says besides, "" if nothing."""

    text: str
    unit: Unit
    place: str


@cache
def spellings() -> tuple[UnitSpelling, ...]:
    """What the trade also writes for the units of the table."""
    lines = Path(__file__).with_name("unit_spellings.tsv").read_text(encoding="utf-8").splitlines()
    rows = [line.split("\t") for line in lines]
    return tuple(UnitSpelling(text, unit(plain, kind), place) for text, plain, kind, place in rows)


def spelled(dimensions: Iterable[str], place: str | None) -> list[str]:
    """The texts that are taken beside those of the table, by a field that means `place`."""
    wanted = set(dimensions)
    return [s.text for s in spellings() if s.unit.dimension in wanted and s.place in ("", place)]


def as_written(text: str) -> Quantity | None:
    """The quantity that a text is in whatever field it may stand; None where it is none.

    >>> as_written("450 bhp").unit.text, as_written("about 9 psi")
    ('hp', None)
    """
    match = _QUANTITY.fullmatch(_plain_number(text, tuple(BY_THE_THOUSAND)))
    if match is None or match.group(2) is None:
        return None
    also = next((one for one in spellings() if one.text == match.group(2)), None)
    found = find(match.group(2)) or (also.unit if also else None)
    if found is None:
        return None
    try:
        return parse(text, (found.dimension,), (also.place if also else "") or None)
    except InvalidInput:  # too long, or no finite number
        return None


def _spelled(text: str, dimensions: tuple[str, ...], place: str | None) -> Unit | None:
    """The unit that is meant; InvalidInput where the text says what the field does not mean."""
    for one in spellings():
        if one.text != text or one.unit.dimension not in dimensions:
            continue
        if one.place in ("", place):
            return one.unit
        what, plain = f'"{text}" is {_MEANT[one.place]}', one.unit.text
        if place is None:
            raise InvalidInput(
                f"{what}, and this field does not say which it holds", hint=f"write {plain}"
            )
        raise InvalidInput(
            f"{what}, and this field holds {_MEANT[place]}",
            hint=f"write {_MEANT[place]} in {plain}",
        )
    return None


_MEANT = {
    "gauge": "a gauge pressure", "absolute": "an absolute pressure",
    "crank": "power at the crank", "wheels": "power at the wheels",
}  # fmt: skip


def same(one: Quantity, other: Quantity) -> bool:
    """Whether two quantities mean one physical value (see the module's rule)."""
    if one.dimension != other.dimension:
        return False
    if one.unit.factor == other.unit.factor and one.unit.offset == other.unit.offset:
        return one.number == other.number
    tolerance = max(one.half_step, other.half_step)
    return abs(one.si - other.si) <= tolerance * (1 + 1e-9)


def _half_step(number_text: str) -> float:
    mantissa, _, exponent = number_text.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return 0.5 * 10.0 ** (int(exponent or 0) - decimals)


def known(dimensions: Iterable[str]) -> str:
    """The units of these dimensions, for a hint."""
    return f"known here: {', '.join(one_spelling(dimensions))}"


def _write(dimensions: tuple[str, ...], number: str = "12.3") -> str:
    choices = texts(dimensions)
    first = choices[0] if choices else "?"
    return f'write "{number} {first}" ({known(dimensions)})'


def _grammar_hint(text: str, dimensions: tuple[str, ...]) -> str:
    stripped = text.strip()
    if re.match(r"^[+-]?\d{1,3}(,\d{3})+(\.\d+)?\s*\D*$", stripped):
        plain, decimal = stripped.replace(",", ""), stripped.replace(",", ".", 1)
        also = (
            f', or "{decimal}" if the comma is a decimal sign' if stripped.count(",") == 1 else ""
        )
        return f'write "{plain}" without a thousands comma{also}'
    if re.match(r"^[+-]?\d+,\d+\s*\D*$", stripped):
        return f'write a decimal point: "{stripped.replace(",", ".", 1)}"'
    if re.match(r"^\d+ \d+/\d+", stripped) or re.match(r"^\d+/\d+", stripped):
        return 'write a fraction as a decimal number: "1.25 in" for one and a quarter'
    if re.match(r"^[\d.]+\s*:\s*1$", stripped):
        return f"write the ratio as a plain number: {stripped.split(':')[0].strip()}"
    if stripped.lower() in {"nan", "inf", "-inf", "unknown", "n/a", "?", "-", ""}:
        return "leave the field out when it is not known"
    return _write(dimensions)


def _no_unit(unit_text: str, dimensions: tuple[str, ...]) -> InvalidInput:
    """What is wrong with a unit that is none of these dimensions, and what to write."""
    others = _BY_TEXT.get(unit_text)
    hint = _usual_slip(unit_text, dimensions)
    if others or hint:
        known = hint or _instead(unit_text, dimensions)
        return InvalidInput(_not_a_unit(unit_text, dimensions, others), hint=known)
    from buildlog.in_pint import measured_by

    named, size = measured_by(unit_text) or ((), 0.0)
    fitting = [name for name in named if name in dimensions]
    if named and not fitting:
        what = f'"{unit_text}" measures {_or(named)}, not {_or(dimensions)}'
        return InvalidInput(what, hint=_instead(unit_text, dimensions))
    if fitting:
        what = f'the unit "{unit_text}" is not known here'
        kinds = " or ".join(f"{'an' if n[0] in 'aeiou' else 'a'} {_words(n)}" for n in fitting)
        return InvalidInput(
            what, hint=f"{unit_text} is {kinds}: write it in {_near(size, fitting)}"
        )
    what = _not_a_unit(unit_text, dimensions, None)
    return InvalidInput(what, hint=_instead(unit_text, dimensions))


def _not_a_unit(unit_text: str, dimensions: tuple[str, ...], others: list[Unit] | None) -> str:
    if others:
        return f'"{unit_text}" measures {_words(others[0].dimension)}, not {_or(dimensions)}'
    return f'"{unit_text}" is not a unit of {_or(dimensions)}'


def _words(dimension: str) -> str:
    return dimension.replace("_", " ")


def _or(dimensions: Iterable[str]) -> str:
    return " or ".join(map(_words, dimensions))


def _near(size: float, dimensions: list[str]) -> str:
    """The units of about this size in SI, in the table's order: "m, km, ft or mi"."""
    of_size: dict[float, str] = {}  # one spelling for each
    for text, dimension, factor, _ in ROWS:
        if dimension in dimensions and text != "1":
            of_size.setdefault(factor, text)
    nearest = sorted(of_size, key=lambda factor: abs(math.log(factor / size)))[:4]
    *most, last = [text for factor, text in of_size.items() if factor in nearest]
    return f"{', '.join(most)} or {last}" if most else last


def _usual_slip(unit_text: str, dimensions: tuple[str, ...]) -> str | None:
    """What to write for what people often write; None for anything else."""
    lower = {text.casefold(): text for text in texts(dimensions)}
    if unit_text.casefold() in lower:
        return f"write {lower[unit_text.casefold()]}: capitals matter in units"
    for text, hint in hints().items():
        if unit_text == text or (len(text) > 1 and unit_text.casefold() == text.casefold()):
            return hint
    return None


@cache
def hints() -> dict[str, str]:
    """What people write that is no unit of the table, and what to write instead."""
    lines = Path(__file__).with_name("unit_hints.tsv").read_text(encoding="utf-8").splitlines()
    return dict(line.split("\t") for line in lines)


def _instead(unit_text: str, dimensions: tuple[str, ...]) -> str:
    known = texts(dimensions)
    close = difflib.get_close_matches(unit_text, known, n=1, cutoff=0.6)
    first = f"did you mean {close[0]}? " if close else ""
    return f"{first}known here: {', '.join(one_spelling(dimensions))}"


def system_of(odometers: Iterable[str | None], default: System = "metric") -> System:
    """The system an author writes in, by the unit of the newest odometer reading."""
    for text in odometers:
        if text and text.rstrip().endswith("mi"):
            return "us"
        if text and text.rstrip().endswith("km"):
            return "metric"
    return default

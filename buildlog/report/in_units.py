"""The program's own sentences in the units of results: "held at 90 kPa" on a US car's screen.

A sentence is made where its figures are, before anybody knows for whom. What a person wrote stays:
it stands in quotes, or is no sentence of the program and does not come here.
"""

from __future__ import annotations

import math
import re

from buildlog.report.numbers import OTHER, PRINTED, SPOKEN, plain
from buildlog.units import BY_THE_THOUSAND, DIMENSIONS, System, Unit, find, spellings, unit

_KINDS = DIMENSIONS - {"temperature_difference"}


def _spelled(text: str) -> str:
    """A unit as files and as print have it."""
    return re.escape(text).replace(r"\*", "[*·]").replace("deg", "(?:deg|°)")


_NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")
_SIGNED = re.compile(rf"(?:(?<!\d)-)?{_NUMBER.pattern}")  # in "4-5" the sign is a dash
_UNITS = sorted({text for units in OTHER.values() for text in units}, key=len, reverse=True)
# "95 to 101 kPa", "162 of 196 lb/h", "0.4 ± 0.1 bar": every number that the unit behind is of.
_LINKED = re.compile(
    rf"(?<![\w.,/:^])(?P<numbers>(?:-?{_NUMBER.pattern}(?: to | of | ± |-))*-?{_NUMBER.pattern}) "
    rf"(?P<unit>{'|'.join(map(_spelled, _UNITS))})(?![\w·*/^])"
)
# Other names of a unit, of which a person typed one; those of letters alone may be plain words.
_NAMES = {
    **{name: text for name, text in PRINTED.items() if not name.isalpha()},
    **{
        name: PRINTED.get(one.unit.text, one.unit.text)
        for one in spellings()
        for name in (one.text,)
        if (one.place or not name.isalpha()) and not name.endswith(".")
    },
}
_NAMED = re.compile(
    rf"(?<![\w.,/:^])(-?{_NUMBER.pattern}) "
    rf"({'|'.join(re.escape(name) for name in sorted(_NAMES, key=len, reverse=True))})"
    r"(?![\w·*/^-])"
)
_QUOTED = re.compile(r'("[^"]*"|“[^”]*”|`[^`]*`)')


def in_units(text: str) -> str:
    """A sentence with its quantities in the units of results, to about the digits they had.

    >>> from buildlog.report.numbers import all_in
    >>> with all_in("us"):
    ...     print(in_units('held at 1 to 2.5 bar, 90 degC: "10 kPa"'))
    held at 15 to 36 psi, 194 degF: "10 kPa"
    >>> with all_in("us"):
    ...     print(in_units("300 lb-ft is above the spec (40 N*m)"))
    300 lb*ft is above the spec (30 lb*ft)
    """
    system = SPOKEN.get()
    if system is None:
        return text
    parts = _QUOTED.split(text)
    named = [_NAMED.sub(lambda found: f"{found[1]} {_NAMES[found[2]]}", one) for one in parts[::2]]
    parts[::2] = [_LINKED.sub(lambda found: _told(found, system), part) for part in named]
    return "".join(parts)


def _told(found: re.Match[str], system: System) -> str:
    numbers, written = found["numbers"], found["unit"].replace("·", "*").replace("°", "deg")
    other = OTHER[system].get(written)
    if other is None:
        return found[0]
    if written == "in" and "." not in numbers:  # "pull 2 in gear 4"
        return found[0]
    before = find(written, _KINDS)
    assert before is not None
    after = unit(other, before.dimension)
    return f"{_SIGNED.sub(lambda one: _changed(one[0], before, after), numbers)} {after.text}"


def _changed(number: str, before: Unit, after: Unit) -> str:
    value = after.from_si(before.to_si(float(number.replace(",", ""))))
    step = 10.0 ** -len(number.partition(".")[2]) * before.factor / after.factor
    decimals = 0 if abs(value) >= 100 else max(0, math.ceil(-math.log10(2 * step) - 1e-9))
    text = plain(value, decimals)
    return text if after.dimension in BY_THE_THOUSAND else text.replace(",", "")

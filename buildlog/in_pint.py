"""The one place that knows pint: quantities for who works with it, and what it says of a unit.

pint is loaded when one of these is called, and not before. A text from outside is looked up among
the names that pint has; it never reaches pint's parser.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any, TypeAlias

from buildlog.errors import InvalidInput
from buildlog.unit_table import IN_PINT, SI

if TYPE_CHECKING:
    import pint

    Registry: TypeAlias = pint.UnitRegistry[Any]
    PintQuantity: TypeAlias = pint.Quantity[Any]

_NAME = re.compile(r"[A-Za-z]+(?:[ _][A-Za-z]+)*")
_SHORTEST = 3  # letters: shorter ones are symbols, and mean one thing here and another there


def quantity(
    number: float, text: str, dimension: str, registry: Registry | None = None
) -> PintQuantity:
    """A number in a unit of the table as a quantity of pint's.

    It belongs to the registry given, else to pint's application registry as it is now: pint does
    not mix quantities of two registries. InvalidInput for a level of sound, which pint has not.
    """
    import pint

    words = IN_PINT.get((text, dimension))
    if words is None:
        raise InvalidInput(
            f'"{text}" is a level against a reference, which has no unit in pint',
            hint="use .text, or .si, which is the number of decibels",
        )
    held: Registry = registry or pint.application_registry.get()  # type: ignore[no-untyped-call]
    return held.Quantity(number, held.Unit(words))


def measured_by(text: str) -> tuple[tuple[str, ...], float] | None:
    """What a unit of pint's with this name measures, in the table's dimensions, and how large it
    is in SI; None where pint has no such name or the table nothing like it.

    >>> measured_by("furlong")
    (('length',), 201.168...)
    """
    if len(text) < _SHORTEST or not _NAME.fullmatch(text):
        return None
    wanted = text.replace(" ", "_")
    names = (wanted, wanted.lower(), wanted.removesuffix("s"), wanted.lower().removesuffix("s"))
    known = next((name for name in names if name in _names()), None)
    return None if known is None else _measured_by(known)


@lru_cache(maxsize=1)
def _own() -> Registry:
    """A registry to look names up in, which nobody else defines anything in."""
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@lru_cache(maxsize=1)
def _names() -> frozenset[str]:
    """The names of pint's units."""
    return frozenset(_own())


@lru_cache
def _measured_by(name: str) -> tuple[tuple[str, ...], float] | None:
    """The same for a name that is pint's own."""
    registry = _own()
    kind = registry.Unit(name).dimensionality
    found = tuple(d for d, si in SI.items() if registry.Unit(si).dimensionality == kind)
    size = registry.Quantity(1.0, name).to(SI[found[0]]).magnitude if found else 0.0
    return (found, float(size)) if found else None

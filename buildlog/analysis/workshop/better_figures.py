"""A rating or a flow that changes alone: another part, or a better figure of the same one?

Under one maker and number it is the same part, and its value is put right. Under no identity the
program cannot tell, and asks.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from buildlog.analysis.workshop.partlife import PartIdentity, identities
from buildlog.records.car.configuration import Configuration
from buildlog.records.paths import differences

# What is measured or stated of a part, and may be known better without it being another one.
_FIGURE = re.compile(
    r"(^|\.)(\w*flow|\w*rated_\w+|\w+_limit|limit\.(value|source)|source|test_fluid|test_density"
    r"|\w*at_pressure|at_voltage|range_\w+|\w+_strength|least_\w+)$"
)


@dataclass(frozen=True)
class BetterFigure:
    """A part of which only figures changed: its path, the fields, which part it is."""

    part: str
    fields: tuple[str, ...]
    identity: PartIdentity

    @property
    def known(self) -> bool:
        """Whether maker and number say that it is one and the same part."""
        return bool(self.identity.maker and self.identity.number)


def better_figures(old: Configuration, new: Configuration) -> list[BetterFigure]:
    """The parts of which nothing changed but figures that were stated before."""
    before, after = identities(old), identities(new)
    moved: dict[str, list[str]] = {}
    other: set[str] = set()
    for path, was, now in differences(old, new):
        part = _part_of(path, after)
        if part is None:
            continue
        figure = was is not None and now is not None and _FIGURE.search(path.removeprefix(part))
        if figure and before.get(part) == after[part]:
            moved.setdefault(part, []).append(path)
        else:
            other.add(part)
    return [
        BetterFigure(part, tuple(paths), after[part])
        for part, paths in moved.items()
        if part not in other
    ]


def _part_of(path: str, parts: dict[str, PartIdentity]) -> str | None:
    """The nearest part that a field belongs to."""
    while path:
        if path in parts:
            return path
        path = path.rpartition(".")[0]
    return None

"""What a column of a raw file means: the channel it carries, its name in the file, its unit."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from buildlog import units
from buildlog.errors import InvalidInput, UsageError
from buildlog.rawfiles import obd
from buildlog.rawfiles.aliases import spelling
from buildlog.rawfiles.channel_words import CHANNELS
from buildlog.rawfiles.heads import RawColumn

DISPLAY_STOICHIOMETRIC = 14.7  # common practice: what an instrument multiplies lambda by
_MAP_FORM = "write CHANNEL=COLUMN:UNIT, for example power=Leistung:kW"


@dataclass(frozen=True)
class ColumnSpec:
    """One column as session.toml states it. `run` picks among equal names side by side."""

    channel: str
    name: str
    unit: str
    display_stoichiometric: float | None = None
    run: str | None = None

    def unit_row(self) -> units.Unit:
        """The unit of the table; InvalidInput when it is none or does not fit the channel."""
        dimensions = dimensions_of(self.channel)
        text = self.unit or ("1" if "ratio" in dimensions else "")
        found = units.find(text, dimensions) or obd.unit(text, dimensions)
        spelt = spelling(text) if found is None and text else None
        found = found or (units.find(spelt.unit, dimensions) if spelt else None)
        if found is None:
            known = ", ".join(units.one_spelling(dimensions)) or "no unit"
            what = " or ".join(dimension.replace("_", " ") for dimension in dimensions)
            raise InvalidInput(
                f'"{self.unit}" is no unit of {what}',
                where=f'column "{self.name}"',
                hint=f"known for {self.channel}: {known}",
            )
        return found


def dimensions_of(channel: str) -> tuple[str, ...]:
    """The dimensions a channel may be given in; InvalidInput names the nearest channel."""
    if channel not in CHANNELS:
        raise InvalidInput(f'"{channel}" is no channel', hint=_nearest(channel, CHANNELS))
    return CHANNELS[channel].dimensions


def parse_map(text: str, names: Sequence[str] | None = None) -> ColumnSpec:
    """Read `--map CHANNEL=COLUMN:UNIT`; with the file's column names, check the column too.

    The unit is what follows the last colon; it may be left out for a plain ratio such as lambda.

    >>> spec = parse_map("power=P wheel [kW]:kW")
    >>> spec.channel, spec.name, spec.unit
    ('power', 'P wheel [kW]', 'kW')
    """
    channel, equals, rest = (part.strip() for part in text.partition("="))
    if not equals or not channel or not rest:
        raise UsageError(f'"{text}" does not say which column is which channel', hint=_MAP_FORM)
    try:
        name, unit = _name_and_unit(rest, names, "ratio" in dimensions_of(channel), text)
        if names is not None and name not in names:
            raise InvalidInput(f'there is no column "{name}"', hint=_nearest(name, names))
        ratio = DISPLAY_STOICHIOMETRIC if channel == "air_fuel_ratio" else None
        spec = ColumnSpec(channel, name, unit, ratio)
        return replace(spec, unit=spec.unit_row().text)
    except InvalidInput as problem:
        raise UsageError(problem.what, where=f"--map {text}", hint=problem.hint) from None


def _name_and_unit(
    rest: str, names: Sequence[str] | None, ratio: bool, text: str
) -> tuple[str, str]:
    """Column and unit; a column's own name may hold a colon."""
    if names and rest in names and ratio:
        return rest, "1"
    name, colon, unit = (part.strip() for part in rest.rpartition(":"))
    if colon and name and unit:
        return name, unit
    if ratio:
        return rest.rstrip(":").strip(), "1"
    raise UsageError("the unit is missing", where=f"--map {text}", hint=_MAP_FORM)


def find_column(columns: Sequence[RawColumn], spec: ColumnSpec, where: str) -> RawColumn:
    """The column a spec means: by its full name, or by its name within the given run."""
    matches = [column for column in columns if column.name == spec.name]
    if spec.run:
        matches = [column for column in matches if column.run == spec.run] or [
            column for column in columns if (column.base, column.run) == (spec.name, spec.run)
        ]
    if not matches:
        names = [column.name for column in columns]
        raise InvalidInput(
            f'there is no column "{spec.name}" for {spec.channel}',
            where=where,
            hint=_nearest(spec.name, names),
        )
    return matches[0]


def _nearest(wrong: str, known: Iterable[str]) -> str:
    names = list(known)
    folded = {name.casefold(): name for name in names}
    close = difflib.get_close_matches(wrong.casefold(), folded, n=1, cutoff=0.5)
    if close:
        return f'did you mean "{folded[close[0]]}"?'
    return f"there are: {', '.join(names)}"

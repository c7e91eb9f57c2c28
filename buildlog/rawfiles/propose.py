"""What a raw file seems to hold: columns with channel and unit, runs, conditions, questions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from buildlog import units
from buildlog.findings import Finding, how_many
from buildlog.rawfiles import assume, runs
from buildlog.rawfiles.channel_words import CHANNELS
from buildlog.rawfiles.decode import Source
from buildlog.rawfiles.guess import Guess, guess
from buildlog.rawfiles.heads import RawColumn
from buildlog.rawfiles.layout import Layout, find_layout
from buildlog.rawfiles.notes import Condition, Note, conditions, metadata
from buildlog.rawfiles.runs import RunProposal
from buildlog.rawfiles.sanity import look_at
from buildlog.rawfiles.spec import DISPLAY_STOICHIOMETRIC, ColumnSpec, find_column
from buildlog.rawfiles.table import RawTable, pieces

Floats = NDArray[np.float64]
_AGREE = "assumed because power, torque and engine speed then agree"
SAMPLE = 200_000  # rows by which sizes are judged


@dataclass(frozen=True)
class ProposedColumn:
    """A column as it was understood. `channel` None: not read; `unit` None: asked for.

    `at` is "wheel" or "crank" and `state` "corrected" or "observed" where the header says so.
    `assumed` marks what only the size of the numbers, or custom, speaks for.
    """

    name: str
    channel: str | None
    unit: str | None
    dimension: str | None
    why: str
    assumed: bool = False
    display_stoichiometric: float | None = None
    at: str | None = None
    state: str | None = None
    run: str | None = None
    candidates: tuple[str, ...] = ()
    unknown_unit: str | None = None  # the header's text where it is no unit that is known

    @property
    def spec(self) -> ColumnSpec | None:
        """What to read; None while channel or unit is open."""
        if self.channel is None or self.unit is None:
            return None
        return ColumnSpec(self.channel, self.name, self.unit, self.display_stoichiometric, self.run)


@dataclass(frozen=True)
class ColumnQuestion:
    """What must be asked: the sentence, which columns it is about, and what may be answered.

    `kind`: "header" (what the columns hold), "which" (of `columns` is the channel), "unit",
    "channel" (of `choices` is the column), "standard", "condition" (of the field `about`).
    """

    kind: str
    text: str
    columns: tuple[str, ...] = ()
    about: str = ""
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class FileProposal:
    """All that was understood of a raw file, and what must be asked."""

    name: str
    columns: tuple[ProposedColumn, ...]
    runs: tuple[RunProposal, ...]
    metadata: dict[str, str]
    asked: tuple[ColumnQuestion, ...]
    conditions: tuple[Condition, ...]
    rows: int
    encoding: str
    delimiter: str
    decimal: str
    findings: tuple[Finding, ...] = ()
    layout: Layout | None = field(default=None, repr=False, compare=False)

    def specs(self, run: str | None = None) -> list[ColumnSpec]:
        """The columns to read, for one run where runs stand side by side."""
        return [
            column.spec
            for column in self.columns
            if column.spec and (column.run is None or column.run == run)
        ]


@dataclass(frozen=True)
class _FileScan:
    """All columns' first rows, the whole length, breaks and notes."""

    sample: Floats
    rows: int
    breaks: list[int]
    notes: list[Note]


def propose(source: Source, name: str, maps: Sequence[ColumnSpec] = ()) -> FileProposal:
    """Read a raw file's layout and say what each column seems to be; `maps` win over guesses.

    >>> proposal = propose(b"RPM,Power (kW)\\n3000,80\\n3100,84\\n", "a.csv")
    >>> [(column.channel, column.unit) for column in proposal.columns]
    [('engine_speed', 'rpm'), ('power', 'kW')]
    """
    layout = find_layout(source, name)
    numbers = [column.index for column in layout.columns if layout.numeric[column.index]]
    scan = _scan(source, layout, numbers)
    values = {index: scan.sample[:, j] for j, index in enumerate(numbers)}
    columns = [_column(column, values.get(column.index)) for column in layout.columns]
    columns = _overridden(columns, layout, maps, name)
    columns, questions = _one_per_channel(columns, {spec.channel for spec in maps})
    columns = _by_identity(columns, layout, values)
    notes = [*layout.above, *scan.notes]
    stated = conditions(notes, layout.dialect)
    return FileProposal(
        name,
        tuple(columns),
        tuple(_runs(source, layout, columns, scan)),
        metadata(notes, layout.dialect),
        (*_no_header(layout, maps), *questions, *_open(columns, stated)),
        tuple(stated),
        scan.rows,
        layout.encoding.codec,
        layout.dialect.delimiter,
        layout.dialect.decimal,
        tuple(_findings(columns, layout, values)),
        layout,
    )


def _scan(source: Source, layout: Layout, numbers: list[int]) -> _FileScan:
    """One pass over the file; of its rows only the first ones are kept."""
    sample: list[Floats] = []
    held, rows, breaks, notes = 0, 0, [], []
    for piece in pieces(source, layout, numbers, lenient=True):
        if held < SAMPLE:
            sample.append(piece.values[: SAMPLE - held])
            held += len(sample[-1])
        breaks += [rows + edge for edge in piece.breaks]
        notes += [(line, text) for _, line, text in piece.notes]
        rows += len(piece.values)
    return _FileScan(np.concatenate(sample), rows, breaks, notes)


def _column(column: RawColumn, values: Floats | None) -> ProposedColumn:
    """A column by its heading, then by the size of its numbers."""
    if values is None:
        return _unread(column, "the column holds words")
    if not np.isfinite(values).any():
        return _unread(column, "the column is empty")
    found = guess(column.heading)
    channel, assumed, why = found.channel, False, found.why
    if channel is None and (channel := assume.between(found.candidates, values)):
        assumed, why = True, f"{why}; the size of its numbers decides"
    if channel is None:
        given = column.heading.unit.unit if column.heading.unit else None
        return replace(_unread(column, why), candidates=found.candidates, unit=given)
    spelt = column.heading.unit
    channel = assume.rail(channel, values, units.find(spelt.unit, ("pressure",)) if spelt else None)
    unit, unit_assumed = _unit(column, channel, values)
    return _known(
        replace(_unread(column, why), channel=channel, unit=unit), found, assumed or unit_assumed
    )


def _unread(column: RawColumn, why: str) -> ProposedColumn:
    unknown = column.heading.unknown_unit
    return ProposedColumn(column.name, None, None, None, why, run=column.run, unknown_unit=unknown)


def _unit(column: RawColumn, channel: str, values: Floats) -> tuple[str | None, bool]:
    """The unit and whether it is only assumed."""
    heading = column.heading
    if heading.unit and units.find(heading.unit.unit, CHANNELS[channel].dimensions):
        return heading.unit.unit, False
    if heading.unknown_unit:
        return None, False
    if assume.plain(channel):
        return "1", False
    unit = assume.assumed_unit(channel, values)
    return unit, unit is not None


def _known(column: ProposedColumn, found: Guess, assumed: bool) -> ProposedColumn:
    """The column with what follows from its channel and unit."""
    channel, unit, why = column.channel or "", column.unit, column.why
    dimensions = CHANNELS[channel].dimensions
    row = units.find(unit, dimensions) if unit else None
    ratio = DISPLAY_STOICHIOMETRIC if channel == "air_fuel_ratio" else None
    if ratio:
        why = f"{why}; taken as lambda times {ratio}, an assumption"
    elif assumed:
        why = f"{why}; {unit or 'the unit'} is assumed from the size of the numbers"
    if channel in {"power", "torque"}:
        column = replace(column, at=found.place, state=found.state)
    return replace(
        column,
        dimension=row.dimension if row else dimensions[0],
        why=why,
        assumed=assumed or ratio is not None,
        display_stoichiometric=ratio,
    )


def _overridden(
    columns: list[ProposedColumn], layout: Layout, maps: Sequence[ColumnSpec], name: str
) -> list[ProposedColumn]:
    """The columns with what the operator said; a guess for the same channel steps back."""
    for spec in maps:
        column = find_column(layout.columns, spec, name)
        row = spec.unit_row()
        columns = [
            replace(other, channel=None, why=f'{spec.channel} is mapped to "{spec.name}"')
            if other.channel == spec.channel and other.run == column.run
            else other
            for other in columns
        ]
        columns[column.index] = replace(
            columns[column.index],
            channel=spec.channel,
            unit=row.text,
            dimension=row.dimension,
            why="as mapped",
            assumed=False,
            display_stoichiometric=spec.display_stoichiometric,
            candidates=(),
            unknown_unit=None,
        )
    return columns


def _one_per_channel(
    columns: list[ProposedColumn], mapped: set[str]
) -> tuple[list[ProposedColumn], list[ColumnQuestion]]:
    """Each channel once a run: wheels before crank, observed before corrected, else ask."""
    questions: list[ColumnQuestion] = []
    for key in dict.fromkeys((column.channel, column.run) for column in columns):
        rivals = [n for n, column in enumerate(columns) if (column.channel, column.run) == key]
        if key[0] is None or len(rivals) < 2 or key[0] in mapped:
            continue
        best = _preferred([columns[n] for n in rivals])
        if best is None:
            questions.append(_which(key[0], [columns[n] for n in rivals]))
        for n in rivals:
            columns[n] = _stepped_back(columns[n], best)
    return columns, questions


def _preferred(rivals: list[ProposedColumn]) -> ProposedColumn | None:
    """The one column that a plain rule prefers; None where no rule speaks."""
    for said in ("wheel", "observed"):
        fitting = [column for column in rivals if said in (column.at, column.state)]
        rivals = fitting or rivals
    if len(rivals) > 1:
        rivals = [column for column in rivals if column.at != "crank"] or rivals
        rivals = [column for column in rivals if column.state != "corrected"] or rivals
    return rivals[0] if len(rivals) == 1 else None


def _stepped_back(column: ProposedColumn, best: ProposedColumn | None) -> ProposedColumn:
    if best is None:
        why, meant = f"{column.why}, as another does", (column.channel or "",)
        return replace(column, channel=None, why=why, candidates=meant)
    if column is best:
        return replace(column, why=f"{column.why}; preferred to its like")
    return replace(column, channel=None, why=f'"{best.name}" is read instead')


def _which(channel: str, rivals: list[ProposedColumn]) -> ColumnQuestion:
    names = tuple(column.name for column in rivals)
    shown = " or ".join(f'"{name}"' for name in names)
    text = f"which column is {channel}: {shown}? (--map {channel}=COLUMN:UNIT)"
    return ColumnQuestion("which", text, names, channel, names)


def _by_identity(
    columns: list[ProposedColumn], layout: Layout, values: dict[int, Floats]
) -> list[ProposedColumn]:
    """Missing units of power and torque from P = T * omega, run by run."""
    for run in dict.fromkeys(column.run for column in columns):
        found = {
            column.channel: n
            for n, column in enumerate(columns)
            if column.run in (run, None) and column.channel
        }
        if not {"power", "torque", "engine_speed"} <= set(found):
            continue
        power, torque = columns[found["power"]], columns[found["torque"]]
        if (power.unit and torque.unit) or power.at != torque.at:
            continue
        pair = assume.by_identity(
            *(values[found[channel]] for channel in ("power", "torque", "engine_speed"))
        )
        given = {c.channel: c.unit for c in (power, torque) if c.channel and c.unit}
        if pair and assume.known_pair(given, pair):
            for column, unit in zip((power, torque), pair, strict=True):
                if not column.unit:
                    why = f"{column.why}; {unit} is {_AGREE}"
                    columns[found[column.channel or ""]] = replace(
                        column, unit=unit, assumed=True, why=why
                    )
    return columns


def _runs(
    source: Source, layout: Layout, columns: Sequence[ProposedColumn], scan: _FileScan
) -> list[RunProposal]:
    """The first kind of split that the file shows."""
    if found := runs.side_by_side(layout.columns):
        return found
    if found := runs.one_after_another(scan.breaks, scan.rows):
        return found
    for channel, rule in (
        ("run_number", runs.by_number),
        ("time", runs.by_restart),
        ("engine_speed", runs.by_sweep),
        ("roller_speed", runs.by_sweep),
        ("road_speed", runs.by_sweep),
    ):
        index = next((n for n, c in enumerate(columns) if c.channel == channel), None)
        if index is None:
            continue
        parts = (piece.values[:, 0] for piece in pieces(source, layout, [index], lenient=True))
        values, rows = runs.thinned(parts, scan.rows, steps=rule is not runs.by_sweep)
        if found := rule(values):
            return [runs.in_rows(one, rows) for one in found]
    return []


def _no_header(layout: Layout, maps: Sequence[ColumnSpec]) -> list[ColumnQuestion]:
    if layout.named or maps:
        return []
    what = f"what do its {how_many(len(layout.columns), 'column')} hold?"
    text = f"the file has no header: {what} (--map CHANNEL=column 1:UNIT)"
    return [ColumnQuestion("header", text, tuple(column.name for column in layout.columns))]


def _open(columns: Sequence[ProposedColumn], stated: Sequence[Condition]) -> list[ColumnQuestion]:
    """A question for each column whose channel or unit is open, and for undecided conditions."""
    asked = [question for column in columns if (question := _question(column))]
    about = "standard_applied"
    if not any(condition.field == about for condition in stated):
        said = "is corrected: by which standard? (--standard-applied NAME)"
        asked += [
            ColumnQuestion("standard", f'"{column.name}" {said}', (column.name,), about)
            for column in columns
            if column.channel == "power" and column.state == "corrected"
        ]
    return asked + [
        ColumnQuestion("condition", condition.question, about=condition.field)
        for condition in stated
        if condition.question
    ]


def _question(column: ProposedColumn) -> ColumnQuestion | None:
    name = column.name
    if column.unknown_unit and (column.channel or column.candidates):
        text = (
            f'the unit "{column.unknown_unit}" of "{name}" is not known:'
            f" export the pull in another, or map it (--map CHANNEL={name}:UNIT)"
        )
        return ColumnQuestion("unit", text, (name,), column.channel or column.candidates[0])
    if column.channel and column.unit is None:
        known = units.texts(CHANNELS[column.channel].dimensions)
        text = (
            f'in which unit is "{name}" ({column.channel}): {", ".join(known)}?'
            f" (--map {column.channel}={name}:UNIT)"
        )
        return ColumnQuestion("unit", text, (name,), column.channel, tuple(known))
    if column.channel is None and len(column.candidates) > 1:
        choice = " or ".join(column.candidates)
        text = f'is "{name}" {choice}? (--map CHANNEL={name}:UNIT)'
        return ColumnQuestion("channel", text, (name,), choices=column.candidates)
    return None


def _findings(
    columns: Sequence[ProposedColumn], layout: Layout, values: dict[int, Floats]
) -> list[Finding]:
    """What the sizes of the numbers say against the units taken."""
    found: list[Finding] = []
    for run in dict.fromkeys(column.run for column in columns):
        chosen = {
            column.spec: values[n]
            for n, column in enumerate(columns)
            if column.spec and column.run == run and n in values
        }
        table = RawTable(
            {spec.channel: _to_si(spec, data) for spec, data in chosen.items()},
            {spec.channel: int(np.isnan(data).sum()) for spec, data in chosen.items()},
        )
        found += look_at(table, list(chosen), layout.name) if chosen else []
    return found


def _to_si(spec: ColumnSpec, data: Floats) -> Floats:
    row = spec.unit_row()
    return data * row.factor + row.offset

"""A session.toml from what was understood of raw files: columns, runs, conditions."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from buildlog.analysis.pulls.recorded_layout import layout_table
from buildlog.rawfiles.notes import Condition
from buildlog.rawfiles.propose import FileProposal, ProposedColumn
from buildlog.records.checked_paths import field_paths
from buildlog.records.paths import field_at, toml_value
from buildlog.records.session import Pull, RawLayout, Session

Table = dict[str, Any]
# Conditions that may differ from pull to pull; the others belong to the whole visit.
PER_PULL = field_paths("air.temperature", "air.pressure", "air.humidity", "gear", model=Pull)
FIELDS = field_paths(
    "date", "place", "altitude", "odometer", "gear", "lockup", "standard_applied",
    "boost_control", "tyre_pressure", "strapping", "configuration", "note", "dyno.id",
    "dyno.kind", "dyno.driven", "dyno.roller_circumference", "dyno.drum_inertia",
    "dyno.smoothing_applied",
    "air.temperature", "air.pressure", "air.humidity", "fuel.kind", "fuel.ethanol_content",
    model=Session,
)  # fmt: skip


@dataclass(frozen=True)
class RawFile:
    """One raw file as it enters a session: its name there, what was understood of it.

    `rows` are the data rows to read where the last line is cut off; `runs` says whether the
    runs that were found in it are taken. `outside` is SHA-256 and size of a file that is too
    large to enter; then `name` is the reduced file, `part` says what of it entered, and `blocks`
    are the rows of each stretch.
    """

    name: str
    proposal: FileProposal
    rows: tuple[int, int] | None = None
    runs: bool = True
    outside: tuple[str, int] | None = None
    blocks: tuple[tuple[int, int], ...] = ()
    note: str | None = None
    part: str = ""


@dataclass(frozen=True)
class Found:
    """A condition that the files state: one value for all of them, or one for each file."""

    field: str
    value: str | None
    by_file: Mapping[str, str] = dataclasses.field(default_factory=dict)
    text: str = ""
    where: str = ""
    question: str | None = None

    @property
    def differs(self) -> bool:
        """Whether the files do not state one and the same value."""
        return self.value is None and self.question is None


def found_conditions(proposals: Sequence[tuple[str, FileProposal]]) -> list[Found]:
    """What the files state about the run, field by field; only what session.toml can hold."""
    stated: dict[str, dict[str, Condition]] = {}
    for name, proposal in proposals:
        for condition in (*proposal.conditions, *_observed(proposal)):
            if condition.field in FIELDS:
                stated.setdefault(condition.field, {}).setdefault(name, condition)
    return [_found(field, by_file) for field, by_file in stated.items()]


def _observed(proposal: FileProposal) -> list[Condition]:
    """A power column that calls itself observed holds no correction."""
    read = [c for c in proposal.columns if c.channel == "power" and c.state == "observed"]
    return [Condition("standard_applied", "none", c.name, 0) for c in read[:1]]


def _found(field: str, by_file: Mapping[str, Condition]) -> Found:
    first_file, first = next(iter(by_file.items()))
    where = f"{first_file}, line {first.line}" if first.line else first_file
    question = next((c.question for c in by_file.values() if c.value is None), None)
    if question:
        return Found(field, None, {}, first.text, where, question)
    values = {name: c.value or "" for name, c in by_file.items()}
    same = len(set(values.values())) == 1
    return Found(field, first.value if same else None, values, first.text, where)


def new_session(
    date: dt.date, fields: Mapping[str, str], stated: Sequence[Mapping[str, str]]
) -> Table:
    """A session without columns and pulls. `fields` are dotted fields with their texts."""
    draft: Table = {"format": 1, "date": date}
    for name in FIELDS:
        if name in fields and name != "date":
            put(draft, name, fields[name])
    return draft | ({"stated": [dict(one) for one in stated]} if stated else {})


def put(table: Table, dotted: str, text: str) -> None:
    """Set a dotted field of a session to what its text means."""
    *tables, last = dotted.split(".")
    for name in tables:
        table = table.setdefault(name, {})
    table[last] = toml_value(field_at(Session, dotted), text)


def with_pulls(draft: Table, files: Sequence[RawFile], own: Mapping[str, Table]) -> Table:
    """A new session with the files' columns and pulls; `own` are a pull's own fields by file."""
    laid = [(pull, columns) for file in files for pull, columns in pulls(file, own)]
    shared = [c for c in (laid[0][1] if laid else []) if all(c in columns for _, columns in laid)]
    layout = _shared_layout([pull for pull, _ in laid])
    items = [_with_columns(pull, [c for c in columns if c not in shared]) for pull, columns in laid]
    body = {name: value for name, value in draft.items() if name != "stated"}
    body |= {"layout": layout} if layout else {}
    body |= {"column": shared} if shared else {}
    body |= {"pull": _named(items, set())} if items else {}
    return body | ({"stated": draft["stated"]} if "stated" in draft else {})


def more_pulls(
    session: Session, files: Sequence[RawFile], own: Mapping[str, Table]
) -> tuple[list[Table], tuple[str, ...]]:
    """Pulls for a session that exists, and the session's columns that the files do not have."""
    added = {"delay", "range_high"}  # what only a person says of a column
    common = [column.model_dump(exclude_none=True, exclude=added) for column in session.column]
    items: list[Table] = []
    lacking: list[str] = []
    for file in files:
        for pull, columns in pulls(file, own):
            if "layout" in pull and RawLayout.model_validate(pull["layout"]) == session.layout:
                del pull["layout"]
            channels = {column["channel"] for column in columns}
            lacking += [c["channel"] for c in common if c["channel"] not in channels]
            plain = [{**c, "unit": c.get("unit", "1")} for c in common]
            new = [c for c in columns if {**c, "unit": c.get("unit", "1")} not in plain]
            items.append(_with_columns(pull, new))
    return _named(items, {pull.name for pull in session.pull}), tuple(dict.fromkeys(lacking))


def _shared_layout(pulls: Sequence[Table]) -> Table | None:
    """The layout of all files, taken out of each pull; None where they differ."""
    layouts = [pull.get("layout") for pull in pulls]
    if not layouts or any(one != layouts[0] for one in layouts):
        return None
    for pull in pulls:
        pull.pop("layout", None)
    return layouts[0]


def pulls(file: RawFile, own: Mapping[str, Table]) -> list[tuple[Table, list[Table]]]:
    """The pulls of one file, each with the columns it is read by."""
    base: Table = {"file": file.name} | ({"note": file.note} if file.note else {})
    if file.outside:
        base |= {"outside_sha256": file.outside[0], "outside_size": file.outside[1]}
    elif file.proposal.layout is not None:
        base |= {"layout": layout_table(file.proposal.layout)}
    base |= own.get(file.name, {})
    side_by_side = [run for run in file.proposal.runs if run.columns] if file.runs else []
    if side_by_side:
        rows = {"rows": list(file.rows)} if file.rows else {}
        return [
            ({**base, "key": run.label, **rows}, columns(file.proposal, run.label))
            for run in side_by_side
        ]
    blocks = _blocks(file)
    if len(blocks) > 1:
        return [
            ({**base, "key": f"run {n}", "rows": list(rows)}, columns(file.proposal))
            for n, rows in enumerate(blocks, 1)
            if rows
        ]
    rows = {"rows": list(blocks[0])} if blocks[0] else {}
    return [({**base, **rows}, columns(file.proposal))]


def _blocks(file: RawFile) -> list[tuple[int, int] | None]:
    """The rows of each run; [None] where the whole file is one."""
    if file.outside:
        return [*file.blocks] if len(file.blocks) > 1 else [None]
    found = [run.rows for run in file.proposal.runs if run.rows] if file.runs else []
    return [*found] if len(found) > 1 else [file.rows]


def columns(proposal: FileProposal, run: str | None = None) -> list[Table]:
    """The [[column]] tables of a file, or of one of its runs side by side."""
    wanted = [c for c in proposal.columns if c.spec and (run is None or c.run in (None, run))]
    first: dict[str, ProposedColumn] = {}
    for column in wanted:
        first.setdefault(column.channel or "", column)
    return [_column(column) for column in first.values()]


def _column(column: ProposedColumn) -> Table:
    assert column.spec is not None
    unit = column.spec.unit_row().text
    table: Table = {"channel": column.channel, "name": column.name}
    table |= {"unit": unit} if unit != "1" else {}
    table |= {"at": column.at} if column.at else {}
    ratio = column.display_stoichiometric
    return table | ({"display_stoichiometric": ratio} if ratio else {})


def _with_columns(pull: Table, own: list[Table]) -> Table:
    return pull | ({"column": own} if own else {})


def _named(items: list[Table], taken: set[str]) -> list[Table]:
    """Pulls with names that are theirs alone: a run's label, else with its file's name."""
    labels = [item.get("key") for item in items]
    for item in items:
        if "key" not in item:
            continue
        label = item["key"]
        stem = item["file"].rsplit(".", 1)[0]
        name = label if labels.count(label) == 1 and label not in taken else f"{stem} {label}"
        number, item["key"] = 2, name
        while item["key"] in taken:
            item["key"], number = f"{name} ({number})", number + 1
        taken.add(item["key"])
    order = ("file", "key", "rows")
    return [
        {**{k: item[k] for k in order if k in item},
         **{k: v for k, v in item.items() if k not in order}}
        for item in items
    ]  # fmt: skip

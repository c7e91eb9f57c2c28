"""Fields of car.toml as they are assigned on the command line, and the items of its work."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from functools import partial

from buildlog.analysis.car.written import FieldsSet, RecordWith, WorkAdded
from buildlog.analysis.workshop.better_figures import BetterFigure as BetterFigure
from buildlog.analysis.workshop.better_figures import better_figures
from buildlog.desk.acts import working_files
from buildlog.desk.acts.filing import refuse_invalid
from buildlog.errors import InvalidInput, UsageError
from buildlog.findings import Finding, first_error
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field
from buildlog.records.paths import NamesATable, differences, field_at, toml_value
from buildlog.records.reading import load, read
from buildlog.records.toml import toml_edit
from buildlog.records.toml.toml_read import parse_toml
from buildlog.store.ledger.ledger import Ledger

CAR = "car.toml"
ORDER = tuple(Configuration.model_fields)  # of its tables, as they stand in the file
_WRITTEN_FOR, _NOTE = field("calibration.written_for"), field("work[].note")
_TRAINED = ("seat", "airbag", "steering")


AnotherPart = Callable[[BetterFigure], bool]  # whether a part is another one


def set_fields(
    ledger: Ledger,
    assignments: Sequence[str],
    *,
    same_part: bool = False,
    ask: AnotherPart | None = None,
    places: Sequence[tuple[str, ...]] = (),
) -> FieldsSet:
    """Set fields by PATH=VALUE, comments and order kept; an empty value removes the field.

    Where only a rating or a flow of a part changes, under one maker and number it is the same part
    with a better figure; under no identity `ask` says whether it is another one, unless it is said
    to be the `same_part`; where nobody can be asked the question is told. `places`: what somebody
    looked at who changes them, where that is not each field by itself.
    """
    places = places or [place_of(split(one)[0]) for one in assignments]
    edit = partial(apply, assignments=assignments)
    before, after = working_files.change(ledger, CAR, edit, places=places)
    old, new = load(Configuration, before, CAR)[0], read(Configuration, after, CAR)
    changed = tuple(differences(old, new)) if old else ()
    meant = RecordWith("what was done")
    if old is None or not changed:
        return FieldsSet((CAR,), meant, changed, old is not None)
    figures = better_figures(old, new)
    another = [one for one in figures if ask and not one.known and not same_part and ask(one)]
    if another:
        pieces = [f"{one.part}.part.piece={(one.identity.piece or 1) + 1}" for one in another]
        edit = partial(apply, assignments=pieces)
        working_files.change(ledger, CAR, edit, places=[place_of(split(p)[0]) for p in pieces])
    same = [one for one in figures if one.known or same_part or (ask and one not in another)]
    findings = [_same(one) if one in same else _open(one) for one in figures if one not in another]
    told = {path for one in same for path in one.fields}
    if told == {path for path, _, _ in changed} and ledger.entries():
        meant = RecordWith(f"a better figure: {', '.join(sorted(told))}", kind="correction",
                           corrects=_stated_in(ledger, sorted(told)[0]))  # fmt: skip
    return FieldsSet((CAR,), meant, changed, True, findings=tuple(findings))


def _same(one: BetterFigure) -> Finding:
    which = f" ({one.identity.words})" if one.known else ""
    text = f"{', '.join(one.fields)}: a better figure for the same part{which}"
    return Finding("same-part", "note", text, one.fields)


def _open(one: BetterFigure) -> Finding:
    text = f"{', '.join(one.fields)}: another part, or a better figure?"
    return Finding(
        "another-part", "caution", text, one.fields,
        hint=f"--same-part if it is only known better; else buildlog set {one.part}.part.maker=... "
        f"{one.part}.part.number=...",
    )  # fmt: skip


def _stated_in(ledger: Ledger, path: str) -> int | None:
    """The number of the entry that stated a field as it was until now."""
    from buildlog.analysis.car.changes import origins
    from buildlog.desk.snapshot.snapshot import Snapshot

    found = origins(Snapshot(ledger).history).get(path)
    return found.number if found else None


def apply(data: bytes, assignments: Iterable[str]) -> bytes:
    """The text with every assignment made; InvalidInput if the result is not valid."""
    parse_toml(data, CAR)
    earlier = {finding.paths: finding for finding in load(Configuration, data, CAR)[1]}
    for assignment in assignments:
        path, value = split(assignment)
        data = _remove(data, path) if value == "" else _set(data, path, value)
    worst = first_error(load(Configuration, data, CAR)[1])
    if worst:
        before = earlier.get(worst.paths)
        raise InvalidInput(
            worst.text,
            where=before.where if before else None,
            why=f"not saved: {'it was wrong before' if before else 'the value is wrong'}",
            hint=worst.hint,
        )
    return data


def split(assignment: str) -> tuple[str, str]:
    """PATH=VALUE at the first equals sign outside quotes; blanks around them do not count."""
    inside = False
    for index, character in enumerate(assignment):
        if character == '"':
            inside = not inside
        elif character == "=" and not inside:
            value = assignment[index + 1 :].strip()
            if len(value) > 1 and value[0] == value[-1] == '"':
                value = value[1:-1]
            return assignment[:index].strip(), value
    raise UsageError(
        f'"{assignment}" is not PATH=VALUE', hint='buildlog set fuel.injectors.flow="550 cc/min"'
    )


def place_of(path: str) -> tuple[str, ...]:
    """Where a field stands in car.toml: "fuel.injectors.flow" -> ("fuel", "injectors", "flow")."""
    if path.startswith(f"{_WRITTEN_FOR}."):  # its keys are paths themselves
        return (*_WRITTEN_FOR.split("."), path.removeprefix(f"{_WRITTEN_FOR}.").strip('"'))
    return tuple(path.split("."))


def add_work(ledger: Ledger, item: str, note: str | None = None) -> WorkAdded:
    """Add an item of work; with the name of one that is there, change its note."""
    edit = partial(_with_work, item=item, note=note)
    working_files.change(ledger, CAR, edit, places=[("work", {"item": item})])
    findings = []
    if any(word in f"{item} {note or ''}".casefold() for word in _TRAINED):
        text = "airbags and belt tensioners are for trained people, battery disconnected"
        findings.append(Finding("restraints", "caution", text))
    return WorkAdded((CAR,), RecordWith(item), item, note, findings=tuple(findings))


def _set(data: bytes, path: str, value: str) -> bytes:
    key, named = tuple(path.split(".")), path
    if path.startswith(f"{_WRITTEN_FOR}."):  # its keys are paths themselves
        named = path.removeprefix(f"{_WRITTEN_FOR}.").strip('"')
        key = (*_WRITTEN_FOR.split("."), named)
    asked = field_at(Configuration, named)
    if named == path and "[]" in asked.path:
        raise UsageError(
            f"{path} belongs to a list of tables", hint="buildlog work add, or edit car.toml"
        )
    return toml_edit.set_value(data, key, toml_value(asked, value), order=ORDER)


def _remove(data: bytes, path: str) -> bytes:
    if not path.startswith(_WRITTEN_FOR):
        with suppress(NamesATable):  # a whole table can be taken out as well
            field_at(Configuration, path)
    return toml_edit.delete(data, path)


def _with_work(data: bytes, item: str, note: str | None) -> bytes:
    known = [work.item for work in read(Configuration, data, CAR).work]
    if item in known:
        path = _NOTE.replace("[]", f".{known.index(item)}")
        data = toml_edit.set_values(data, {path: note}) if note else data
    else:
        fields = {"item": item, **({"note": note} if note else {})}
        data = toml_edit.append_items(data, "work", [fields])
    refuse_invalid(Configuration, data, CAR)
    return data

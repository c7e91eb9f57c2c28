"""Fields of car.toml, and the items of its work."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from buildlog.analysis.car.written import FieldsSet, RecordWith, WorkAdded
from buildlog.desk.acts import working_files
from buildlog.desk.acts.editing import apply
from buildlog.desk.acts.filing import refuse_invalid
from buildlog.findings import Finding
from buildlog.records.checked_paths import field
from buildlog.records.configuration import Configuration
from buildlog.records.paths import differences
from buildlog.records.reading import load, read
from buildlog.records.toml import toml_edit

if TYPE_CHECKING:
    from buildlog.store.ledger.ledger import Ledger

CAR = "car.toml"
_NOTE = field("work[].note")
_TRAINED = ("seat", "airbag", "steering")


def set_fields(ledger: Ledger, assignments: Sequence[str]) -> FieldsSet:
    """Set fields by PATH=VALUE, comments and order kept; an empty value removes the field."""
    before, after = working_files.change(ledger, CAR, partial(apply, assignments=assignments))
    old, new = load(Configuration, before, CAR)[0], read(Configuration, after, CAR)
    changed = tuple(differences(old, new)) if old else ()
    return FieldsSet((CAR,), RecordWith("what was done"), changed, old is not None)


def add_work(ledger: Ledger, item: str, note: str | None = None) -> WorkAdded:
    """Add an item of work; with the name of one that is there, change its note."""
    working_files.change(ledger, CAR, partial(_with_work, item=item, note=note))
    findings = []
    if any(word in f"{item} {note or ''}".casefold() for word in _TRAINED):
        text = "airbags and belt tensioners are for trained people, battery disconnected"
        findings.append(Finding("restraints", "caution", text))
    return WorkAdded((CAR,), RecordWith(item), item, note, findings=tuple(findings))


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

"""New files beside car.toml: their names, their text, and who wrote them when."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import TypeVar

from buildlog.desk.acts import working_files
from buildlog.desk.questions.days import refuse_ahead
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import ChangedUnderYou, InvalidInput, UsageError
from buildlog.findings import first_error
from buildlog.physics.parts.trouble_codes import TroubleCode
from buildlog.records.fields.base import Record
from buildlog.records.reading import load, read
from buildlog.records.toml import toml_edit
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.reader import Reader
from buildlog.units import without_thousands

R = TypeVar("R", bound=Record)
Fields = Mapping[str, toml_edit.Value | None]


def add(
    ledger: Ledger,
    place: tuple[str, str],
    model: type[R],
    fields: Fields,
    array: str = "",
    items: Sequence[Fields] = (),
    ending: str = "",
) -> tuple[str, R]:
    """A new file of a record, in a folder under a name like the stem: its path, what it holds.
    `ending` stands between the name and ".toml".

    InvalidInput if the record is not valid. A name that somebody takes meanwhile is left to him.
    """
    folder, stem = place
    data = toml_edit.set_values(b"format = 1\n", _given(fields))
    if items:
        data = toml_edit.append_items(data, array, map(_given, items))
    refuse_invalid(model, data, stem)
    taken = ledger.working().files
    for number in range(1, 1000):
        path = f"{folder}/{stem}{f'-{number}' if number > 1 else ''}{ending}.toml"
        if path not in taken:
            with suppress(ChangedUnderYou):
                working_files.create(ledger, path, data)
                return path, read(model, data, path)
    raise InvalidInput(f"{folder} holds too many files called {stem}", hint="record them first")


def slug(text: str, longest: int = 40) -> str:
    """Words as part of a file name: "Charge hose, split!" -> "charge-hose-split"."""
    plain = re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-")
    return plain[:longest].strip("-") or "unnamed"


def unrecorded(ledger: Reader, folder: str) -> list[str]:
    """The names of the files of a folder that are not recorded yet, oldest name first."""
    entries = ledger.entries()
    known = ledger.files(entries[-1]) if entries else {}
    return [
        path.removeprefix(f"{folder}/").removesuffix(".toml")
        for path in sorted(ledger.working().files)
        if path.startswith(f"{folder}/") and path not in known
    ]


def refuse_invalid(model: type[Record], data: bytes, name: str) -> None:
    """InvalidInput with the first thing wrong in a text that is about to be written."""
    if wrong := first_error(load(model, data, name)[1]):
        why = "not saved: the value is wrong"
        raise InvalidInput(wrong.text, hint=wrong.hint, why=why)


def day(given: dt.date | None) -> dt.date:
    """The day asked for, else today; InvalidInput for a day that lies ahead."""
    from buildlog.desk.snapshot.snapshot import today

    refuse_ahead(given, today())
    return given or today()


def who(given: str | None) -> str | None:
    """Who did it: as said, else as the settings say."""
    from buildlog.desk.snapshot import settings

    return given or settings.load().done_by


def entry_named(ledger: Reader, name: str) -> Entry:
    """The entry that a name means; UsageError for a plan or the working files."""
    entry = ledger.resolve(name).entry
    if entry is None:
        raise UsageError(f"{name} is not an entry", hint="buildlog history lists them")
    return entry


def odometer(book: Snapshot, given: str | None) -> str | None:
    """The reading as said, else that of the newest entry: the car has not moved since."""
    if given:
        return None if given == "unknown" else without_thousands(given)
    known = [entry.odometer for entry in book.entries if entry.kind != "earlier"]
    return known[-1] if known else None


def trouble_code(text: str) -> TroubleCode:
    """A stored code as it is typed; InvalidInput if it is none."""
    from buildlog.physics.parts.trouble_codes import parse

    try:
        return parse(text)
    except ValueError as error:
        raise InvalidInput(str(error).rstrip("."), hint="write it as P0299") from None


def refuse_no_part(path: str) -> None:
    """InvalidInput with the nearest path if this is no part of a car."""
    from buildlog.analysis.workshop.doubts import is_part, part_paths
    from buildlog.records.paths import nearest

    if not is_part(path):
        raise InvalidInput(f'"{path}" is no part of the car', hint=nearest(path, part_paths()))


def _given(fields: Fields) -> dict[str, toml_edit.Value]:
    return {name: value for name, value in fields.items() if value not in (None, (), [], "")}

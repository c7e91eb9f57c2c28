"""Replay a written-down car: the same entries, with the same ids, on every machine."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from buildlog.desk.acts import working_files
from buildlog.desk.acts.car_fields import CAR, ORDER
from buildlog.desk.acts.record import record_working
from buildlog.errors import InvalidInput, NotFound
from buildlog.records.recorded_promise import PromisedBand, RecordedPromise
from buildlog.records.toml import toml_edit
from buildlog.store.disk import atomic, drafts
from buildlog.store.git.ledger_files import ATTRIBUTES, KEEP_BYTES
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger

_FACTS = {"kind", "stage", "odometer", "odometer_note", "done_by", "approved_by", "promised"}


def demo_source() -> Path:
    """Where the demo car is written down: beside the package, or installed inside it."""
    import buildlog

    package = Path(buildlog.__file__).parent
    for folder in (package / "demo_vehicle", package.parent / "demo_vehicle"):
        if (folder / "replay.toml").is_file():
            return folder
    raise NotFound(
        "the demo car is not installed with this program",
        hint="run it from a copy of the repository",
    )


def demo_steps(folder: Path) -> int:
    """Of how many entries the demo car will be made; InvalidInput where the folder is in use."""
    _refuse_used(folder)
    return len(_steps(demo_source()))


def build_demo(folder: Path, progress: Callable[[Entry], None] | None = None) -> list[Entry]:
    """The demo car's ledger in a folder that is new or empty; the entries in order."""
    _refuse_used(folder)
    return replay(demo_source(), folder, progress)


def _refuse_used(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InvalidInput(
            f"{folder} is there already and not empty", hint="name another folder, or delete it"
        )


def replay(
    source: Path, target: Path, progress: Callable[[Entry], None] | None = None
) -> list[Entry]:
    """Make the ledger in `target`, step by step, all of it or nothing; the entries in order."""
    atomic.make_folder(target.parent)
    drafts.sweep(target.parent)
    draft = target.parent / drafts.name(target.name)
    try:
        entries = _replayed(source, draft, progress)
        if target.is_dir():
            target.rmdir()  # it was there, and empty
        atomic.move_folder(draft, target)
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    atomic.fsync_folder(target.parent)
    return entries


def _replayed(source: Path, target: Path, progress: Callable[[Entry], None] | None) -> list[Entry]:
    plan = tomllib.loads((source / "replay.toml").read_text("utf-8"))
    entries: list[Entry] = []
    with Ledger.create(target, nonce=plan["nonce"]) as ledger:
        if "written_by" in plan:  # a car that was written down before has neither
            working_files.create(ledger, ATTRIBUTES, KEEP_BYTES)
        for step in _steps(source):
            body = tomllib.loads(step.read_text("utf-8"))
            _lay_out(ledger, source / "files" / step.stem, body.get("set", {}))
            who = (plan["shop"], plan.get("written_by"))
            told = {**body["entry"], **_promised(body.get("promised"), entries)}
            entries.append(_record(ledger, told, who, entries))
            if progress:
                progress(entries[-1])
    return entries


def _steps(source: Path) -> list[Path]:
    return sorted((source / "steps").glob("*.toml"))


def _lay_out(ledger: Ledger, files: Path, edits: dict[str, Any]) -> None:
    """Copy a step's files into the folder and make its edits of car.toml."""

    def edited(data: bytes) -> bytes:
        for path in edits.pop("remove", ()):
            data = toml_edit.delete(data, path)
        return toml_edit.set_values(data, edits, order=ORDER)

    for file in sorted(path for path in files.rglob("*") if path.is_file()):
        atomic.copy(file, ledger.folder / file.relative_to(files))
    if edits:
        working_files.change(ledger, CAR, edited)


def _promised(told: dict[str, Any] | None, earlier: list[Entry]) -> dict[str, str]:
    """The promise of a quote as it was stored, so that its figures are the same everywhere."""
    if told is None:
        return {}
    bands = {name: PromisedBand(*told[name]) for name in ("power", "torque")}
    start = earlier[told["start"] - 1].id
    return {"promised": RecordedPromise(**{**told, "start": start, **bands}).text()}


def _record(
    ledger: Ledger, entry: dict[str, Any], who: tuple[str, str | None], earlier: list[Entry]
) -> Entry:
    """One entry; `who` records, and by which revision of the format."""
    told = {name: value for name, value in entry.items() if name in _FACTS}
    told |= {name: earlier[entry[name] - 1].id for name in {"corrects", "resolves"} & entry.keys()}
    told |= {"notes": entry.get("notes", "").strip(), "work_date": entry["date"]}
    at = datetime.fromisoformat(entry["time"]).astimezone(UTC)
    by = Recorder(who[0], at, written_by=who[1])
    new = entry.get("session_is_new_configuration", False)
    facts = EntryFacts(entry["message"], **told)
    return record_working(ledger, facts, by, kind=entry["kind"], session_is_new=new)

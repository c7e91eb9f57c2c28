"""Replay a written-down car: the same entries, with the same ids, on every machine."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from buildlog.desk.acts import working_files
from buildlog.desk.acts.car_fields import CAR, ORDER
from buildlog.desk.acts.record import record_working
from buildlog.errors import InvalidInput, NotFound
from buildlog.records.plan import Plan
from buildlog.records.toml import toml_edit
from buildlog.store.disk import atomic, drafts
from buildlog.store.git.ledger_files import ATTRIBUTES, KEEP_BYTES
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import key_events, plan_branches
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.trust import sshsig
from buildlog.store.trust.sshsig import Signer

_FACTS = {"kind", "stage", "odometer", "odometer_note", "done_by", "approved_by"}
_EARLIER = {"corrects", "resolves"}


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
        entries = _in_order(source, draft, progress)
        if target.is_dir():
            target.rmdir()  # it was there, and empty
        atomic.move_folder(draft, target)
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    atomic.fsync_folder(target.parent)
    return entries


def _in_order(source: Path, target: Path, progress: Callable[[Entry], None] | None) -> list[Entry]:
    """All steps of a recipe, one after the other, into a new ledger."""
    recipe = tomllib.loads((source / "replay.toml").read_text("utf-8"))
    entries: list[Entry] = []
    with Ledger.create(target, nonce=recipe["nonce"]) as ledger:
        if "written_by" in recipe:  # a car that was written down before has neither
            working_files.create(ledger, ATTRIBUTES, KEEP_BYTES)
        for step in _steps(source):
            entries.append(_replayed(_Step(ledger, source, step, recipe, entries)))
            if progress:
                progress(entries[-1])
    return entries


def _steps(source: Path) -> list[Path]:
    return sorted((source / "steps").glob("*.toml"))


class _Step:
    """One step of a recipe: what it says, the ledger as it stands, and who records it."""

    def __init__(
        self, ledger: Ledger, source: Path, step: Path, recipe: dict[str, Any], earlier: list[Entry]
    ) -> None:
        self.ledger, self.recipe, self.earlier = ledger, recipe, earlier
        self.files, self.plans = source / "files" / step.stem, source / "plans"
        self.said: dict[str, Any] = tomllib.loads(step.read_text("utf-8"))
        self.edits: dict[str, Any] = self.said.get("set", {})

    def recorder(self, table: dict[str, Any]) -> Recorder:
        """Who records at the time that a table of the step says, signed where it says so."""
        at = datetime.fromisoformat(table["time"]).astimezone(UTC)
        sign = self.signer(table["signed"]) if "signed" in table else None
        return Recorder(self.recipe["shop"], at, sign, self.recipe.get("written_by"))

    def signer(self, name: str) -> Signer:
        """A key of the recipe: written down in it, and so no secret."""
        return sshsig.written_down_signer(bytes.fromhex(self.recipe["keys"][name]))


def _replayed(step: _Step) -> Entry:
    """The entry of a step: a change of the key register, or the car with its files and edits."""
    if "key" in step.said:
        return _keyed(step, step.said["key"])
    if "plan" in step.said:
        _propose(step, step.said["plan"])
    _lay_out(step)
    return _record(step, step.said["entry"])


def _keyed(step: _Step, told: dict[str, Any]) -> Entry:
    """A key entered, or taken out of use."""
    by, signer = step.recorder(told), step.signer(told["signed"])
    if "retire" in told:
        gone = step.signer(told["retire"]).key.text
        return key_events.retire(step.ledger, by, signer, gone, told.get("reason"))
    new = step.signer(told["add"]).key
    return key_events.add(step.ledger, by, signer, told["add"], new)


def _propose(step: _Step, told: dict[str, Any]) -> None:
    """The plan that a step builds, on a branch of its own, with the promise that its quote stored:
    stored, so that its figures are the same everywhere."""
    start, newest = step.ledger.resolve("latest"), step.earlier[-1].id
    left = set(told["leave_out"])
    wanted = {path: value for path, value in step.edits.items() if path not in left}
    wanted["remove"] = [path for path in step.edits.get("remove", ()) if path not in left]
    car = _edited(step.ledger.read(start, CAR), {**wanted, **told["set"]})
    plan = (step.plans / f"{told['name']}.toml").read_bytes()
    of = {"promised.base": newest, "promised.start": newest}
    plan = _edited(plan, of, tuple(Plan.model_fields))
    plan_branches.create(step.ledger, told["name"], start, car, step.recorder(told), plan)


def _edited(data: bytes, edits: dict[str, Any], order: Sequence[str] = ORDER) -> bytes:
    for path in edits.get("remove", ()):
        data = toml_edit.delete(data, path)
    values = {path: value for path, value in edits.items() if path != "remove"}
    return toml_edit.set_values(data, values, order=order)


def _lay_out(step: _Step) -> None:
    """Copy a step's files into the folder and make its edits of car.toml."""
    if step.files.is_dir():
        for file in sorted(path for path in step.files.rglob("*") if path.is_file()):
            atomic.copy(file, step.ledger.folder / file.relative_to(step.files))
    if step.edits:
        working_files.change(step.ledger, CAR, lambda data: _edited(data, step.edits))


def _record(step: _Step, entry: dict[str, Any]) -> Entry:
    told = {name: value for name, value in entry.items() if name in _FACTS}
    earlier = {name: step.earlier[entry[name] - 1].id for name in _EARLIER & entry.keys()}
    told |= {**earlier, "notes": entry.get("notes", "").strip(), "work_date": entry["date"]}
    new = entry.get("session_is_new_configuration", False)
    facts, by = EntryFacts(entry["message"], **told), step.recorder(entry)
    return record_working(step.ledger, facts, by, kind=entry["kind"], session_is_new=new)

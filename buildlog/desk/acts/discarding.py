"""What is not recorded taken out of the folder again, kept for a week, and put back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from buildlog.desk.acts import working_files
from buildlog.desk.questions.new_files import NewThing as NewThing
from buildlog.desk.questions.new_files import new_files as new_files
from buildlog.errors import InvalidInput, NotFound, UsageError
from buildlog.records.paths import nearest
from buildlog.store.ledger import taken_out
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.reader import Reader
from buildlog.store.ledger.taken_out import TakenOut as TakenOut


@dataclass(frozen=True)
class Discarded:
    """What was taken out and where it is kept; `kept` is None where it was only shown."""

    things: tuple[NewThing, ...]
    kept: TakenOut | None = None


@dataclass(frozen=True)
class PutBack:
    """Files that stand in the folder again; without any, what is kept and could be put back."""

    paths: tuple[str, ...]
    kept: tuple[TakenOut, ...] = ()


def discard(ledger: Ledger, names: Sequence[str], *, everything: bool = False) -> Discarded:
    """Take out what these names mean, or everything that is not recorded. InvalidInput for what
    is recorded, NotFound for what is not there; nothing is taken out then."""
    things = meant(ledger, names, everything=everything)
    paths = [path for one in things for path in one.paths]
    back = {path: data for one in things for path, data in one.back.items()}
    return Discarded(things, working_files.take_out(ledger, paths, back))


def meant(
    ledger: Reader, names: Sequence[str], *, everything: bool = False
) -> tuple[NewThing, ...]:
    """The things that would be taken out."""
    known = new_files(ledger)
    if not names and not everything:
        raise UsageError("what should be taken out?", hint="buildlog discard NAME, or --all")
    if not known:
        raise NotFound("everything in the folder is recorded", hint="buildlog history")
    found = known if everything else [_named(ledger, known, name) for name in names]
    return tuple({one.paths: one for one in found}.values())


def put_back(ledger: Ledger, names: Sequence[str]) -> PutBack:
    """Put back what was taken out within the week, by the name it was kept under."""
    kept = taken_out.kept(ledger.folder)
    if not names:
        return PutBack((), tuple(kept))
    by_name = {one.name: one for one in kept}
    for name in names:
        if name not in by_name:
            hint = f"kept: {', '.join(by_name) or 'nothing'}"
            raise NotFound(f'nothing is kept under "{name}"', hint=hint)
    for name in names:
        working_files.put_back(ledger, by_name[name])
    return PutBack(tuple(path for name in names for path in by_name[name].paths))


def _named(ledger: Reader, known: Sequence[NewThing], name: str) -> NewThing:
    """The thing that a name, a file or a folder means."""
    plain = _inside(ledger, name)
    hits = [one for one in known if plain in _names(one)]
    hits = hits or [one for one in known if plain in one.name]
    if len(hits) == 1:
        return hits[0]
    if hits:
        raise NotFound(f'"{name}" names more than one thing that is not recorded',
                       hint=", ".join(one.name for one in hits[:5]))  # fmt: skip
    part = next((one for one in known if plain in one.paths), None)
    if part:
        raise InvalidInput(f"{plain} is one file of {part.name}",
                           hint=f"buildlog discard {part.name} takes it out whole")  # fmt: skip
    entries = ledger.entries()
    recorded = ledger.files(entries[-1]) if entries else {}
    if plain == "car.toml":
        raise InvalidInput(
            "car.toml is the car itself and is not taken out",
            hint="buildlog set sets a field as it was; buildlog diff shows which",
        )
    if any(plain in path for path in recorded):
        raise InvalidInput(f'"{name}" is recorded, and what is recorded stays',
                           hint="buildlog record --corrects ENTRY sets it right")  # fmt: skip
    raise NotFound(f'"{name}" is nothing that is not recorded',
                   hint=nearest(plain, [one.name for one in known]))  # fmt: skip


def _names(one: NewThing) -> set[str]:
    whole = {one.name, one.name.removesuffix(".sheet"), f"dyno/{one.name}"}
    return whole | (set(one.paths) if len(one.paths) == 1 else set())


def _inside(ledger: Reader, name: str) -> str:
    """A path as the ledger names it, wherever it was typed from."""
    place = Path(name)
    if not place.exists():
        return name.rstrip("/")
    try:
        return place.resolve().relative_to(ledger.folder.resolve()).as_posix()
    except ValueError:
        return name

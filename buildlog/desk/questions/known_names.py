"""The names that a person may type: of versions, sessions, plans, lists, faults, keys, fields."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from buildlog.store.ledger.reader import Reader

Known = tuple[str, str]  # a name, and a few words about it


def known_names(ledger: Reader, kind: str) -> list[Known]:
    """Every name of one kind in a ledger; KeyError for a kind that there is not."""
    return list(_KINDS[kind](ledger))


def _versions(ledger: Reader) -> Iterator[Known]:
    yield "working", "the files on disk"
    for entry in reversed(ledger.entries()):
        yield entry.stage or str(entry.number), f"{entry.work_date} {entry.subject}"
    for name, words in _plans(ledger):
        yield f"plan:{name}", words


def _plans(ledger: Reader) -> Iterator[Known]:
    from buildlog.store.ledger.plan_branches import plans

    for branch in plans(ledger):
        yield branch.name, f"a plan from entry {branch.base.number}"


def _files(folder: str, ending: str) -> Callable[[Reader], Iterator[Known]]:
    def found(ledger: Reader) -> Iterator[Known]:
        for path in sorted(ledger.working().files):
            if path.startswith(f"{folder}/") and path.endswith(ending):
                yield path[len(folder) + 1 : -len(ending)], ""

    return found


def _joints(ledger: Reader) -> Iterator[Known]:
    from buildlog.desk.questions.day_books import joints
    from buildlog.desk.snapshot.snapshot import Snapshot

    return ((one.name, one.joint.joint) for one in joints(Snapshot(ledger)))


def _unrecorded(ledger: Reader) -> Iterator[Known]:
    from buildlog.desk.questions.new_files import new_files

    return ((one.name, one.words) for one in new_files(ledger))


def _staff(ledger: Reader) -> Iterator[Known]:
    """Who has done or approved something in this ledger, the newest first."""
    said = [code for entry in reversed(ledger.entries())
            for code in (entry.done_by, entry.approved_by) if code]  # fmt: skip
    return ((code, "") for code in dict.fromkeys(said))


def _lists(ledger: Reader) -> Iterator[Known]:
    from buildlog.desk.questions.day_books import definitions

    return ((name, one.title) for name, one in definitions(ledger).items())


def _items(ledger: Reader) -> Iterator[Known]:
    from buildlog.desk.questions.day_books import newest_list

    begun = newest_list(ledger).check
    return ((item.key, item.text or "") for item in (begun.item if begun else ()))


def _faults(ledger: Reader) -> Iterator[Known]:
    from buildlog.desk.questions.day_books import faults
    from buildlog.desk.snapshot.snapshot import Snapshot

    return ((one.name, one.fault.symptom or "") for one in faults(Snapshot(ledger), only_open=True))


def _keys(ledger: Reader) -> Iterator[Known]:
    from buildlog.desk.questions.verifying import keys

    return ((key.name, key.gone or "in use") for key in keys(ledger))


def _fields(_: Reader) -> Iterator[Known]:
    from buildlog.records.car.configuration import Configuration
    from buildlog.records.paths import fields

    return ((path, "") for path in fields(Configuration) if "[]" not in path)


def _parts(_: Reader) -> Iterator[Known]:
    from buildlog.analysis.workshop.doubts import part_paths

    return ((path, "") for path in part_paths())


_KINDS: dict[str, Callable[[Reader], Iterator[Known]]] = {
    "version": _versions,
    "session": _files("dyno", "/session.toml"),
    "joint": _joints,
    "sheet": _files("torque", ".sheet.toml"),
    "unrecorded": _unrecorded,
    "staff": _staff,
    "plan": _plans,
    "list": _lists,
    "item": _items,
    "fault": _faults,
    "key": _keys,
    "field": _fields,
    "part": _parts,
}

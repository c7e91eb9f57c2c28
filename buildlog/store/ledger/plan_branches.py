"""Plans: proposals on branches of their own, `refs/heads/plan/NAME`; they never touch main.

A plan's first commit follows the entry it was made from and every change is one more
commit. Only car.toml and plan.toml may differ from that entry: everything else is history.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dulwich.objects import Blob, ObjectID, ShaFile
from dulwich.refs import Ref

from buildlog.errors import ChangedUnderYou, DamagedLedger, InvalidInput, NotFound
from buildlog.records.toml.plain_text import clean
from buildlog.store.disk.lock import hold
from buildlog.store.git.repo import REGULAR, Files
from buildlog.store.ledger import append, names, rules
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import PLANS, NamedVersion
from buildlog.store.ledger.reader import Reader

CAR, PLAN = "car.toml", "plan.toml"
_DOING = "writing the plan"


@dataclass(frozen=True)
class PlanBranch:
    """A plan as stored: its newest commit as a version, and the entry it was made from."""

    name: str
    version: NamedVersion
    base: Entry


def plans(ledger: Reader) -> list[PlanBranch]:
    """All plans, by name."""
    return [find(ledger, name) for name in ledger.plans()]


def find(ledger: Reader, name: str) -> PlanBranch:
    """One plan; NotFound lists the nearest names."""
    name = name.removeprefix("plan:")
    known = ledger.plans()
    if name not in known:
        hint = f"known: {', '.join(known)}" if known else "buildlog plan new NAME makes one"
        raise NotFound(f'there is no plan "{name}"', hint=hint)
    version = ledger.resolve(f"plan:{name}")
    return PlanBranch(name, version, _base(ledger, name, version.commit))


def create(
    ledger: Ledger, name: str, origin: NamedVersion, car: bytes, by: Recorder, plan: bytes = b""
) -> PlanBranch:
    """A new plan that starts from an entry or from another plan, with this car.toml."""
    reason = rules.stage_refusal(name)
    if reason:
        raise InvalidInput(f'the plan name "{name}" {reason}', hint='write it like "turbo-kit"')
    if ledger.repo.reference(PLANS + name):
        raise InvalidInput(
            f'there is a plan "{name}" already', hint=f"choose another name, or drop {name} first"
        )
    start = origin if origin.commit else _latest(ledger)
    files = {CAR: car, PLAN: plan or b"format = 1\n"}
    _add(ledger, PLANS + name, None, start, files, f"plan {name}", by)
    return find(ledger, name)


def change(
    ledger: Ledger,
    branch: PlanBranch,
    changes: Mapping[str, bytes],
    subject: str,
    by: Recorder,
    onto: Entry | None = None,
) -> PlanBranch:
    """One more commit on a plan; ChangedUnderYou if it was changed meanwhile. With `onto` the plan
    is from now on one of that newer entry; `changes` must then hold both files."""
    old = branch.version.commit
    start = names.of(onto) if onto else branch.version
    _add(ledger, PLANS + branch.name, old, start, changes, subject, by)
    return find(ledger, branch.name)


def drop(ledger: Ledger, branch: PlanBranch) -> None:
    """Take a plan's branch away; its commits are left to git, no entry is touched."""
    name = PLANS + branch.name
    assert branch.version.commit is not None
    with hold(ledger.repo.git, doing=_DOING) as held:
        lock = f"{name}.lock"
        held.about_to_make(lock)
        old = ObjectID(branch.version.commit.encode())
        gone = append.patiently(
            lambda: ledger.repo.refs.remove_if_equals(Ref(name.encode()), old),
            ledger.repo.git / lock,
        )
        if not gone:
            raise ChangedUnderYou("the plan was changed meanwhile", hint="look at it, then drop it")


def _add(
    ledger: Ledger, name: str, old: str | None, start: NamedVersion,
    changes: Mapping[str, bytes], subject: str, by: Recorder,
) -> None:  # fmt: skip
    """Add one commit on top of `start`, and move the branch `name` from `old` to it. Where `old`
    is not `start` it is the second parent, so that nothing of the plan is lost."""
    stray = set(changes) - {CAR, PLAN}
    if stray:
        raise InvalidInput(
            f"{min(stray)} cannot be changed by a plan", hint="record it as an entry"
        )
    assert start.tree is not None
    assert start.commit is not None
    files: Files = ledger.repo.files(start.tree)
    blobs: list[ShaFile] = []
    for path, data in changes.items():
        blobs.append(Blob.from_string(data))
        files[path.encode()] = (REGULAR, blobs[-1].id.decode())
    trees = append.build_trees(files)
    by_shop = append.identity(by.shop, ledger.id or "")
    text = clean(subject, "the subject", longest=200).encode() + b"\n"
    when = int(by.now.timestamp())
    parents = [start.commit, *([old] if old and old != start.commit else [])]
    commit = append.commit_on(trees[-1].id, parents, by_shop, when, text)
    new = [*blobs, *trees, commit]
    moved_to = commit.id.decode()
    with hold(ledger.repo.git, doing=_DOING) as held, ledger.repo.adding(new):
        ledger.journal.settle()
        with ledger.moving(name, moved_to) as moved:
            append.move(ledger.repo, held, name, old, moved_to)
            moved()


def _latest(ledger: Reader) -> NamedVersion:
    known = ledger.entries()
    if not known:
        raise NotFound("nothing is recorded yet", hint="record an entry before planning on it")
    return names.of(known[-1])


def _base(ledger: Reader, name: str, commit: str | None) -> Entry:
    """The newest entry among a plan's ancestors."""
    by_id = {entry.id: entry for entry in ledger.entries()}
    seen = 0
    while commit is not None and seen < 10_000:
        if commit in by_id:
            return by_id[commit]
        parents = ledger.repo.commit(commit).parents
        commit = parents[0].decode() if parents else None
        seen += 1
    raise DamagedLedger(
        f'the plan "{name}" does not follow any entry of this ledger',
        hint="drop it, and make it anew from an entry",
    )

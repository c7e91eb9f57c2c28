"""Plans that are in the car: which entry built them, and what was built otherwise than drawn."""

from __future__ import annotations

from buildlog.analysis.answers.plan_result import BuiltPlan
from buildlog.analysis.car.changes import Change, changes, kind_of
from buildlog.analysis.car.version import Version
from buildlog.desk.questions.jobs import job_of
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.records.paths import leaves, same_value
from buildlog.records.plan import Plan
from buildlog.records.plan_changes import changes_of
from buildlog.records.reading import read
from buildlog.records.recorded_promise import promise_of, recorded_promise
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.names import of
from buildlog.store.ledger.plan_branches import CAR, PLAN


def built_in(book: Snapshot, name: str, plan: Plan) -> int | None:
    """The entry that carries the plan's promise, by its number."""
    if plan.promised is None:
        return None
    mine = (name, plan.promised.date)
    told = ((one.number, recorded_promise(one.promised)) for one in book.ledger.entries())
    return next((n for n, one in told if one and (one.plan, one.date) == mine), None)


def built_plan(book: Snapshot, before: Version, after: Version) -> BuiltPlan | None:
    """The plan that one of the two is, if the other holds it already; what it gave is not yet
    looked up. None where neither is a plan, both are, or the other is from before it was built."""
    planned, other = (before, after) if before.plan else (after, before)
    if not planned.plan or other.plan:
        return None
    branch = plan_branches.find(book.ledger, planned.plan)
    plan = read(Plan, book.ledger.read(branch.version, PLAN), PLAN)
    promise, number = promise_of(branch.name, plan), built_in(book, branch.name, plan)
    if promise is None or number is None or 0 < other.number < number:
        return None
    end = job_of(book, book.history[number - 1]).end
    base = book.of(of(branch.base))
    meant = changes_of(*(book.ledger.read(one, CAR) for one in (of(branch.base), branch.version)))
    has = leaves(other.configuration)
    otherwise = [
        Change(path, kind_of(value, has.get(path)), value, has.get(path))
        for path, value in meant.items()
        if not same_value(has.get(path), value)
    ]
    beside = [one for one in changes(base.configuration, end.configuration)
              if one.path not in meant]  # fmt: skip
    start = next((one for one in book.history if one.id == promise.start), None)
    return BuiltPlan(branch.name, number, promise, start, end, len(meant), tuple(otherwise),
                     tuple(beside))  # fmt: skip

"""A plan's promise: stored with its quote, accepted, carried by the entry that builds the plan."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.acts.filing import day, who
from buildlog.desk.snapshot.settings import recorder
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, UsageError
from buildlog.records.car.configuration import Configuration
from buildlog.records.leaf_text import plain
from buildlog.records.paths import Value, leaves, same_value
from buildlog.records.plan import Accepted, Plan, Promised
from buildlog.records.plan_changes import changes_of
from buildlog.records.reading import read
from buildlog.records.recorded_promise import RecordedPromise, promise_of, recorded_promise
from buildlog.records.toml import toml_edit
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import of
from buildlog.store.ledger.plan_branches import CAR, PLAN, PlanBranch
from buildlog.store.ledger.proposal import EntryProposal

if TYPE_CHECKING:
    from buildlog.analysis.answers.plan_quotes import Quote


def make_quote(
    ledger: Ledger, name: str, *, date: dt.date | None = None, shop: Path | None = None,
    anew: bool = False,
) -> Quote:  # fmt: skip
    """The quote of a plan. Its promise is worked out and stored the first time, and only read
    after that, unless `anew` asks for another quote that nobody accepted yet."""
    from buildlog.desk.questions.plans import Planner
    from buildlog.desk.questions.quoted_plans import promise_today, quote_of, refuse_unready

    book = Snapshot(ledger)
    offer = Planner(book, shop).offer(name)
    refuse_unready(offer)
    if anew and offer.plan.accepted is not None:
        raise UsageError(
            f"the quote of plan {offer.name} was accepted on {offer.plan.accepted.date}",
            hint=f"its promise stays; buildlog plan new OTHER --from plan:{offer.name}",
        )
    new = offer.plan.promised is None or anew
    if new:
        branch = plan_branches.find(ledger, name)
        plan = _stored(ledger, branch, "promised", promise_today(offer, day(date)))
        offer = dataclasses.replace(offer, plan=plan)
    return quote_of(book, offer, new)


def accept_plan(
    ledger: Ledger, name: str, how: str, *, by: str | None = None, date: dt.date | None = None
) -> tuple[str, Accepted]:
    """Note that the customer accepted a quote: the plan's name, and what was noted."""
    branch = plan_branches.find(ledger, name)
    plan = read(Plan, ledger.read(branch.version, PLAN), PLAN)
    if plan.promised is None:
        hint = f"buildlog plan quote {branch.name}"
        raise UsageError(
            f"plan {branch.name} was never quoted, so nothing can be accepted", hint=hint
        )
    if plan.accepted is not None:
        raise UsageError(f"plan {branch.name} was accepted on {plan.accepted.date} already")
    said = Accepted(date=day(date), how=how, by=by or who(None) or "customer")
    if said.date < plan.promised.date:
        raise UsageError(f"the quote was made on {plan.promised.date}, after {said.date}")
    _stored(ledger, branch, "accepted", said)
    return branch.name, said


def _stored(ledger: Ledger, branch: PlanBranch, table: str, told: Promised | Accepted) -> Plan:
    """A table of plan.toml written whole, one more commit on the plan's branch."""
    data = ledger.read(branch.version, PLAN)
    if f"\n[{table}]".encode() in data:
        data = toml_edit.delete(data, table)
    values = {f"{table}.{name}": plain(value) for name, value in leaves(told).items()}
    data = toml_edit.set_values(data, values, order=tuple(Plan.model_fields))
    plan = read(Plan, data, PLAN)
    plan_branches.change(ledger, branch, {PLAN: data}, f"plan {branch.name}: {table}", recorder())
    return plan


def promise_built(ledger: Ledger, proposal: EntryProposal) -> RecordedPromise | None:
    """The promise of the quoted plan that an entry builds, unless an earlier one told it."""
    if CAR not in proposal.change.changed or not ledger.plans():
        return None
    before, after = (leaves(read(Configuration, one(CAR), CAR))
                     for one in (proposal.read_old, proposal.read))  # fmt: skip
    told = {(one.plan, one.date) for one in _told(ledger)}
    found = [promise for branch in plan_branches.plans(ledger)
             if (promise := _built(ledger, branch, before, after))
             and (promise.plan, promise.date) not in told]  # fmt: skip
    return max(found, key=lambda one: one.date, default=None)


def _told(ledger: Ledger) -> Iterator[RecordedPromise]:
    for entry in ledger.entries():
        found = recorded_promise(entry.promised)
        if found is not None:
            yield found


def _built(
    ledger: Ledger, branch: PlanBranch, before: dict[str, Value], after: dict[str, Value]
) -> RecordedPromise | None:
    """An adopted plan of which this entry makes a change, or one of which all is true now."""
    try:
        plan = read(Plan, ledger.read(branch.version, PLAN), PLAN)
        promise = promise_of(branch.name, plan)
        if promise is None:
            return None
        sides = (ledger.read(one, CAR) for one in (of(branch.base), branch.version))
        meant = changes_of(*sides)
    except BuildlogError:  # a plan that cannot be read holds up no entry
        return None
    done = {path for path, value in meant.items() if same_value(after.get(path), value)}
    new = {path for path in done if not same_value(before.get(path), meant[path])}
    assert plan.promised is not None
    return promise if new and (plan.promised.adopted or len(done) == len(meant)) else None

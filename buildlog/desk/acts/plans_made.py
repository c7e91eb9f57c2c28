"""Plans: made on a branch of their own, edited, merged into the working files, dropped."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from buildlog.analysis.car.written import PlanAdopted, PlanDropped, PlanMade, PlanSet, RecordWith
from buildlog.desk.acts import working_files
from buildlog.desk.acts.car_fields import apply, split
from buildlog.desk.snapshot.settings import recorder
from buildlog.errors import InvalidInput, UsageError
from buildlog.records.base import Record
from buildlog.records.configuration import Configuration
from buildlog.records.leaf_text import Leaves, differing, edited, fields
from buildlog.records.merge import Conflict as Conflict
from buildlog.records.merge import Side as Side
from buildlog.records.merge import merge
from buildlog.records.paths import differences, leaves
from buildlog.records.plan import CURRENCY, PRICE, Plan
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING, of
from buildlog.store.ledger.plan_branches import CAR, PLAN

Decide = Callable[[Sequence[Conflict]], Mapping[str, Side]]
_OWN = ("price", "currency", "note")


def new_plan(ledger: Ledger, name: str, origin: str = "latest") -> PlanMade:
    """Begin a plan from a version: an entry, another plan, or the working files."""
    start = ledger.resolve(origin)
    car = ledger.read(start, CAR)
    other = ledger.read(start, PLAN) if origin.startswith("plan:") else b""
    made = plan_branches.create(ledger, name, start, car, recorder(), other)
    return PlanMade(made.name, origin, made.base.number, made.base.id)


def set_plan(ledger: Ledger, name: str, assignments: Sequence[str]) -> PlanSet:
    """Set fields of the planned car, or price, currency and note of the plan, by PATH=VALUE."""
    branch = plan_branches.find(ledger, name)
    own = [one for one in assignments if split(one)[0] in _OWN]
    rest = [one for one in assignments if one not in own]
    before = {path: ledger.read(branch.version, path) for path in (CAR, PLAN)}
    after = {CAR: apply(before[CAR], rest) if rest else before[CAR],
             PLAN: _plan_edited(before[PLAN], own)}  # fmt: skip
    models: dict[str, type[Record]] = {CAR: Configuration, PLAN: Plan}
    changed = []
    for path, model in models.items():
        old, new = (read(model, side[path], path) for side in (before, after))
        changed += differences(old, new)
    files = {path: data for path, data in after.items() if data != before[path]}
    if files:
        words = f"plan {branch.name}: {len(assignments)} set"
        plan_branches.change(ledger, branch, files, words, recorder())
    return PlanSet(branch.name, tuple(changed))


def adopt_plan(ledger: Ledger, name: str, decide: Decide) -> PlanAdopted:
    """Merge a plan into the working car.toml, field by field.

    `decide` says by path which side wins where plan ("theirs") and working ("ours") changed one
    field differently; UsageError where it leaves one open.
    """
    branch = plan_branches.find(ledger, name)
    data = ledger.read(WORKING, CAR)
    base, theirs = (
        leaves(read(Configuration, ledger.read(side, CAR), CAR))
        for side in (of(branch.base), branch.version)
    )
    ours = leaves(read(Configuration, data, CAR))
    merged = merge(base, ours, theirs)
    if merged.conflicts:
        merged = merge(base, ours, theirs, decide(merged.conflicts))
    if merged.conflicts:
        left = ", ".join(one.path for one in merged.conflicts)
        raise UsageError(f"changed in the plan and in the working files, and not decided: {left}")
    if merged.taken:
        working_files.change(ledger, CAR, lambda text: with_values(text, merged.values), data)
    paths = (CAR,) if merged.taken else ()
    return PlanAdopted(paths, RecordWith("what was done"), branch.name, merged.taken)


def drop_plan(ledger: Ledger, name: str) -> PlanDropped:
    """Take a plan away. Entries and working files stay as they are."""
    branch = plan_branches.find(ledger, name)
    plan_branches.drop(ledger, branch)
    return PlanDropped(branch.name, branch.version.commit or "")


def with_values(data: bytes, meant: Leaves) -> bytes:
    """The text with these leaves; InvalidInput if it cannot be edited to hold them."""
    text = edited(data, meant)
    if wrong := differing(fields(text), meant):
        raise InvalidInput(
            f"car.toml cannot be edited to hold {min(wrong)} as merged",
            hint="set it with `buildlog set`, then adopt again",
        )
    return text


def _plan_edited(data: bytes, assignments: list[str]) -> bytes:
    for assignment in assignments:
        path, value = split(assignment)
        if value:
            data = toml_edit.set_value(data, (path,), value)
        elif f"\n{path} =".encode() in b"\n" + data:
            data = toml_edit.delete(data, path)
    try:
        read(Plan, data, PLAN)
    except InvalidInput as error:
        what, hint = _own_words(dict(map(split, assignments))) or (error.what, error.hint)
        raise InvalidInput(what, why="nothing was changed", hint=hint) from None
    return data


def _own_words(given: dict[str, str]) -> tuple[str, str] | None:
    """What is wrong with a price or a currency, and how it is written."""
    price, currency = given.get("price", ""), given.get("currency", "")
    if price and not re.fullmatch(PRICE, price):
        digits = re.sub(r"[ ']", "", price).replace(",", ".")
        hint = f"price={digits}" if re.fullmatch(PRICE, digits) else "price=5200.00"
        what = f'price is "{price}", and not digits with a decimal point'
        return what, f"write a decimal point and nothing between the digits: {hint}"
    if currency and not re.fullmatch(CURRENCY, currency):
        what = f'currency is "{currency}", and not three capital letters'
        return what, "write the letters of ISO 4217: currency=EUR"
    return None

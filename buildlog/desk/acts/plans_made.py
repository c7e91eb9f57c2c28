"""Plans: made on a branch of their own, edited, merged into the working files, dropped."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from buildlog.analysis.car.written import PlanAdopted, PlanDropped, PlanMade, PlanSet, RecordWith
from buildlog.desk.acts import working_files
from buildlog.desk.acts.car_fields import apply, split
from buildlog.desk.acts.plan_file import OWN, plan_edited
from buildlog.desk.snapshot.settings import recorder
from buildlog.errors import UsageError
from buildlog.records.car.configuration import Configuration
from buildlog.records.fields.base import Record
from buildlog.records.merge import Conflict as Conflict
from buildlog.records.merge import Side as Side
from buildlog.records.paths import differences
from buildlog.records.plan import Plan
from buildlog.records.plan_changes import Followed, followed
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING, of
from buildlog.store.ledger.plan_branches import CAR, PLAN, PlanBranch

Decide = Callable[[Sequence[Conflict]], Mapping[str, Side]]


def new_plan(ledger: Ledger, name: str, origin: str = "latest") -> PlanMade:
    """Begin a plan from a version: an entry, another plan, or the working files."""
    start = ledger.resolve(origin)
    car = ledger.read(start, CAR)
    other = ledger.read(start, PLAN) if origin.startswith("plan:") else b""
    made = plan_branches.create(ledger, name, start, car, recorder(), other)
    return PlanMade(made.name, origin, made.base.number, made.base.id)


def set_plan(ledger: Ledger, name: str, assignments: Sequence[str]) -> PlanSet:
    """Set fields of the planned car, or price, currency, charges, time and note of the plan, by
    PATH=VALUE. The plan is brought to the newest entry first, where that leaves no question."""
    branch = plan_branches.find(ledger, name)
    own = [one for one in assignments if OWN.match(split(one)[0])]
    rest = [one for one in assignments if one not in own]
    before = {path: ledger.read(branch.version, path) for path in (CAR, PLAN)}
    newest, start = ledger.entries()[-1], before[CAR]
    moved = _moved(ledger, branch, rest) if rest and newest.id != branch.base.id else None
    if moved is not None:
        start = moved.car
    after = {CAR: apply(start, rest) if rest else before[CAR],
             PLAN: plan_edited(before[PLAN], own)}  # fmt: skip
    if rest:
        _refuse_promised(read(Plan, before[PLAN], PLAN), branch.name)
    models: dict[str, type[Record]] = {CAR: Configuration, PLAN: Plan}
    changed = []
    for path, model in models.items():
        old, new = (read(model, side[path], path) for side in ({**before, CAR: start}, after))
        changed += differences(old, new)
    files = {path: data for path, data in after.items() if data != before[path]}
    if files:
        words = f"plan {branch.name}: {len(assignments)} set"
        onto, told = (newest, after) if moved is not None else (None, files)
        plan_branches.change(ledger, branch, told, words, recorder(), onto)
    return PlanSet(branch.name, tuple(changed))


def _moved(ledger: Ledger, branch: PlanBranch, assignments: Sequence[str]) -> Followed | None:
    """The plan on the newest entry; None where a question is left that nobody answers here."""
    newest = of(ledger.entries()[-1])
    base, car, plan = (ledger.read(x, CAR) for x in (of(branch.base), newest, branch.version))
    found = followed(base, car, plan)
    said = {split(one)[0] for one in assignments}
    return found if {one.path for one in found.questions} <= said else None


def _refuse_promised(plan: Plan, name: str) -> None:
    """What a customer accepted stays as he accepted it."""
    if plan.accepted is not None:
        raise UsageError(
            f"the quote of plan {name} was accepted on {plan.accepted.date}, so its car stays",
            hint=f"buildlog plan new OTHER --from plan:{name}, and a quote of its own",
        )


def adopt_plan(ledger: Ledger, name: str, decide: Decide) -> PlanAdopted:
    """Merge a plan into the working car.toml, field by field.

    `decide` says by path which side wins where plan ("theirs") and working ("ours") changed one
    field differently; UsageError where it leaves one open. A quoted plan notes that it was
    adopted, so that the entry of the work carries its promise.
    """
    branch = plan_branches.find(ledger, name)
    data, base, plan = (
        ledger.read(WORKING, CAR),
        *(ledger.read(side, CAR) for side in (of(branch.base), branch.version)),
    )
    merged = followed(base, data, plan)
    if merged.questions:
        decided = decide(merged.questions)
        left = [one.path for one in merged.questions if one.path not in decided]
        if left:
            said = ", ".join(left)
            raise UsageError(
                f"changed in the plan and in the working files, and not decided: {said}"
            )
        merged = followed(base, data, plan, decided)
    if merged.taken:
        working_files.change(ledger, CAR, lambda _: merged.car, data)
        _note_adopted(ledger, branch)
    paths = (CAR,) if merged.taken else ()
    return PlanAdopted(paths, RecordWith("what was done"), branch.name, merged.taken)


def _note_adopted(ledger: Ledger, branch: PlanBranch) -> None:
    data = ledger.read(branch.version, PLAN)
    plan = read(Plan, data, PLAN)
    if plan.promised is not None and not plan.promised.adopted:
        noted = toml_edit.set_values(data, {"promised.adopted": True})
        words = f"plan {branch.name}: adopted"
        plan_branches.change(ledger, branch, {PLAN: noted}, words, recorder())


def drop_plan(ledger: Ledger, name: str) -> PlanDropped:
    """Take a plan away. Entries and working files stay as they are."""
    branch = plan_branches.find(ledger, name)
    plan_branches.drop(ledger, branch)
    return PlanDropped(branch.name, branch.version.commit or "")

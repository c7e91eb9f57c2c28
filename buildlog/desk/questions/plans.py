"""What the plan commands share: editing a plan, predicting it, merging it into working."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.errors import BuildlogError, InvalidInput, UsageError
from buildlog.records.base import Record
from buildlog.records.configuration import Configuration
from buildlog.records.plan import CURRENCY, PRICE, Plan
from buildlog.records.reading import read
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.names import WORKING, of
from buildlog.store.ledger.plan_branches import CAR, PLAN, PlanBranch

if TYPE_CHECKING:
    from buildlog.analysis.answers.plan_offers import PlanOffer
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.margins.margin_changes import MarginChanges
    from buildlog.analysis.prediction.predicted import Predicted
    from buildlog.desk.questions.limits import Margining
    from buildlog.desk.questions.predict import Predictor
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.records.merge import Conflict, Merged, Side
    from buildlog.store.ledger.ledger import Ledger

_OWN = ("price", "currency", "note")
UNASKED = "not asked for"


def recorder() -> Recorder:
    """Who writes a plan, and when."""
    from buildlog.desk.snapshot import settings

    shop = settings.load().shop or "shop without a name"
    return Recorder(shop, dt.datetime.now(dt.UTC))


def edited(
    ledger: Ledger, branch: PlanBranch, assignments: Iterable[str]
) -> tuple[dict[str, bytes], list[str]]:
    """The plan's files with every assignment made, and what changed in words."""
    from buildlog.desk.acts.editing import apply, split
    from buildlog.records.paths import differences
    from buildlog.report.as_text.changes_text import value_text

    listed = list(assignments)
    own = [one for one in listed if split(one)[0] in _OWN]
    rest = [one for one in listed if one not in own]
    before = {path: ledger.read(branch.version, path) for path in (CAR, PLAN)}
    after = {CAR: apply(before[CAR], rest) if rest else before[CAR],
             PLAN: _plan_edited(before[PLAN], own)}  # fmt: skip
    models: dict[str, type[Record]] = {CAR: Configuration, PLAN: Plan}
    said = []
    for path, model in models.items():
        old, new = (read(model, side[path], path) for side in (before, after))
        for field, was, now in differences(old, new):
            said.append(f"{field}: {value_text(was)} -> {value_text(now)}")
    return {path: data for path, data in after.items() if data != before[path]}, said


def _plan_edited(data: bytes, assignments: list[str]) -> bytes:
    from buildlog.desk.acts.editing import split
    from buildlog.records.toml import toml_edit

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


def count(fields: int) -> str:
    """ "1 field", "2 fields"."""
    return f"{fields} field{'' if fields == 1 else 's'}"


class Planner:
    """Offers of one ledger, all predicted with the same curves."""

    def __init__(self, book: Snapshot, shop: Path | None = None) -> None:
        self.book, self.shop = book, shop

    @cached_property
    def predictor(self) -> Predictor:
        """Works out each session once."""
        from buildlog.desk.questions.predict import Predictor

        return Predictor(self.book, None, self.shop)

    def offer(self, name: str) -> PlanOffer:
        """One plan with its prediction."""
        branch = plan_branches.find(self.book.ledger, name)
        version = self.book.of(branch.version)
        return self._offer(branch, version, self._predicted(branch, version))

    def unpredicted(self) -> list[PlanOffer]:
        """All plans, without their predictions."""
        found = plan_branches.plans(self.book.ledger)
        return [self._offer(b, self.book.of(b.version), UNASKED) for b in found]

    def _offer(self, branch: PlanBranch, version: Version, result: Predicted | str) -> PlanOffer:
        from buildlog.analysis.answers.plan_offers import offer

        plan = read(Plan, self.book.ledger.read(branch.version, PLAN), PLAN)
        base = self.book.of(of(branch.base))
        margins = None if result == UNASKED else self._margins(base, version, result)
        return offer(branch.name, version, base, plan, result, margins)

    @cached_property
    def margining(self) -> Margining:
        """Works out each power once."""
        from buildlog.desk.questions.limits import Margining

        return Margining(self.book)

    def _margins(self, base: Version, version: Version, result: Predicted | str) -> MarginChanges:
        """What is left of each limit, for the power that the plan's own line shows."""
        from buildlog.analysis.margins.margin_changes import margin_changes

        if not isinstance(result, str):
            self.margining.take(version, result)
        return margin_changes(self.margining.rows(base), self.margining.rows(version))

    def _predicted(self, branch: PlanBranch, version: Version) -> Predicted | str:
        """From the measured curve of the plan's base, else of the newest measured before it."""
        try:
            start = self._measured_base(branch)
            return self.predictor.predict(start, version)
        except BuildlogError as error:
            return error.what

    def _measured_base(self, branch: PlanBranch) -> Version:

        base = self.book.of(of(branch.base))
        if self.predictor.point(base) is not None:
            return base
        earlier = [v for v in self.book.measured_versions if v.number <= base.number]
        return earlier[-1] if earlier else base


def adopted(
    ledger: Ledger, branch: PlanBranch, take: str | None, ask: Callable[[Conflict], Side] | None
) -> Merged:
    """Merge a plan into working's car.toml and write it; UsageError for conflicts that neither
    `take` nor anybody who is asked decides."""
    from buildlog.desk.acts.adopting import with_values
    from buildlog.records.merge import merge
    from buildlog.records.paths import leaves

    data = ledger.read(WORKING, CAR)
    base, theirs = (
        leaves(read(Configuration, ledger.read(side, CAR), CAR))
        for side in (of(branch.base), branch.version)
    )
    ours = leaves(read(Configuration, data, CAR))
    merged = merge(base, ours, theirs)
    if merged.conflicts:
        decided = _decided(merged.conflicts, take, ask)
        merged = merge(base, ours, theirs, decided)
    if merged.taken:
        ledger.write_working(CAR, with_values(data, merged.values), expect=data)
    return merged


def _decided(
    conflicts: tuple[Conflict, ...], take: str | None, ask: Callable[[Conflict], Side] | None
) -> dict[str, Side]:
    from buildlog.report.as_text.plan_text import conflict_lines

    if take is not None:
        side: Side = "theirs" if take == "plan" else "ours"
        return {one.path: side for one in conflicts}
    if ask is None:
        listed = "; ".join(line.strip() for line in conflict_lines(conflicts)[1:])
        raise UsageError(
            f"both the plan and the working files changed {count(len(conflicts))}",
            why=f"field, when planned, working, plan: {listed}",
            hint="--take plan or --take working; nothing was changed",
        )
    return {one.path: ask(one) for one in conflicts}

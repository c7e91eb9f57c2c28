"""Plans as offers: what each would give, and what must change with it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.questions.built_plans import built_in
from buildlog.errors import BuildlogError
from buildlog.records.plan import Plan
from buildlog.records.reading import read
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.names import of
from buildlog.store.ledger.plan_branches import PLAN, PlanBranch

if TYPE_CHECKING:
    from buildlog.analysis.answers.plan_offers import PlanOffer
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.margins.margin_changes import MarginChanges
    from buildlog.analysis.prediction.predicted import Predicted
    from buildlog.desk.questions.limits import Margining
    from buildlog.desk.questions.predict import Predictor
    from buildlog.desk.snapshot.snapshot import Snapshot

UNASKED = "not asked for"


class Planner:
    """Offers of one ledger, all predicted with the same curves."""

    def __init__(self, book: Snapshot, shop: Path | None = None) -> None:
        self.book, self.shop = book, shop

    @property
    def predictor(self) -> Predictor:
        """Works out each session once."""
        from buildlog.desk.questions.predict import predictor_of

        return predictor_of(self.book, None, self.shop)

    def offer(self, name: str) -> PlanOffer:
        """One plan with its prediction."""
        branch = plan_branches.find(self.book.ledger, name)
        version = self.book.of(branch.version)
        found = self._offer(branch, version, self._predicted(version))
        return replace(found, not_learned_from=tuple(self.predictor.unread))

    def offers(self, names: Iterable[str] = ()) -> list[PlanOffer]:
        """The same of several, each once, in the order named; without a name of all but those that
        are built."""
        known = (one.name for one in self.unpredicted() if one.built_in is None)
        return [self.offer(name) for name in list(dict.fromkeys(names)) or known]

    def unpredicted(self) -> list[PlanOffer]:
        """All plans, without their predictions."""
        found = plan_branches.plans(self.book.ledger)
        return [self._offer(b, self.book.of(b.version), UNASKED) for b in found]

    def _offer(self, branch: PlanBranch, version: Version, result: Predicted | str) -> PlanOffer:
        from buildlog.analysis.answers.plan_offers import offer

        plan = read(Plan, self.book.ledger.read(branch.version, PLAN), PLAN)
        base = self.book.history[-1]
        margins = None if result == UNASKED else self._margins(base, version, result)
        found = offer(branch.name, version, base, plan, result, margins)
        asked = self.book.plan_on_newest(branch.version).questions
        return replace(found, made_from=self.book.of(of(branch.base)), questions=asked,
                       built_in=built_in(self.book, branch.name, plan))  # fmt: skip

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

    def _predicted(self, version: Version) -> Predicted | str:
        """From the measured curve of the newest entry, else of the newest measured before it."""
        try:
            base, earlier = self.book.history[-1], self.book.measured_versions
            measured = self.predictor.point(base) is not None or not earlier
            found = self.predictor.predict(base if measured else earlier[-1], version)
            return found.unpredictable or found
        except BuildlogError as error:
            return error.what


def plan_offer(book: Snapshot, name: str) -> PlanOffer:
    """One plan with its prediction."""
    return Planner(book).offer(name)


def plan_offers(book: Snapshot) -> list[PlanOffer]:
    """All plans with their predictions."""
    return Planner(book).offers()


def built_plans(book: Snapshot) -> list[PlanOffer]:
    """Those that an entry carries out, without predictions: what they gave was measured."""
    return [one for one in Planner(book).unpredicted() if one.built_in is not None]


def plan_names(book: Snapshot) -> list[str]:
    """The names of all plans."""
    return [one.name for one in plan_branches.plans(book.ledger)]

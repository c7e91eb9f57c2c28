"""Learning across a shop: by induction kind, never from the stage itself, both bands shown."""

from __future__ import annotations

import datetime as dt

import pytest

from buildlog.analysis.prediction.learned import PastStage, before, learned_for, reports
from buildlog.physics.engines.learning import Result
from tests.builders import make_version

LOW = Result(1.30, 1.30, 1.40, 1.50, 0.015)


def past(number: int, kind: str = "turbocharger", ledger: str = "this", day: int = 1) -> PastStage:
    return PastStage("Marrow Tern", ledger, "a", "b", number, dt.date(2026, 3, day), kind, LOW, 1e5)


def test_only_results_of_the_same_induction_kind_teach() -> None:
    known = [past(2), past(3), past(4, "centrifugal")]
    learned = learned_for("turbocharger", known)
    assert learned is not None
    assert learned.count == 2
    assert learned.shift < 0
    assert learned.width == learned.spread
    assert learned_for("positive-displacement", known) is None


def test_a_stage_does_not_learn_from_itself_or_from_later_ones() -> None:
    known = [past(2), past(4), past(6), past(2, ledger="other", day=9)]
    known += [past(1, ledger="other", day=day) for day in (10, 20)]  # of the same day, and later
    target = make_version(4, date=dt.date(2026, 3, 10))
    assert [(s.ledger, s.number) for s in before(known, "this", target)] == [
        ("this", 2),
        ("other", 2),
    ]
    assert before(known, "this", make_version(0)) == known


def test_the_back_test_reports_raw_and_adjusted_by_kind() -> None:
    known = [past(n, day=n) for n in range(1, 9)] + [past(9, "centrifugal")]
    found = {report.kind: report for report in reports(known)}
    turbo = found["turbocharger"]
    assert (turbo.raw.count, found["centrifugal"].raw.count) == (8, 1)
    assert turbo.raw.bias == pytest.approx(LOW.residual)
    assert abs(turbo.adjusted.bias) < abs(turbo.raw.bias)
    assert turbo.adjusted.width <= turbo.raw.width


def test_the_order_in_which_stages_are_read_changes_nothing() -> None:
    known = [past(n, day=n) for n in range(1, 6)]
    assert reports(known) == reports(list(reversed(known)))

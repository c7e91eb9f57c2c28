"""How much a dyno differs over days: one figure in every answer, from whoever knows it best."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildlog.desk.questions.compare import diff
from buildlog.desk.questions.visits import another_day, compare, session_sheet
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.physics.numerics.repeatability import DIFFERENCE_DEFAULTS, half_width_95
from buildlog.store.ledger.ledger import Ledger
from tests.cli.dyno_ledger import dyno_ledger

USUAL = DIFFERENCE_DEFAULTS["another day"]
STATED = """[another_day]
unit = "%"
distribution = "lognormal"
median = 0.8
sigma = 0.1
source = "twelve visits of the shop's own car, 2025"
"""
VISITS = [(f"v{n}", {"peaks": (peak, peak * 1.004, peak * 0.997)})
          for n, peak in enumerate((150e3, 153e3, 149e3, 151e3))]  # fmt: skip


@pytest.fixture(scope="module")
def four_visits(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A car that was not changed, measured on four days."""
    return dyno_ledger(tmp_path_factory.mktemp("days") / "car", VISITS)


def parts(book: Snapshot) -> dict[str, tuple[float, str, str]]:
    found = compare(book, *sorted(book.session_places)[:2]).measured
    assert found is not None
    return {part.key: (part.u, part.text, part.basis) for part in found.parts}


def test_repeat_visits_of_an_unchanged_car_tell_it(four_visits: Path) -> None:
    with Ledger.open(four_visits) as ledger:
        book = Snapshot(ledger)
        known = another_day(book, "R1")
        assert "from 4 visits of an unchanged car" in known.text
        assert known.dof == 7  # three of their own, four of what is usual
        assert parts(book)["another day"] == (known.u, known.text, "")


@pytest.mark.parametrize("dyno", [None, "R9"])
def test_without_such_visits_it_is_what_is_usual(four_visits: Path, dyno: str | None) -> None:
    with Ledger.open(four_visits) as ledger:
        assert another_day(Snapshot(ledger), dyno) is USUAL


def test_what_the_shop_states_takes_the_place_of_both(four_visits: Path) -> None:
    own = four_visits / "priors.toml"
    own.write_text(STATED)
    try:
        with Ledger.open(four_visits) as ledger:
            u, text, basis = parts(Snapshot(ledger))["another day"]
            assert (round(u, 12), text) == (0.008, USUAL.text)
            assert basis == "twelve visits of the shop's own car, 2025"
        own.write_text("[another_day]\n")  # a broken file hides nothing that was measured
        with Ledger.open(four_visits) as ledger:
            assert another_day(Snapshot(ledger), "R1") is USUAL
    finally:
        own.unlink()


def test_sheet_and_comparison_say_one_figure(four_visits: Path) -> None:
    """What as many pulls can show on another day is the half-width of such a comparison."""
    with Ledger.open(four_visits) as ledger:
        book = Snapshot(ledger)
        report = session_sheet(book)
        u = another_day(book, "R1").u_normal
        assert report.can_show[1] == half_width_95(report.sheet.scatter, 3, 3, u)
        assert u != USUAL.u
        measured = diff(book, "2", "3").measured
        assert measured is not None
        assert another_day(book, "R1") in measured.parts


def test_the_usual_figure_is_the_one_that_the_priors_state(four_visits: Path) -> None:
    with Ledger.open(four_visits) as ledger:
        assert Snapshot(ledger).priors["another_day"].quantile(0.5) == pytest.approx(USUAL.u)

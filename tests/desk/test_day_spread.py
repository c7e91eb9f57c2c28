"""How much a dyno differs over days: one figure in every answer, from whoever knows it best."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest

from buildlog.analysis.prediction.learned import scatter_of
from buildlog.desk.questions.compare import diff
from buildlog.desk.questions.dynos import another_day
from buildlog.desk.questions.predict import predictor_of
from buildlog.desk.questions.visits import compare, session_sheet
from buildlog.desk.questions.whole_shop import WholeShop
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.physics.numerics import repeatability
from buildlog.physics.numerics.between_days import RepeatVisit, between_days
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
OTHERS = {  # by car: dyno and the peaks of its visits
    "a": ("R1", (120e3, 124e3, 121e3)),
    "b": ("R1", (200e3, 199e3)),
    "c": ("R7", (150e3, 170e3)),
    "once": ("R1", (99e3,)),
}


@pytest.fixture(scope="module")
def shop(four_visits: Path) -> Path:
    """The shop of that car, with others on this dyno and another, a copy, and a folder of rags."""
    folder = four_visits.parent
    for n, (name, (dyno, peaks)) in enumerate(OTHERS.items()):
        visits = [
            (f"v{k}", {"peaks": (p, p * 1.004, p * 0.997), "dyno.id": dyno})
            for k, p in enumerate(peaks)
        ]
        dyno_ledger(folder / name, visits, nonce=f"{n:02x}" * 16)
    shutil.copytree(folder / "a", folder / "a-copy")
    (folder / "rags" / ".git").mkdir(parents=True)
    (folder / "rags" / "car.toml").write_text("format = 1\n")
    return folder


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


def levels(peaks: Sequence[float], day: int = 0) -> list[RepeatVisit]:
    return [RepeatVisit(peak, 3, day + n) for n, peak in enumerate(peaks)]


def test_the_shops_other_cars_tell_it_too(
    shop: Path, four_visits: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """By an analysis of variance over all of them, each car about its own mean: who only looks and
    who writes say one figure, and so does every command."""
    monkeypatch.setenv("BUILDLOG_CONFIG", str(tmp_path / "settings.toml"))
    (tmp_path / "settings.toml").write_text(f'cars = "{shop}"\n')
    with Ledger.open(four_visits) as ledger, opening.snapshot(four_visits) as looking:
        book = Snapshot(ledger)
        known = another_day(book, "R1")
        assert "(from 9 visits of 3 unchanged cars of this shop" in known.text
        groups = [levels([p for _, own in VISITS for p in own["peaks"][:1]])]
        groups += [levels(peaks) for name, (_, peaks) in OTHERS.items() if name in "ab"]
        s_r = repeatability.combine_scatter([book.sheet(n).scatter for n in book.session_places])
        assert s_r is not None
        expected = between_days(groups, s_r.s)
        assert expected is not None
        assert known.dof == 6 + 4
        assert known.u == pytest.approx(expected.of_difference, rel=2e-3)
        assert [another_day(looking, "R1") for _ in "12"] == [known, known]
        assert parts(looking)["another day"] == (known.u, known.text, "")
        assert session_sheet(looking).can_show == session_sheet(book).can_show
        found = diff(looking, "2", "3").measured
        assert found is not None
        assert known in found.parts


def test_another_car_of_the_shop_tells_it_alone(
    shop: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("BUILDLOG_CONFIG", str(tmp_path / "settings.toml"))
    (tmp_path / "settings.toml").write_text(f'cars = "{shop}"\n')
    with opening.snapshot(shop / "a") as book:
        assert "(from 2 visits of another car of this shop" in another_day(book, "R7").text
    (tmp_path / "settings.toml").write_text(f'cars = "{tmp_path / "gone"}"\n')
    with opening.snapshot(shop / "a") as book:
        assert another_day(book, "R7") is USUAL  # a shop that is not there tells nothing
        assert "(from 3 visits of an unchanged car" in another_day(book, "R1").text


@pytest.mark.long
def test_what_stages_taught_is_weighed_by_the_same_spread(
    shop: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A measured stage counts with the interval that `diff` gives it, `shop list --gains` too."""
    car = shop / "stages"
    visits = [
        ("one", {"peaks": (100e3, 100.3e3), "dyno.id": "R1"}),
        ("two", {"peaks": (112e3, 112.3e3), "dyno.id": "R1"}),
    ]
    dyno_ledger(car, visits, nonce="aa" * 16, changes=[{}, {"engine.compression_ratio": 11.5}])
    monkeypatch.setenv("BUILDLOG_CONFIG", str(tmp_path / "settings.toml"))
    try:
        widths = set()
        for said in ("", f'cars = "{shop}"\n'):
            (tmp_path / "settings.toml").write_text(said)
            with opening.snapshot(car) as book:
                found = diff(book, "2", "3").measured
                assert found is not None
                (stage,), _ = predictor_of(book).own_stages()
                assert stage.result.measured_sd == scatter_of(found.power)
                widths.add(found.power.half_width_95)
            with WholeShop([shop]) as whole:
                (gain,) = [one for folder, one in whole.gains().stages if folder == "stages"]
                assert gain["half_w"] == pytest.approx(found.power.half_width_95, rel=1e-12)
        assert len(widths) == 2
    finally:
        shutil.rmtree(car)


def test_the_usual_figure_is_the_one_that_the_priors_state(four_visits: Path) -> None:
    with Ledger.open(four_visits) as ledger:
        assert Snapshot(ledger).priors["another_day"].quantile(0.5) == pytest.approx(USUAL.u)

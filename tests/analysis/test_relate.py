"""Two machines on one car: the ratio and its interval by the formulas, on made sheets."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np
import pytest
from scipy import stats

from buildlog.analysis.car.history_files import Visit
from buildlog.analysis.pulls.measured import Measured, Relation, measured
from buildlog.analysis.pulls.relate import Side, relate, same_car_pairs
from buildlog.records.session import Session
from tests.builders import make_configuration, make_sheet, make_version

THREE = np.array([99_700.0, 100_000.0, 100_300.0])


def visit(day: int, dyno: str | None, owner: int = 1, **put: object) -> Visit:
    body = {"format": 1, "date": dt.date(2026, 3, day), "pull": [{"file": "pull-1.csv"}]}
    body |= {"dyno": {"id": dyno}} if dyno else {}
    return Visit(
        f"visit-{day}", Session.model_validate(body), make_version(owner, make_configuration(put))
    )


def related(
    ratios: Sequence[float], unread: Sequence[str] = ()
) -> tuple[Relation | None, list[Measured]]:
    """R1 and R2 with these ratios of their readings, a pair of visits each."""
    visits, sides, pairs = [], {}, []
    for n, ratio in enumerate(ratios):
        days = {"date": dt.date(2026, 3, 2 * n + 1)}, {"date": dt.date(2026, 3, 2 * n + 2)}
        one = make_sheet(list(THREE), {**days[0], "dyno.id": "R1"}, name=f"visit-{2 * n + 1}")
        other = make_sheet(
            list(ratio * THREE), {**days[1], "dyno.id": "R2"}, name=f"visit-{2 * n + 2}"
        )
        for sheet, dyno, day in ((one, "R1", 2 * n + 1), (other, "R2", 2 * n + 2)):
            visits.append(visit(day, dyno))
            sides[sheet.name] = (sheet, sheet.groups[0])
        found = measured(one, other)
        assert isinstance(found, Measured)
        pairs.append(found)

    def side(name: str, calibration: str | None) -> Side | None:
        return None if name in unread else sides.get(name)

    return relate(visits, "R1", "R2", side), pairs


def variance(pair: Measured) -> float:
    """Scatter of the pulls as its own t has it, and 1.5 % of another day (common practice)."""
    t = stats.t.ppf(0.975, pair.scatter.dof) / 1.959964
    return float((t * pair.scatter.s) ** 2 * (2 / 3) + 0.015**2)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_ratios_that_agree_leave_what_each_pair_leaves(count: int) -> None:
    found, pairs = related([1.04] * count)
    assert found is not None
    assert found.ratio == pytest.approx(1.04, rel=1e-6)
    assert len(found.pairs) == count
    floor = 1.959964 * math.sqrt(sum(map(variance, pairs))) / count
    assert found.half_width == pytest.approx(floor, rel=1e-4)
    assert found.dof == (count - 1 if count > 1 else pairs[0].scatter.dof)


def test_ratios_that_disagree_are_judged_by_their_own_scatter() -> None:
    ratios = [1.00, 1.04, 1.09]
    found, _ = related(ratios)
    assert found is not None
    logs = np.log(ratios)
    assert found.ratio == pytest.approx(math.exp(logs.mean()), rel=1e-6)
    half = stats.t.ppf(0.975, 2) * logs.std(ddof=1) / math.sqrt(3)
    assert found.half_width == pytest.approx(half, rel=1e-4)
    assert found.dof == 2


def test_each_visit_to_the_second_machine_counts_once_with_the_newest_before() -> None:
    visits = [visit(1, "R1"), visit(2, "R1"), visit(3, "R2"), visit(4, None), visit(5, "R2")]
    pairs = [(a.name, b.name) for a, b, _ in same_car_pairs(visits, "R1", "R2")]
    assert pairs == [("visit-2", "visit-3"), ("visit-2", "visit-5")]
    assert list(same_car_pairs(visits, "R2", "R3")) == []


def test_without_sheets_there_is_no_relation() -> None:
    assert relate([visit(1, "R1"), visit(2, "R2")], "R1", "R2", lambda *_: None) is None


def test_a_pair_of_which_one_side_cannot_be_read_is_left_out() -> None:
    """Each visit to the second stands beside the newest to the first."""
    found, _ = related([1.02, 1.05], ["visit-2"])
    assert found is not None
    assert (found.first, found.second) == ("R1", "R2")
    assert found.pairs == (("visit-3", "visit-4"),)
    assert found.ratios == pytest.approx((1.05,))
    assert related([1.02, 1.05], ["visit-3"])[0] is None


@pytest.mark.parametrize(
    ("put", "alike"),
    [({}, True), ({"tyres.made": "1225"}, True), ({"engine.bore": "84.5 mm"}, False),
     ({"calibration.id": "T26-002"}, False)],
)  # fmt: skip
def test_a_pair_is_of_one_car_as_far_as_power_goes(put: dict[str, str], alike: bool) -> None:
    """A calibration that neither session names is the car's own; one that moves no power may."""
    visits = [visit(1, "R1"), visit(2, "R2", **put)]
    assert bool(list(same_car_pairs(visits, "R1", "R2"))) is alike

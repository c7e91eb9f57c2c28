"""Pulls as they come: one lifted early, all run into the limiter, channels that only rise."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.analysis.pulls.sag_report import SagReport, sag_report
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_work import sheet
from buildlog.records.session import Session
from tests.builders import SESSION, changed, make_configuration, power_shape, pull_csv

Shape = Callable[[np.ndarray], np.ndarray]


def dipped(n: np.ndarray, at: float = 5000, depth: float = 0.04, width: float = 300) -> np.ndarray:
    u = np.clip((n - at) / width, -1, 1)
    return power_shape(n) * (1 - depth * 0.5 * (1 + np.cos(np.pi * u)))


def late_step(n: np.ndarray) -> np.ndarray:
    return power_shape(n) * (1 + 0.2 / (1 + np.exp(-(n - 4200) / 75))) / 1.2


def visit(ends: tuple[float, ...], shape: Shape = power_shape, scale: float = 1.0) -> Sheet:
    """A session of pulls that end at these engine speeds, each at its own level."""
    files = {
        f"p{i}.csv": pull_csv(
            scale * 100_000 * (1 + 0.004 * i), seed=i, rpm=(2000, end), shape=shape, noise=0.001
        )
        for i, end in enumerate(ends)
    }
    values = changed(SESSION, {}) | {"pull": [{"file": name} for name in files]}
    return sheet("visit", Session.model_validate(values), files, make_configuration())


def sags(found: Sheet) -> SagReport:
    return sag_report(found, make_configuration())


def test_a_lifted_pull_hides_no_sag_and_pulls_no_headline_down() -> None:
    result = visit((5150, 6300), dipped)
    group = result.kept
    assert group is not None
    assert group.peak_power.value == pytest.approx(100_200, rel=0.004)  # the mean level, at 5,500
    assert group.pulls_at(result, 5000) == 2
    assert group.pulls_at(result, 5900) == 1
    assert group.best[0] == "p1.csv"
    over = (group.mean / dipped(result.grid))[(result.grid >= 5050) & (result.grid <= 5600)]
    assert np.abs(np.diff(over)).max() < 0.003 * over.mean()  # a plain mean would step by 0.2 %
    assert np.ptp(over) < 0.004 * over.mean()
    (sag,) = sags(result).sags
    assert sag.at == pytest.approx(5000, abs=50)
    assert (sag.shared, len(sag.pulls), sag.of) == (True, 1, 1)  # the other ends in it
    assert sag.depth == pytest.approx(0.04, abs=0.008)


def test_a_pull_that_is_lifted_while_power_rises_says_at_least() -> None:
    result = visit((4300, 4300))
    assert result.kept is not None
    assert result.kept.peak_power.at_edge
    assert result.kept.best[1].at_edge
    whole = visit((4300, 6300))
    assert whole.kept is not None
    assert not whole.kept.peak_power.at_edge  # one pull passed its peak


def test_three_pulls_that_end_at_zero_power() -> None:
    def limited(n: np.ndarray) -> np.ndarray:
        return power_shape(n) * np.clip((6300 - n) / 150, 0, 1)

    result = visit((6300, 6300, 6300), limited)
    assert result.kept is not None
    assert result.scatter.s < 0.02
    assert result.kept.peak_power.value == pytest.approx(100_400, rel=0.005)
    assert sags(result).sags == ()
    assert isinstance(measured(result, visit((6300, 6300), limited)), Measured)


def test_a_late_step_is_no_sag() -> None:
    assert sags(visit((6300, 6300, 6300), late_step)).sags == ()


def test_the_interval_is_wider_where_fewer_pulls_have_been() -> None:
    result = visit((5150, 6300, 6300))
    group = result.kept
    assert group is not None
    share = result.mean_half_width(group) / group.mean
    inside, beyond = share[result.grid == 4000][0], share[result.grid == 6000][0]
    assert beyond >= inside
    assert group.levelled.widening()[result.grid == 6000][0] >= 1


def test_a_gain_is_measured_over_the_range_that_each_side_has_been_through() -> None:
    found = measured(visit((5150, 6300)), visit((6300, 6300), scale=1.05))
    assert isinstance(found, Measured)
    assert found.range[1] >= 6200
    assert float(np.mean(found.mean_to / found.mean_from)) == pytest.approx(1.05, abs=0.004)
    assert math.isfinite(found.power.half_width_95)


@pytest.mark.parametrize(("channel", "unit"), [("lambda", 1.0), ("air_fuel_ratio", 14.7)])
def test_one_recording_is_one_change_whatever_the_instrument_shows(
    channel: str, unit: float
) -> None:
    files = {}
    for i in range(3):
        rng = np.random.default_rng(i)
        n = np.arange(2000, 6301, 10.0)
        power = 100 * dipped(n) * (1 + 0.001 * rng.standard_normal(n.size))
        bump = 0.5 * (1 + np.cos(np.pi * np.clip((n - 5000) / 300, -1, 1)))
        mixture = (0.85 + 0.03 * bump + 0.001 * rng.standard_normal(n.size)) * unit
        rows = zip((n - 2000) / 430, n, power, mixture, strict=True)
        body = [",".join(f"{v:.6f}" for v in row) for row in rows]
        files[f"p{i}.csv"] = "\n".join(["t,n,P,m", *body, ""]).encode()
    columns = [("time", "t", "s"), ("engine_speed", "n", "rpm"), ("power", "P", "kW")]
    table = [{"channel": c, "name": name, "unit": u} for c, name, u in columns]
    table.append({"channel": channel, "name": "m"})
    values = changed(SESSION, {}) | {"column": table, "pull": [{"file": name} for name in files]}
    result = sheet("visit", Session.model_validate(values), files, make_configuration())
    (sag,) = sags(result).sags
    (beside,) = sag.beside
    assert beside.channel == "lambda"
    assert beside.change == pytest.approx(0.03, rel=0.15)
    assert beside.level == pytest.approx(0.88, abs=0.01)

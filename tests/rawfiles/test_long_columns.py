"""A column that is too long to be held is thinned; the runs that it shows are the same."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from buildlog.rawfiles import runs


def parts(values: np.ndarray, size: int = 997) -> Iterator[np.ndarray]:
    for at in range(0, len(values), size):
        yield values[at : at + size]


CLOCK = np.concatenate([np.arange(n) / 100 for n in (4000, 3001, 5007)])
NUMBER = np.repeat([1.0, 2.0, 3.0], [4000, 3001, 5007])


@pytest.mark.parametrize(("values", "rule"), [(CLOCK, runs.by_restart), (NUMBER, runs.by_number)])
def test_runs_of_a_thinned_column_are_those_of_the_whole(
    values: np.ndarray, rule: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert callable(rule)
    whole = rule(values)
    assert [run.rows for run in whole] == [(1, 4000), (4001, 7001), (7002, 12008)]
    monkeypatch.setattr(runs, "MOST_HELD", 500)
    found, rows = runs.thinned(parts(values), len(values), steps=True)
    assert len(found) < 600
    assert (values[rows] == found).all()
    assert [runs.in_rows(run, rows).rows for run in rule(found)] == [run.rows for run in whole]


def test_a_column_that_can_be_held_is_whole() -> None:
    found, rows = runs.thinned(parts(CLOCK), len(CLOCK), steps=True)
    assert (found == CLOCK).all()
    assert (rows == np.arange(len(CLOCK))).all()

"""Limits of reading raw files, to the last one."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from buildlog.errors import InvalidInput
from buildlog.rawfiles import fixed, mdf, runs

LONG = runs.SHORTEST


def numbers(lengths: Sequence[int]) -> np.ndarray:
    return np.repeat(np.arange(1.0, len(lengths) + 1), lengths)


def clock(lengths: Sequence[int]) -> np.ndarray:
    return np.concatenate([np.linspace(0.0, 9.0, length) for length in lengths])


def by_breaks(lengths: Sequence[int]) -> list[runs.RunProposal]:
    return runs.one_after_another(np.cumsum(lengths)[:-1].tolist(), sum(lengths))


SPLITS: list[Callable[[Sequence[int]], list[runs.RunProposal]]] = [
    lambda lengths: runs.by_number(numbers(lengths)),
    lambda lengths: runs.by_restart(clock(lengths)),
    lambda lengths: runs.by_sweep(clock(lengths)),
    by_breaks,
]


@pytest.mark.parametrize("split", SPLITS)
@pytest.mark.parametrize("count", [1, 2, 3, 60, 61])
def test_as_many_runs_as_a_file_may_hold(
    split: Callable[[Sequence[int]], list[runs.RunProposal]], count: int
) -> None:
    """More than sixty "runs" in one file are noise; one is no split."""
    found = split([LONG + 5] * count)
    assert len(found) == (count if 2 <= count <= 60 else 0)
    assert [run.label for run in found] == [f"run {n}" for n in range(1, len(found) + 1)]


@pytest.mark.parametrize("split", [SPLITS[0], by_breaks])
def test_a_run_as_short_as_one_may_be(
    split: Callable[[Sequence[int]], list[runs.RunProposal]],
) -> None:
    assert [run.rows for run in split([LONG, LONG - 1, LONG])] == [
        (1, LONG),
        (2 * LONG, 3 * LONG - 1),
    ]


@pytest.mark.parametrize(("digits", "read"), [(1, True), (15, True), (16, False)])
def test_numbers_that_a_double_holds_exactly(digits: int, read: bool) -> None:
    """IEEE 754: every decimal number of 15 digits survives a double, not every one of 16."""
    lines = "".join(f"{n * 10 ** (digits - 1)},1\n" for n in range(1, 10)).encode()
    signs = np.frombuffer(lines, np.uint8)
    ends = fixed.cell_ends(signs, ",", 2)
    assert ends is not None
    starts = np.concatenate([[0], ends.ravel()[:-1] + 1]).reshape(ends.shape)
    found = fixed._fixed(signs, starts[:, 0], ends[:, 0], ord("."))
    assert (found is not None) == read
    if found is not None:
        assert found.tolist() == [n * 10.0 ** (digits - 1) for n in range(1, 10)]


def test_an_mdf_file_as_large_as_one_may_be() -> None:
    mdf._refuse_huge(20_000_000)
    with pytest.raises(InvalidInput, match="20,000,001 values"):
        mdf._refuse_huge(20_000_001)

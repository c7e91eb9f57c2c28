"""The band against engines that somebody else wrote: coverage and bias reported, learning tested.

The standard run takes a tenth of the 400 stages; `-m long` runs all of them. Run with `-s` to
see the report. Coverage is a finding about two models, not a promise about real cars: the
bounds here only catch a band that has become useless or a learning that makes things worse.
"""

from __future__ import annotations

import numpy as np
import pytest

from buildlog.physics.learning import BackTest, Result, back_test, in_sequence
from tests.independent_model import STAGE_KINDS
from tests.simulated_stages import Stage, simulated

SEED = 20261125


def stages(count: int) -> list[Stage]:
    rng = np.random.default_rng(SEED)
    return [simulated(rng, STAGE_KINDS[i % len(STAGE_KINDS)]) for i in range(count)]


def by_kind(found: list[Stage]) -> dict[str, list[Result]]:
    """Results by what learning keeps apart: the compressor's kind, or none."""
    kinds: dict[str, list[Result]] = {}
    for stage in found:
        charger = stage.kind.removesuffix(" uncooled").removesuffix(" cooled")
        unblown = charger in ("exhaust", "compression", "fuel")
        kinds.setdefault("naturally-aspirated" if unblown else charger, []).append(stage.result)
    return kinds


def told(name: str, found: BackTest) -> None:
    print(
        f"{name:<28} {found.count:>4} stages  inside {found.inside:.0%}  bias {found.bias:+.3f}"
        f"  width {found.width:.3f}"
    )


def check(found: list[Stage], coverage: float) -> None:
    """Report everything; hold the bounds."""
    print()
    for name in STAGE_KINDS:
        told(name, back_test([s.result for s in found if s.kind == name]))
    raw = back_test([s.result for s in found])
    told("all", raw)
    assert raw.inside > coverage
    assert abs(raw.bias) < 0.05
    learnt_all: list[Result] = []
    for name, results in by_kind(found).items():
        one, learnt = back_test(results), back_test(in_sequence(results))
        told(f"{name}, raw", one)
        told(f"{name}, learning", learnt)
        assert learnt.width <= one.width
        if abs(one.bias) > 0.02:
            assert abs(learnt.bias) < abs(one.bias)
        else:  # a small bias that does not grow with the stage has nothing that can be learnt
            assert abs(learnt.bias) < abs(one.bias) + 0.002
        learnt_all += in_sequence(results)
    assert back_test(learnt_all).inside > coverage


def test_the_band_against_an_independent_engine() -> None:
    check(stages(45), coverage=0.55)


@pytest.mark.long
def test_the_band_against_400_independent_stages() -> None:
    check(stages(400), coverage=0.60)

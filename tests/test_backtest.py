"""The band against engines that somebody else wrote: coverage and bias reported, learning tested.

Slow by nature, so only `-m long` runs it: 45 stages, or all 400. Run with `-s` to
see the report. Coverage is a finding about two models, not a promise about real cars.
"""

from __future__ import annotations

import numpy as np
import pytest

from buildlog.physics.engines.learning import BackTest, Result, back_test, in_sequence
from tests.independent_model import STAGE_KINDS
from tests.simulated_stages import Stage, simulated

SEED = 20261125
UNBLOWN = ("exhaust", "compression", "fuel")


def stages(count: int) -> list[Stage]:
    rng = np.random.default_rng(SEED)
    return [simulated(rng, STAGE_KINDS[i % len(STAGE_KINDS)]) for i in range(count)]


def by_kind(found: list[Stage]) -> dict[str, list[Result]]:
    """Results by what learning keeps apart, the compressor's kind or none; and the unblown ones
    once more as they come out if nobody declares how alcohol cools the charge."""
    kinds: dict[str, list[Result]] = {}
    for stage in found:
        charger = stage.kind.removesuffix(" uncooled").removesuffix(" cooled")
        if charger not in UNBLOWN:
            kinds.setdefault(charger, []).append(stage.result)
            continue
        kinds.setdefault("naturally-aspirated", []).append(stage.result)
        kinds.setdefault("the same, undeclared", []).append(stage.undeclared or stage.result)
    return kinds


def told(name: str, found: BackTest) -> None:
    print(
        f"{name:<28} {found.count:>4} stages  inside {found.inside:.0%}  bias {found.bias:+.3f}"
        f"  width {found.width:.3f}"
    )


def check_learning(name: str, results: list[Result], coverage: float) -> None:
    """A bias beyond chance is cut; one within chance (two standard errors) stays within it.
    In both cases the band does not widen and still holds its share."""
    raw, learnt = back_test(results), back_test(in_sequence(results))
    assert raw.bias_error is not None
    chance = 2 * raw.bias_error
    told(f"{name}, raw", raw)
    told(f"{name}, learning", learnt)
    beyond = abs(raw.bias) > chance
    print(f"{'':<28} a bias of {chance:.3f} could be chance: {'beyond' if beyond else 'within'}")
    assert learnt.width <= raw.width
    assert learnt.inside > coverage
    assert abs(learnt.bias) < (abs(raw.bias) if beyond else chance)


def check(found: list[Stage], overall: float, each: float) -> None:
    """Report everything; hold the bounds."""
    print()
    for name in STAGE_KINDS:
        told(name, back_test([s.result for s in found if s.kind == name]))
    told("fuel, cooling undeclared", back_test([s.undeclared for s in found if s.undeclared]))
    raw = back_test([s.result for s in found])
    told("all", raw)
    assert raw.inside > overall
    assert abs(raw.bias) < 0.05
    for name, results in by_kind(found).items():
        check_learning(name, results, each)


@pytest.mark.long
def test_the_band_against_an_independent_engine() -> None:
    check(stages(45), overall=0.70, each=0.50)


@pytest.mark.long
def test_the_band_against_400_independent_stages() -> None:
    found = stages(400)
    check(found, overall=0.80, each=0.70)
    for name in STAGE_KINDS:
        assert back_test([s.result for s in found if s.kind == name]).inside > 0.70, name

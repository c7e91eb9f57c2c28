"""Does the band hold what it promises? 400 simulated stages, truth from the model itself.

Scatter of the dyno is left out here: it would only widen both sides. Truth from a model that
somebody else wrote is a separate test; this one only shows that the band is what it says.
"""

from dataclasses import replace

import numpy as np
import pytest
from prediction_cases import ANCHOR, PRIORS, UNBOOSTED, mild

from buildlog.physics.engines.ensemble import predict
from buildlog.physics.engines.learning import Result, back_test, in_sequence
from buildlog.physics.engines.model import STRUCTURES
from buildlog.physics.engines.state import Centrifugal, PositiveDisplacement, Turbocharger
from buildlog.physics.numerics.constants import PSI

STAGES = [
    *(mild(psi) for psi in (4, 5, 6, 7, 8, 10)),
    *(mild(psi, cooler=None) for psi in (5, 7)),
    *(mild(induction=Centrifugal(psi * PSI, 628.0)) for psi in (5, 8)),
    *(mild(induction=Turbocharger(psi * PSI)) for psi in (5, 7, 9, 12)),
    *(
        mild(induction=PositiveDisplacement(displacement_per_rev=0.9e-3, drive_ratio=x))
        for x in (1.7, 1.85)
    ),
    mild(compression_ratio=8.5),
    mild(lambda_full_load=0.80, spark_retard=0.12),
    replace(UNBOOSTED, compression_ratio=10.2, exhaust_resistance=0.6),
    replace(UNBOOSTED, displacement=2.8e-3),
]
TRUTHS = 20


@pytest.fixture(scope="module")
def simulated():
    """For each stage its band, and truths (structures, TRUTHS) from draws of another seed."""
    pairs = []
    for number, stage in enumerate(STAGES):
        band = _run(stage, 1024, 1).peak_power_ratio
        other = _run(stage, 256, 1000 + number).ratios.reshape(len(STRUCTURES), -1)
        chosen = np.random.default_rng(number).choice(256, TRUTHS, replace=False)
        pairs.append((band, other[:, chosen]))
    return pairs


def _run(stage, draws, seed):
    return predict(ANCHOR, UNBOOSTED, stage, PRIORS, groups=[], draws=draws, seed=seed)


def _results(simulated, structure=None):
    random = np.random.default_rng(7)
    return [
        Result(
            truth[random.integers(3) if structure is None else structure, i], b.p10, b.p50, b.p90, 0
        )
        for i in range(TRUTHS)
        for b, truth in simulated
    ]


def test_truth_from_the_mixture_is_covered(simulated):
    report = back_test(_results(simulated))
    assert report.count == 400
    assert report.inside == pytest.approx(0.80, abs=0.05)
    assert abs(report.bias) < 0.02


@pytest.mark.parametrize("number", range(len(STRUCTURES)))
def test_truth_from_one_structure_is_mostly_covered(simulated, number):
    report = back_test(_results(simulated, number))
    print(f"{STRUCTURES[number].name}: {report}")
    assert report.inside >= 0.65


@pytest.mark.parametrize("number", range(len(STRUCTURES)))
def test_learning_cuts_the_bias_and_does_not_widen(simulated, number):
    results = _results(simulated, number)
    raw, learnt = back_test(results), back_test(in_sequence(results))
    print(f"{STRUCTURES[number].name}: raw {raw}, learnt {learnt}")
    assert abs(raw.bias) > 0.01
    assert abs(learnt.bias) < 0.6 * abs(raw.bias)
    assert learnt.width <= raw.width
    assert learnt.inside > 0.65

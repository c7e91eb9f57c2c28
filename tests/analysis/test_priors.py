"""The priors file, and what a ledger may put in its place."""

import subprocess
import sys

import numpy as np
import pytest

from buildlog.analysis.car import priors
from buildlog.errors import InvalidInput
from buildlog.physics.engines import state

OWN = """
[cooler_effectiveness]
unit = "%"
distribution = "uniform"
low = 70
high = 78
source = "logged on this car, 2026-05-02"
"""


def test_every_prior_is_complete():
    for name, prior in priors.load().items():
        assert prior.meaning.endswith("."), name
        assert prior.source, name
        low, high = prior.allowed
        assert low < high, name
        assert prior.quantile(0.1) < prior.quantile(0.5) < prior.quantile(0.9), name


def test_every_default_passes_the_check_that_replacements_must():
    for prior in priors.load().values():
        priors._check(prior, prior)


def test_every_gap_of_the_model_has_a_prior():
    records = (
        state.Anchor,
        state.EngineState,
        state.PositiveDisplacement,
        state.Centrifugal,
        state.Turbocharger,
        state.CoolerState,
    )
    needed = {name for record in records for name in state._prior_names(record).values()}
    assert needed <= set(priors.load())


def test_quantiles_agree_with_the_draws():
    u = np.array([0.05, 0.5, 0.95])
    for prior in priors.load().values():
        drawn = prior.uncertain().distribution.ppf(u)
        assert drawn == pytest.approx([prior.quantile(p) for p in u], rel=1e-9)


def test_units_are_brought_to_si():
    known = priors.load()
    assert known["driveline_loss"].si == pytest.approx((0.12, 0.15, 0.20))
    assert known["exhaust_back_pressure"].si == pytest.approx((10e3, 22e3, 40e3))
    assert known["spark_retard_boosted"].si[1] == pytest.approx(0.122173, abs=1e-6)


def test_a_ledgers_own_prior_takes_the_place():
    own = priors.load(OWN)["cooler_effectiveness"]
    assert own.own
    assert own.si == pytest.approx((0.70, 0.78))
    assert own.source == "logged on this car, 2026-05-02"
    assert own.meaning == priors.load()["cooler_effectiveness"].meaning
    assert not priors.load()["cooler_effectiveness"].own


@pytest.mark.parametrize(
    ("text", "words", "where"),
    [
        ("[cooler_efectiveness]\nunit = '%'", "there is no prior", "line 1"),
        ("cooler_effectiveness = 0.7", "must be a table", "line 1"),
        (OWN.replace("source =", "# "), "has no source", "line 2"),
        (OWN.replace('source = "logged on this car, 2026-05-02"', 'source = " "'), "no source", ""),
        (OWN.replace('"%"', '"kPa"'), "needs a unit of ratio", "line 2"),
        (OWN.replace('unit = "%"', ""), "needs a unit of ratio", "line 2"),
        (OWN.replace("uniform", "bell"), "needs a distribution", "line 2"),
        (OWN.replace("low = 70", 'low = "70 %"'), "must be a plain number", "line 2"),
        (OWN.replace("low = 70", "low = true"), "must be a plain number", "line 2"),
        (OWN.replace("low = 70", "low = nan"), "must be a plain number", "line 2"),
        (OWN.replace("low = 70", ""), '"low" must be', "line 2"),
        (OWN.replace("low = 70", "low = 80"), "low < high", "line 2"),
        (OWN.replace("high = 78", "high = 178"), "leaves 0 to 1", "line 2"),
        (OWN.replace("low = 70", "low = 70\nmodel = 3"), '"model" is not a key', "line 2"),
        ("[cooler_effectiveness", "this is not TOML", "priors.toml"),
    ],
)
def test_faults_are_named_with_their_place(text, words, where):
    with pytest.raises(InvalidInput) as caught:
        priors.load(text)
    assert words in str(caught.value)
    assert where in (caught.value.where or "")
    assert "priors.toml" in (caught.value.where or "")


def test_a_slip_in_a_name_gets_the_nearest():
    with pytest.raises(InvalidInput) as caught:
        priors.load("[cooler_efectiveness]\n")
    assert caught.value.hint == "did you mean cooler_effectiveness?"


def test_reading_priors_needs_no_numpy():
    code = (
        "import sys; from buildlog.analysis.car import priors; "
        "priors.load()['driveline_loss'].quantile(0.9); print('numpy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"

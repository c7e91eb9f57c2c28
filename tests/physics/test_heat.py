"""Heat to coolant and charge cooler, by energy balance."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.gases import heat
from buildlog.physics.gases.charge import compressor_power, cooled_temperature
from buildlog.physics.gases.fuels import FUELS

LHV = FUELS["gasoline"].lower_heating_value


def test_work_and_heat_never_exceed_the_fuel_s_energy() -> None:
    """100 kW at 28 % and 25 % to the coolant leave 47 % for the exhaust and the rest."""
    fuel = 100e3 / (0.28 * LHV)
    coolant = heat.to_coolant(fuel, LHV, 0.25)
    assert coolant == pytest.approx(100e3 * 0.25 / 0.28)
    assert fuel * LHV - 100e3 - coolant == pytest.approx(fuel * LHV * 0.47)


@given(st.floats(0.02, 0.6), st.floats(310, 450), st.floats(0.1, 0.95))
def test_a_cooler_takes_out_its_share_of_what_the_compressor_put_in(
    flow: float, hot: float, effectiveness: float
) -> None:
    """With coolant at the compressor's inlet temperature: effectiveness times its power."""
    inlet = 300.0
    cold = cooled_temperature(hot, effectiveness, inlet)
    put_in = compressor_power(flow, inlet, hot, 1.0)
    assert heat.from_charge(flow, hot, cold) == pytest.approx(effectiveness * put_in, rel=1e-6)


def test_a_warm_cooler_takes_nothing_out() -> None:
    assert heat.from_charge(0.1, 300.0, 308.0) == 0.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: heat.to_coolant(0.01, LHV, 1.5), "share"),
        (lambda: heat.to_coolant(-0.01, LHV, 0.2), "fuel flow"),
        (lambda: heat.to_coolant(0.01, 0.0, 0.2), "heating value"),
        (lambda: heat.from_charge(0.1, 0.0, 330.0), "temperature in"),
        (lambda: heat.from_charge(-0.1, 320.0, 310.0), "air flow"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()

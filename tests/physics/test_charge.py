"""Checks of compressors, coolers and drives against published figures."""

from math import pi

import pytest

from buildlog.physics.gases import charge
from buildlog.physics.numerics.constants import ATM, PSI


def test_supercharged_textbook_example():
    """Problem 19.1 of a solved-problems companion to an IC-engine textbook (inputs opened;
    the companion's own script divides by temperature where R belongs, so the answer is
    computed from the stated inputs with R = 287 J/(kg K)): +58.17 %.
    """
    swept = 3e-3 * 3600 / 60 / 2
    indicated_per_flow = 12e3 * 60  # 12 kW for each m^3/min of free air
    unblown = 0.82 * swept * indicated_per_flow
    hot = charge.compressor_temperature(300.0, 1.6, 0.70)
    cold = hot - 5.6
    more_charge = swept * (1.6 * 300 / cold) * indicated_per_flow - unblown
    more_induction = 0.6e5 * swept
    flow = 1.6e5 * swept / (287.0 * cold)
    drive = charge.compressor_power(flow, 300.0, hot, 1.0)
    gain = (more_charge + more_induction - drive) / unblown
    assert hot == pytest.approx(361.60, abs=0.01)
    assert gain == pytest.approx(0.5817, abs=0.0005)


@pytest.mark.data
@pytest.mark.parametrize("ratio", [1.2, 1.47632, 1.7, 2.0])
def test_isentropic_outlet_against_coolprop(ratio):
    """Real air of CoolProp, isentropic from 298.15 K and one atmosphere: within 0.5 K."""
    coolprop = pytest.importorskip("CoolProp.CoolProp", reason="extra [data]: CoolProp")
    entropy = coolprop.PropsSI("S", "T", 298.15, "P", ATM, "Air")
    real = coolprop.PropsSI("T", "S", entropy, "P", ATM * ratio, "Air")
    assert charge.compressor_temperature(298.15, ratio, 1.0) == pytest.approx(real, abs=0.5)


@pytest.mark.data
def test_compressor_temperature_against_fluids():
    """isentropic_T_rise_compression of the general-purpose library fluids: identical."""
    fluids = pytest.importorskip("fluids", reason="extra [data]: fluids")
    other = fluids.isentropic_T_rise_compression(298.15, ATM, 1.5 * ATM, 1.4, 0.6)
    assert charge.compressor_temperature(298.15, 1.5, 0.6) == pytest.approx(other, rel=1e-12)


def test_isentropic_exponent_against_the_published_worked_figures():
    """298.15 K, PR 1.47632 (7 psi): computed beforehand with another script, eta 0.5 to 0.75."""
    table = {0.50: 95.2, 0.55: 88.8, 0.60: 83.5, 0.65: 79.0, 0.70: 75.1, 0.75: 71.8}
    ratio = (ATM + 7 * PSI) / ATM
    for efficiency, celsius in table.items():
        hot = charge.compressor_temperature(298.15, ratio, efficiency)
        assert hot - 273.15 == pytest.approx(celsius, abs=0.06)


TEXTBOOK_KW, TEXTBOOK_K = 58.0, 569.5


def test_a_textbook_compressor_with_an_efficiency():
    """Cengel and Boles, Thermodynamics, the example on the effect of efficiency on a compressor
    (from memory; the next test works it out): 0.2 kg/s of air from 285 K, pressure ratio 8, 80 %:
    58.0 kW, 569.5 K by tables of real air. Constant heats are 0.3 % and 5 K off at this ratio, far
    beyond a car's."""
    hot = charge.compressor_temperature(285.0, 8.0, 0.80)
    assert charge.compressor_power(0.2, 285.0, hot, 1.0) == pytest.approx(
        TEXTBOOK_KW * 1e3, rel=0.005
    )
    assert hot == pytest.approx(TEXTBOOK_K, abs=6)


@pytest.mark.data
def test_the_textbook_compressor_is_that_of_real_air():
    """The example's figures against CoolProp's real air: within 0.2 % and 0.5 K."""
    coolprop = pytest.importorskip("CoolProp.CoolProp", reason="extra [data]: CoolProp")
    before = coolprop.PropsSI("H", "T", 285.0, "P", 100e3, "Air")
    entropy = coolprop.PropsSI("S", "T", 285.0, "P", 100e3, "Air")
    rise = (coolprop.PropsSI("H", "S", entropy, "P", 800e3, "Air") - before) / 0.80
    assert 0.2 * rise == pytest.approx(TEXTBOOK_KW * 1e3, rel=2e-3)
    hot = coolprop.PropsSI("T", "H", before + rise, "P", 800e3, "Air")
    assert hot == pytest.approx(TEXTBOOK_K, abs=0.5)


@pytest.mark.parametrize(("pressure", "temperature"), [(14.7, 519.0), (11.8, 540.0), (14.2, 460.0)])
def test_a_choked_throat_passes_one_corrected_flow_in_any_air(pressure, temperature):
    """Fliegner's formula, 0.532 A p/sqrt(T) lb/s with in^2, psi and degrees Rankine (any text on
    gas dynamics, from memory; the next test works it out); in SI 0.0404 A p/sqrt(T)."""
    area, pound, inch = 1.5, 0.45359237, 0.0254
    flow = 0.532 * area * pressure / temperature**0.5 * pound
    found = charge.corrected_flow(flow, temperature / 1.8, pressure * PSI)
    assert found == pytest.approx(0.0404 * area * inch**2 * 100e3 / 298.15**0.5, rel=2e-3)


@pytest.mark.data
def test_the_formula_of_a_choked_throat_is_that_of_the_critical_state():
    """Pressure and temperature of the throat by the library fluids, the speed of sound there."""
    fluids = pytest.importorskip("fluids", reason="extra [data]: fluids")
    pressure, temperature, gas, k = 100e3, 300.0, 287.05, 1.4
    throat = fluids.T_critical_flow(temperature, k)
    density = fluids.P_critical_flow(pressure, k) / (gas * throat)
    flow = density * (k * gas * throat) ** 0.5
    assert flow * temperature**0.5 / pressure == pytest.approx(0.0404, abs=5e-5)
    customary = 0.532 * 0.45359237 / 1.8**0.5 / (PSI * 0.0254**2)  # kg, K, Pa and m^2 put in
    assert customary == pytest.approx(0.0404, abs=1e-4)


RATIOS, FLOWS = (1.5, 2.0, 2.5), (0.04, 0.06, 0.09)


@pytest.mark.parametrize(
    ("ratio", "flow"), [(1.5, 0.04), (1.75, 0.05), (2.0, 0.06), (2.2, 0.072), (2.5, 0.09)]
)
def test_a_surge_line_is_read_between_its_points(ratio, flow):
    assert charge.surge_flow(ratio, RATIOS, FLOWS) == pytest.approx(flow)


@pytest.mark.parametrize(
    ("ratio", "ratios", "flows", "words"),
    [
        (1.49, RATIOS, FLOWS, "1.5 to 2.5 only"),
        (2.51, RATIOS, FLOWS, "1.5 to 2.5 only"),
        (1.6, RATIOS, FLOWS[:2], "flow for each"),
        (1.6, (1.5, 1.5), (0.1, 0.2), "must rise"),
    ],
)
def test_beyond_a_surge_line_nothing_is_read(ratio, ratios, flows, words):
    with pytest.raises(ValueError, match=words):
        charge.surge_flow(ratio, ratios, flows)


def test_no_pressure_rise_no_heat():
    assert charge.compressor_temperature(300.0, 1.0, 0.6) == 300.0


def test_cooler_ends():
    assert charge.cooled_temperature(360.0, 0.0, 310.0) == 360.0
    assert charge.cooled_temperature(360.0, 1.0, 310.0) == 310.0


@pytest.mark.parametrize(
    ("blower", "ratio", "psi"), [(0.90, 1.85, 6.615), (0.90, 2.10, 9.543), (1.05, 2.10, 13.565)]
)
def test_matching_conserves_mass(blower, ratio, psi):
    """Computed beforehand with another script; and what the blower moves the engine swallows."""
    swallowed = 2.593548e-3 / 2 * 0.90
    swept = blower * 1e-3 * ratio
    p3 = charge.matched_pressure(swept, swallowed, 99e3, 298.15, 0.97, 0.62, 0.65, 313.15, 0.0)
    assert (p3 - 99e3) / PSI == pytest.approx(psi, abs=0.002)
    t3 = charge.cooled_temperature(
        charge.compressor_temperature(298.15, p3 / 99e3, 0.62), 0.65, 313.15
    )
    delivered = swept * charge.blower_delivery(0.97, p3 / 99e3) * 99e3 / 298.15
    assert delivered == pytest.approx(swallowed * p3 / t3, rel=1e-6)


def test_pulley_change_agrees_with_matching():
    """A smaller blower pulley: 1.85 to 2.10 turns takes 6.615 to 9.543 psi (as above)."""
    common = {
        "inlet_pressure": 99e3,
        "at_zero_rise": 0.97,
        "efficiency": 0.62,
        "effectiveness": 0.65,
        "coolant": 313.15,
    }
    after = charge.boost_after_drive_change(6.615 * PSI, 1.85, 2.10, **common)
    assert after / PSI == pytest.approx(9.543, abs=0.01)
    assert charge.boost_after_drive_change(6.615 * PSI, 1.85, 1.85, **common) == pytest.approx(
        6.615 * PSI, rel=1e-6
    )


def test_pulleys_must_exist():
    with pytest.raises(ValueError, match="pulley diameters must be above zero"):
        charge.drive_ratio(0.15, 0.0)
    with pytest.raises(ValueError, match="drive ratios must be above zero"):
        charge.boost_after_drive_change(4e4, 0.0, 2.0)


def test_air_flow_example():
    """Computed beforehand with another script: 99 kPa, 25 degC, 0.85, 5600 rpm, 2.594 L."""
    flow = charge.air_flow(0.85, 99e3, 298.15, 2.593548e-3, 5600 * pi / 30)
    assert flow == pytest.approx(0.119004, abs=1e-6)


def test_centrifugal_quarter_boost_at_half_speed_and_held_beyond():
    assert charge.centrifugal_boost(300.0, 60e3, 600.0) == pytest.approx(15e3)
    assert charge.centrifugal_boost(700.0, 60e3, 600.0) == pytest.approx(60e3)


def test_turbocharger_holds_its_target():
    assert charge.turbocharger_boost(500.0, 60e3, 300.0) == 60e3
    assert charge.turbocharger_boost(150.0, 60e3, 300.0) == pytest.approx(15e3)

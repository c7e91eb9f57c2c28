"""Unit sizes against scipy.constants and pint, general-purpose reference libraries."""

import pint
import pytest
import scipy.constants as reference

from buildlog.physics.numerics import constants

MOLAR_MASS_OF_AIR = 0.0289647  # [kg/mol], dry: ISO 2533 (from memory), CoolProp's to 5e-5 (below)


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (constants.PSI, reference.psi),
        (constants.INCH, reference.inch),
        (constants.POUND, reference.pound),
        (constants.LBF, reference.lbf),
        (constants.G0, reference.g),
        (constants.ATM, reference.atm),
        (constants.ZERO_CELSIUS, reference.zero_Celsius),
    ],
)
def test_sizes_agree_with_scipy(ours: float, theirs: float) -> None:
    assert ours == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(
    ("ours", "unit", "si", "tolerance"),
    [
        # pint takes the density of mercury as 13 595.1 kg/m^3 too, but through mmHg.
        (constants.INHG, "inHg", "pascal", 1e-7),
    ],
)
def test_sizes_agree_with_pint(ours: float, unit: str, si: str, tolerance: float) -> None:
    theirs = pint.UnitRegistry().Quantity(1, unit).to(si).magnitude
    assert ours == pytest.approx(theirs, rel=tolerance)


def test_gas_properties_are_consistent() -> None:
    """c_p - c_v = R and the handbook values agree with each other to a quarter of a per cent."""
    from_heat = constants.CP_AIR * (1 - 1 / constants.GAMMA_AIR)
    assert from_heat == pytest.approx(constants.R_AIR, rel=2.5e-3)
    molar = reference.R / MOLAR_MASS_OF_AIR
    assert molar == pytest.approx(constants.R_AIR, rel=1e-4)


@pytest.mark.data
def test_the_molar_mass_of_dry_air_is_coolprop_s() -> None:
    coolprop = pytest.importorskip("CoolProp.CoolProp", reason="extra [data]: CoolProp")
    assert coolprop.PropsSI("M", "Air") == pytest.approx(MOLAR_MASS_OF_AIR, rel=5e-5)

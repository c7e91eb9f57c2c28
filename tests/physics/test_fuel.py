"""Fuels and blends against the DOE table, Cantera's figures and the package chemicals."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.gases import fuels

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "fuel-properties.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("name", "row"), TABLE["fuels"].items())
def test_fuels_are_those_of_the_doe_table(name: str, row: list[float]) -> None:
    ours = fuels.FUELS[name]
    # Gallons per pound are printed to four figures, so that density holds to 1e-4 kg/L.
    assert ours.density / 1e3 == pytest.approx(row[0], abs=1e-4)
    assert ours.lower_heating_value / 1e6 == pytest.approx(row[1], abs=0.006)
    assert ours.stoichiometric_ratio == row[2]
    assert "DOE" in ours.source


@pytest.mark.parametrize(("x", "ratio", "heat", "density", "per_air"), TABLE["blends"]["rows"])
def test_blends(x: float, ratio: float, heat: float, density: float, per_air: float) -> None:
    ours = fuels.blend(x)
    assert ours.stoichiometric_ratio == pytest.approx(ratio, abs=6e-4)
    assert ours.lower_heating_value / 1e6 == pytest.approx(heat, abs=0.006)
    assert ours.density / 1e3 == pytest.approx(density, abs=6e-5)
    assert ours.energy_per_air / 1e6 == pytest.approx(per_air, abs=6e-4)


@pytest.mark.parametrize(("name", "c", "h", "o", "ratio"), TABLE["stoichiometric"]["rows"])
def test_stoichiometric_ratio_of_cantera(
    name: str, c: float, h: float, o: float, ratio: float
) -> None:
    tolerance = TABLE["stoichiometric"]["tolerance"]
    assert fuels.stoichiometric_ratio(c, h, o) == pytest.approx(ratio, rel=tolerance), name


@pytest.mark.parametrize(("c", "h", "o", "ratio"), TABLE["emission_rule_fuels"]["rows"])
def test_stoichiometric_ratio_of_the_emission_rules(
    c: float, h: float, o: float, ratio: float
) -> None:
    tolerance = TABLE["emission_rule_fuels"]["tolerance"]
    assert fuels.stoichiometric_ratio(c, h, o) == pytest.approx(ratio, rel=tolerance)


EMISSION_RULE_FUELS = {tuple(row[:3]): row[3] for row in TABLE["emission_rule_fuels"]["rows"]}


@pytest.mark.data
@pytest.mark.parametrize(
    ("c", "h", "o"), [(8, 18, 0), (2, 6, 1), (1, 4, 1), (7, 8, 0), *EMISSION_RULE_FUELS]
)
def test_oxygen_demand_of_the_package_chemicals(c: float, h: float, o: float) -> None:
    chemicals = pytest.importorskip("chemicals", reason="the extra [data] is not installed")
    atoms = {"C": c, "H": h, "O": o}
    oxygen = -chemicals.combustion.combustion_stoichiometry(atoms)["O2"]
    ratio = oxygen / 0.20946 * 28.9647 / chemicals.elements.molecular_weight(atoms)
    assert fuels.stoichiometric_ratio(c, h, o) == pytest.approx(ratio, rel=1e-4)
    recalled = EMISSION_RULE_FUELS.get((c, h, o), ratio)
    assert recalled == pytest.approx(ratio, rel=5e-4)


@pytest.mark.data
@pytest.mark.parametrize(
    ("name", "c", "h", "o"),
    [("C8H18,isooctane", 8, 18, 0), ("C2H5OH", 2, 6, 1), ("CH3OH", 1, 4, 1), ("C7H8", 7, 8, 0)],
)
def test_stoichiometric_ratio_against_cantera(name: str, c: int, h: int, o: int) -> None:
    # Cantera's own balance over its copy of the NASA species, with argon in the air.
    cantera = pytest.importorskip("cantera", reason="the extra [data] is not installed")
    wanted = {name, "O2", "N2", "Ar", "CO2", "H2O"}
    species = cantera.Species.list_from_file("nasa_gas.yaml")
    gas = cantera.Solution(thermo="ideal-gas", species=[s for s in species if s.name in wanted])
    ratio = gas.stoich_air_fuel_ratio({name: 1.0}, {"O2": 0.20946, "N2": 0.78084, "Ar": 0.0097})
    assert fuels.stoichiometric_ratio(c, h, o) == pytest.approx(ratio, rel=5e-4)


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_ethanol_needs_more_fuel(x: float, y: float) -> None:
    less, more = (fuels.blend(z) for z in sorted((x, y)))
    assert less.stoichiometric_ratio >= more.stoichiometric_ratio
    assert less.lower_heating_value >= more.lower_heating_value
    assert less.density <= more.density


@given(st.floats(0.1, 20), st.floats(0, 40), st.floats(0.1, 10))
def test_ratio_is_per_mass_not_per_mole(c: float, h: float, k: float) -> None:
    ours = fuels.stoichiometric_ratio(c, h)
    assert fuels.stoichiometric_ratio(k * c, k * h) == pytest.approx(ours, rel=1e-9)


@pytest.mark.parametrize("x", [-0.01, 1.01, 85, float("nan")])
def test_a_share_outside_0_to_1_is_refused(x: float) -> None:
    with pytest.raises(ValueError, match="must be 0 to 1"):
        fuels.blend(x)


@pytest.mark.parametrize("atoms", [(0, 2, 1), (1, 0, 2), (-1, 8, 0)])
def test_what_does_not_burn_is_refused(atoms: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="not a fuel"):
        fuels.stoichiometric_ratio(*atoms)


@pytest.mark.data
@pytest.mark.parametrize(("name", "fluid"), [("ethanol", "Ethanol"), ("methanol", "Methanol")])
def test_latent_heat_of_coolprop(name: str, fluid: str) -> None:
    """Open library CoolProp 8.0, at 25 degC: 0.9207 and 1.1690 MJ/kg."""
    props = pytest.importorskip("CoolProp.CoolProp", reason="the extra [data] is not installed")
    vapour, liquid = (props.PropsSI("H", "T", 298.15, "Q", q, fluid) for q in (1, 0))
    assert fuels.FUELS[name].latent_heat == pytest.approx(vapour - liquid, rel=2e-3)


@pytest.mark.data
def test_latent_heat_of_the_crc_table() -> None:
    """Heat of evaporation at 298 K of the CRC Handbook's table as the package chemicals carries
    it (secondary): ethanol 42.32 kJ/mol; gasoline lies between two of its parts."""
    chemicals = pytest.importorskip("chemicals", reason="the extra [data] is not installed")
    table = chemicals.phase_change.Hvap_data_CRC["Hvap298"]
    molar = table["64-17-5"]
    assert fuels.FUELS["ethanol"].latent_heat == pytest.approx(molar / 0.0460684, rel=4e-3)
    assert molar == pytest.approx(fuels._MOLAR_LATENT_HEAT, rel=2e-3)
    isooctane, toluene = table["540-84-1"] / 0.114229, table["108-88-3"] / 0.092138
    assert isooctane < fuels.FUELS["gasoline"].latent_heat < toluene


def test_latent_heats_as_printed() -> None:
    """The figures that the two libraries above give, so that the plain run checks them, too."""
    assert fuels.FUELS["ethanol"].latent_heat == pytest.approx(0.9207e6, rel=1e-3)
    assert fuels.FUELS["methanol"].latent_heat == pytest.approx(1.1690e6, rel=1e-3)


@given(st.floats(0, 1), st.floats(0.7, 1.1), st.floats(0, 1))
def test_what_evaporation_takes_from_the_air_is_the_latent_heat(
    x: float, lambda_: float, share: float
) -> None:
    """Conservation: cp dT per kg of air is the latent heat of the fuel that evaporated in it."""
    blend = fuels.blend(x)
    cooling = fuels.evaporation_cooling(blend, lambda_, share)
    evaporated = share / (lambda_ * blend.stoichiometric_ratio)
    assert cooling * 1005 == pytest.approx(evaporated * blend.latent_heat, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("share", [0.2, 0.5, 1.0])
def test_room_of_ethanol_vapour_by_its_moles(share: float) -> None:
    """A second way: moles of ethanol beside moles of air, whatever the heat did."""
    evaporated = share / (0.85 * 9.0)
    beside = (evaporated / 0.0460684) / (1 / 0.0289647)
    cooling = fuels.evaporation_cooling(fuels.FUELS["ethanol"], 0.85, share)
    assert fuels.room_left_by_vapour(cooling) == pytest.approx(1 / (1 + beside), rel=1e-3)
    assert fuels.room_left_by_vapour(0.0) == 1.0


@pytest.mark.parametrize(("lambda_", "share"), [(0.0, 0.5), (0.9, -0.1), (0.9, 1.1)])
def test_nonsense_evaporation_is_refused(lambda_: float, share: float) -> None:
    with pytest.raises(ValueError, match="lambda must be above zero"):
        fuels.evaporation_cooling(fuels.FUELS["ethanol"], lambda_, share)

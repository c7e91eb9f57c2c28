"""Moist air against the regulation's examples, steam tables and psychrometric libraries."""

import tomllib
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.gases import air
from buildlog.physics.numerics.constants import ATM, ZERO_CELSIUS

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "saturation-pressure.toml").read_text(encoding="utf-8"))

kelvins = st.floats(ZERO_CELSIUS - 20, ZERO_CELSIUS + 50)
humidities = st.floats(0, 1)


def test_published_examples_of_40_cfr_1065_645() -> None:
    printed = TABLE["examples"]
    absolute = printed["absolute_pressure"]
    saturated = air.saturation_pressure(ZERO_CELSIUS + 9.5) / 1e3
    assert saturated == pytest.approx(printed["saturation_at_9_5"], abs=5e-7)
    assert saturated / absolute == pytest.approx(printed["mole_fraction"], abs=5e-7)
    at_20 = ZERO_CELSIUS + 20
    assert air.saturation_pressure(at_20) / 1e3 == pytest.approx(
        printed["saturation_at_20"], abs=5e-5
    )
    vapour = air.vapour_pressure(at_20, printed["humidity_at_20"]) / 1e3
    assert vapour / absolute == pytest.approx(printed["mole_fraction"], abs=5e-7)
    assert air.vapour_pressure(at_20, 0.3961) == pytest.approx(
        printed["vapour_pascal_at_39_61"], abs=5e-4
    )


@pytest.mark.parametrize(("celsius", "ours", "wexler", "steam"), TABLE["table"]["rows"])
def test_saturation_pressure_table(
    celsius: float, ours: float, wexler: float, steam: float
) -> None:
    kilopascal = air.saturation_pressure(ZERO_CELSIUS + celsius) / 1e3
    assert kilopascal == pytest.approx(ours, abs=5e-6)
    assert kilopascal == pytest.approx(wexler, rel=1.5e-3)
    assert kilopascal == pytest.approx(steam, rel=1.5e-3)


@pytest.mark.parametrize(("celsius", "pascal"), TABLE["handbook"]["rows"])
def test_ashrae_handbook_points(celsius: float, pascal: float) -> None:
    assert air.saturation_pressure(ZERO_CELSIUS + celsius) == pytest.approx(pascal, rel=1.5e-3)


def test_wexlers_triple_point() -> None:
    pascal = TABLE["wexler_triple_point"]["pascal"]
    assert air.saturation_pressure(273.16) == pytest.approx(pascal, rel=1.5e-3)


@pytest.mark.parametrize("celsius", range(1, 61))
def test_saturation_pressure_of_psychrolib(celsius: int) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    theirs = psychrolib.GetSatVapPres(float(celsius))
    assert air.saturation_pressure(ZERO_CELSIUS + celsius) == pytest.approx(theirs, rel=1.5e-3)


@pytest.mark.data
@pytest.mark.filterwarnings("ignore")  # the library's own import warns; only values matter
def test_saturation_pressure_of_the_steam_tables() -> None:
    iapws = pytest.importorskip("iapws.iapws97", reason="the extra [data] is not installed")
    for kelvin in np.linspace(273.16, 333.15, 50):
        theirs = iapws._PSat_T(kelvin) * 1e6
        assert air.saturation_pressure(float(kelvin)) == pytest.approx(theirs, rel=1.5e-3)


@pytest.mark.parametrize(("celsius", "kpa", "vapour", "density"), TABLE["density"]["rows"])
def test_moist_density(celsius: float, kpa: float, vapour: float, density: float) -> None:
    kelvin = ZERO_CELSIUS + celsius
    humidity = vapour * 1e3 / air.saturation_pressure(kelvin)
    assert air.moist_density(kpa * 1e3, kelvin, humidity) == pytest.approx(density, abs=6e-6)


@given(st.floats(ZERO_CELSIUS + 1, ZERO_CELSIUS + 45), humidities, st.floats(70e3, 105e3))
def test_moist_density_of_psychrolib(kelvin: float, humidity: float, pressure: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    celsius = kelvin - ZERO_CELSIUS
    ratio = psychrolib.GetHumRatioFromRelHum(celsius, humidity, pressure)
    theirs = psychrolib.GetMoistAirDensity(celsius, ratio, pressure)
    assert air.moist_density(pressure, kelvin, humidity) == pytest.approx(theirs, rel=1e-3)


@pytest.mark.parametrize(("metres", "kpa"), TABLE["standard_atmosphere"]["rows"])
def test_standard_atmosphere(metres: float, kpa: float) -> None:
    """The printed values take a geometric height, 0.02 % apart at 3000 m."""
    ours = air.standard_atmosphere_pressure(metres) / 1e3
    assert ours == pytest.approx(kpa, rel=3e-4)


def test_standard_atmosphere_of_the_us_standard_atmosphere_1976() -> None:
    """Geopotential altitude of the tropopause (fluids 1.3.1, ATMOSPHERE_1976: 22,632.1 Pa)."""
    assert air.standard_atmosphere_pressure(11_000) == pytest.approx(22_632.1, rel=1e-4)
    assert air.standard_atmosphere_pressure(0) == ATM


@given(kelvins, humidities, st.floats(1e-6, 0.5), st.floats(70e3, 105e3))
def test_water_makes_air_lighter(
    kelvin: float, humidity: float, more: float, pressure: float
) -> None:
    wetter = min(1.0, humidity + more)
    light, heavy = (air.moist_density(pressure, kelvin, h) for h in (wetter, humidity))
    assert light <= heavy


@given(st.lists(st.tuples(kelvins, st.floats(0.05, 1)), min_size=1, max_size=10))
def test_arrays_give_what_scalars_give(rows: list[tuple[float, float]]) -> None:
    kelvin, humidity = np.array(rows).T
    expected = [air.vapour_pressure(t, h) for t, h in rows]
    np.testing.assert_allclose(air.vapour_pressure(kelvin, humidity), expected, rtol=1e-12)
    expected = [air.moist_density(98e3, t, h) for t, h in rows]
    np.testing.assert_allclose(air.moist_density(98e3, kelvin, humidity), expected, rtol=1e-12)


@given(st.floats(250, 3500), st.floats(99.5e3, 103.5e3))
def test_a_reading_reduced_to_sea_level_is_caught(altitude: float, reduced: float) -> None:
    """From 250 m up, for all ordinary weather of 101 hPa and more."""
    station = reduced * air.standard_atmosphere_pressure(altitude) / ATM
    check = air.sea_level_reading_suspected(station, altitude)
    assert not check
    assert check.possible
    assert check.low < check.expected < check.high
    if reduced > 101_000:
        assert air.sea_level_reading_suspected(reduced, altitude).suspected


def test_no_reading_near_sea_level_is_suspected() -> None:
    assert not air.sea_level_reading_suspected(101_325, 20)
    assert not air.sea_level_reading_suspected(103_000, 50)


def test_what_weather_cannot_make_is_said_to_be_impossible() -> None:
    assert not air.sea_level_reading_suspected(75_000, 100).possible
    assert not air.sea_level_reading_suspected(101_325, 2000).possible
    assert air.sea_level_reading_suspected(80_000, 2000).possible


def test_ranges_of_weather_at_sea_level() -> None:
    """940 to 1050 hPa at all, 980 to 1040 hPa usually: common practice, no source."""
    check = air.sea_level_reading_suspected(ATM, 0)
    assert (check.low, check.high) == (94_000, 105_000)
    for pressure, suspected in ((97_900, False), (98_100, True), (103_900, True), (104_100, False)):
        assert air.sea_level_reading_suspected(pressure, 2000).suspected is suspected


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: air.saturation_pressure(20.0), "temperature"),
        (lambda: air.saturation_pressure(223.1), "temperature"),
        (lambda: air.saturation_pressure(373.2), "temperature"),
        (lambda: air.saturation_pressure(float("nan")), "temperature"),
        (lambda: air.saturation_pressure(np.array([293.15, 20.0])), "temperature"),
        (lambda: air.vapour_pressure(293.15, 60), "a fraction"),
        (lambda: air.vapour_pressure(293.15, -0.1), "a fraction"),
        (lambda: air.standard_atmosphere_pressure(20_000), "altitude"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()

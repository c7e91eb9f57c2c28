"""Units: the table is pint's, the grammar is strict, and sameness is physical."""

from __future__ import annotations

import contextlib
import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from buildlog import in_pint, units
from buildlog.errors import InvalidInput
from buildlog.unit_table import ROWS, SI
from buildlog.units import DIMENSIONS, Quantity, parse, same, system_of, texts, unit
from tests import generate_unit_table
from tests.counting import lines_run

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def test_the_table_is_what_its_generator_makes_from_pint() -> None:
    assert [*ROWS] == generate_unit_table.rows()
    assert generate_unit_table.TARGET.read_text(encoding="utf-8") == generate_unit_table.source()


def test_no_text_is_twice_in_one_dimension() -> None:
    keys = [(row[0], row[1]) for row in ROWS]
    assert len(keys) == len(set(keys))


# scipy.constants takes its values from CODATA and NIST SP 811 (as its documentation says).
@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("in", "length", constants.inch),
        ("ft", "length", constants.foot),
        ("mi", "length", constants.mile),
        ("thou", "length", constants.mil),
        ("psi", "pressure", constants.psi),
        ("bar", "pressure", constants.bar),
        ("mmHg", "pressure", constants.mmHg),
        ("hp", "power", constants.hp),
        ("lb", "mass", constants.lb),
        ("t", "mass", constants.metric_ton),
        ("lbf", "force", constants.lbf),
        ("kgf", "force", constants.kgf),
        ("mph", "speed", constants.mph),
        ("km/h", "speed", constants.kmh),
        ("g0", "acceleration", constants.g),
        ("deg", "angle", constants.degree),
        ("min", "time", constants.minute),
        ("h", "time", constants.hour),
        ("l", "volume", constants.liter),
        ("cu in", "volume", constants.inch**3),
        ("cfm", "volume_flow", constants.foot**3 / constants.minute),
        ("lb*ft", "torque", constants.lbf * constants.foot),
        ("lb/h", "mass_flow", constants.lb / constants.hour),
        ("rpm", "angular_speed", 2 * math.pi / 60),
        # 75 kgf*m/s, the definition of metric horsepower (pint 0.25.3)
        ("PS", "power", 75 * constants.g),
    ],
)
def test_factors_agree_with_scipy(text: str, dimension: str, value: float) -> None:
    # 2e-7: pint's millimetre of mercury is the conventional one, scipy's is 1/760 atm.
    tolerance = 2e-7 if text == "mmHg" else 2e-8
    assert unit(text, dimension).factor == pytest.approx(value, rel=tolerance)


@pytest.mark.parametrize("reading", [-40.0, 0.0, 77.0, 212.0])
def test_temperatures_agree_with_scipy(reading: float) -> None:
    for text, scale in (("degC", "Celsius"), ("degF", "Fahrenheit"), ("K", "Kelvin")):
        want = constants.convert_temperature(reading, scale, "Kelvin")
        assert unit(text, "temperature").to_si(reading) == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(("text", "dimension"), [row[:2] for row in ROWS if row[0] != "1"])
def test_a_quantity_of_pints_is_the_same_one(text: str, dimension: str) -> None:
    quantity = parse(f"12.5 {text}", (dimension,))
    if dimension == "sound_level":
        with pytest.raises(InvalidInput, match="no unit in pint"):
            quantity.to_pint()
        return
    one = quantity.to_pint()
    si = generate_unit_table.DIMENSIONS[dimension][0]
    assert one.magnitude == 12.5
    assert one.to(si).magnitude == pytest.approx(quantity.si, rel=1e-12)
    assert quantity.to(text) == pytest.approx(12.5, rel=1e-12)


def test_a_quantity_belongs_to_the_application_registry_or_the_one_given() -> None:
    bore = parse("90.2 mm", ("length",))
    assert (bore.to_pint() + pint.application_registry.Quantity(1, "mm")).magnitude == 91.2
    assert (bore.to_pint(REGISTRY) + REGISTRY.Quantity(1, "mm")).magnitude == 91.2
    with pytest.raises(ValueError, match="different registries"):
        bore.to_pint(REGISTRY) + bore.to_pint()


def test_an_application_registry_that_is_set_later_counts() -> None:
    before = pint.application_registry.get()
    own: pint.UnitRegistry[float] = pint.UnitRegistry()
    pint.set_application_registry(own)
    try:
        assert parse("90.2 mm", ("length",)).to_pint() == own.Quantity(90.2, "mm")
    finally:
        pint.set_application_registry(before)


@pytest.mark.parametrize("unit", ["psi", "yard", "", "in/1", "mm; import os"])
def test_a_conversion_to_no_unit_of_its_kind_says_so(unit: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        parse("90.2 mm", ("length",)).to(unit)
    assert refused.value.hint


NAMED = [
    ("furlong", "length", "furlong is a length: write it in m, km, ft or mi"),
    ("furlongs", "length", "furlongs is a length: write it in m, km, ft or mi"),
    ("stone", "mass", "stone is a mass: write it in kg, lb, g or t"),
    ("bushel", "volume", "bushel is a volume: write it in cc, l, m^3 or cu in"),
    ("knot", "speed", "knot is a speed: write it in mph, km/h, m/s or ft/min"),
    ("acre", "area", "acre is an area: write it in cm^2, m^2, in^2 or ft^2"),
    ("torr", "pressure", "torr is a pressure: write it in"),
    ("fortnight", "time", "fortnight is a time: write it in"),
    ("nautical mile", "length", "nautical mile is a length: write it in m, km, ft or mi"),
    ("slug", "mass", "slug is a mass: write it in"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "dimension", "hint"), NAMED)
def test_a_unit_that_pint_knows_by_name_is_told_what_to_write(text, dimension, hint) -> None:
    with pytest.raises(InvalidInput) as refused:
        parse(f"3 {text}", (dimension,))
    assert refused.value.what == f'the unit "{text}" is not known here'
    assert (refused.value.hint or "").startswith(hint)
    with pytest.raises(InvalidInput) as other:
        parse(f"3 {text}", ("voltage",))
    assert other.value.what == f'"{text}" measures {dimension}, not voltage'


@given(st.text(max_size=25) | st.sampled_from([*REGISTRY, "Quantity", "parse_units", "sqrt(m)"]))
def test_no_text_from_outside_reaches_pints_parser(text: str) -> None:
    """Only pint's own names do; whatever is typed, the answer is an error or a quantity."""
    seen: list[str] = []

    class Watched:
        def __init__(self, registry: object) -> None:
            self._registry = registry

        def __getattr__(self, name: str) -> object:
            return getattr(self._registry, name)

        def Unit(self, name: str) -> object:
            seen.append(name)
            return self._registry.Unit(name)

        def Quantity(self, number: float, name: str) -> object:
            seen.append(name)
            return self._registry.Quantity(number, name)

    own, in_pint._own = in_pint._own, lambda: Watched(own())
    in_pint._measured_by.cache_clear()
    try:
        with contextlib.suppress(InvalidInput):
            parse(f"3 {text}", ("length",))
    finally:
        in_pint._own = own
        in_pint._measured_by.cache_clear()
    assert set(seen) <= in_pint._names() | set(SI.values())


def test_a_name_of_the_registry_that_is_no_unit_is_not_taken_for_one() -> None:
    for name in set(dir(REGISTRY)) - set(REGISTRY):
        assert in_pint.measured_by(name) is None


def _words(text: str, dimension: str) -> tuple[str, str]:
    si, known = generate_unit_table.DIMENSIONS[dimension]
    return known[text], si


@given(
    row=st.sampled_from([row for row in ROWS if row[1] != "sound_level" and row[0] != "1"]),
    number=st.decimals(-9999, 9999, places=3),
    gap=st.sampled_from(["", " ", "  "]),
)
def test_reading_equals_pints_conversion(row: tuple[str, str, float, float], number, gap) -> None:
    text, dimension = row[:2]
    words, si = _words(text, dimension)
    read = parse(f"{number}{gap}{text}", (dimension,))
    if words.startswith("deg"):
        want = REGISTRY.Quantity(float(number), words).to(si).magnitude
    else:
        want = (float(number) * REGISTRY.parse_expression(words)).to(si).magnitude
    assert read.si == pytest.approx(want, rel=1e-12, abs=1e-12)
    assert read.text == f"{number}{gap}{text}"
    assert read.dimension == dimension


@given(row=st.sampled_from(ROWS), si=st.floats(-1e6, 1e6))
def test_there_and_back(row: tuple[str, str, float, float], si: float) -> None:
    there = unit(row[0], row[1])
    # The largest number on the way decides how much the round trip can lose.
    size = max(abs(si), abs(there.offset), 1e-9)
    assert there.to_si(there.from_si(si)) == pytest.approx(si, abs=1e-12 * size)


# What was typed, for which dimension, the sentence, and what the hint has to hold.
REFUSED = [
    ("90,2 mm", "length", '"90,2 mm" is not a number and a unit', '"90.2 mm"'),
    ("88,41 mi", "length", '"88,41 mi" is not a number and a unit', '"88.41 mi"'),
    ("1,013 kPa", "pressure", '"1,013 kPa" is not a number and a unit', '"1013 kPa"'),
    ("12.5:1", "ratio", '"12.5:1" is not a number and a unit', "plain number: 12.5"),
    ("1 1/4 in", "length", '"1 1/4 in" is not a number and a unit', '"1.25 in"'),
    ("9**9**9 m", "length", '"9**9**9 m" is not a number and a unit', 'write "12.3 mm"'),
    ("nan mm", "length", '"nan mm" is not a number and a unit', 'write "12.3 mm"'),
    ("unknown", "length", '"unknown" is not a number and a unit', "leave the field out"),
    ("5 KW", "power", '"KW" is not a unit of power', "write kW: capitals matter in units"),
    ("950", "length", '"950" needs a unit', 'write "950 mm"'),
    ("30 Nm", "power", '"Nm" measures torque, not power', "known here: hp, PS, kW, W"),
    ("0.85 lambda", "ratio", '"lambda" is not a unit of ratio', "without a unit"),
]


@pytest.mark.parametrize(("text", "dimension", "sentence", "hint"), REFUSED)
def test_what_people_type_gets_a_helpful_answer(text, dimension, sentence, hint) -> None:
    with pytest.raises(InvalidInput) as refused:
        parse(text, (dimension,))
    assert refused.value.what == sentence
    assert hint in (refused.value.hint or "")


def test_a_decimal_comma_names_both_readings() -> None:
    """Of what is not printed by the thousand, 1,013 may be thousands or a decimal comma: both are
    offered, neither is taken."""
    with pytest.raises(InvalidInput) as refused:
        parse("1,013 kPa", ("pressure",))
    assert '"1013 kPa"' in str(refused.value.hint)
    assert '"1.013 kPa"' in str(refused.value.hint)


HOSTILE = [
    "", " ", "mm", "-", "+", ".", "e5 mm", "1e mm", "1e999 mm", "1e400 m", "--1 mm", "+-1 mm",
    "1..2 mm", "1.2.3 mm", "1_000 mm", "0x10 mm", "0b1 mm", "1j mm", "inf mm", "-inf mm", "NaN mm",
    "1 mm mm", "1 mm 2 mm", "1 mm + 2 mm", "2*3 mm", "1/2 mm", "(1) mm", "1 mm;", "1 mm\n2 mm",
    "1\u00a0\u00a0 furlong", "\u0661\u0662 mm", "\uff11 mm", "1 \u00b5m", "1 m\u200bm", "1 mm\x00",
    "1 \u202emm", "9**9**9 m", "9**9**9**9 W", "1e5**9 m", "1 m**2", "1 meter", "1 MM",
    "1 Mm", "1 nm", "1 pm", "1 pint", "1 bushel", "1 degc", "1 celsius", "1 deg C", "1 ohm",
    "1 import os", "__import__('os') mm", "{0} mm", "%s mm", "1 %s", "$(ls) mm", "1 mm # c",
    "'1 mm'", '"1 mm"', "1 [mm]", "1mm/", "1 /mm", "1 mm^", "1 mm^3/2", "9" * 40 + " mm",
    "1" + " " * 60 + "mm", "1\nmm", "1 mm\n", "a" * 10_000, "1 " + "m" * 10_000, "(" * 5000,
    "9" * 100_000 + " mm",
    "1" + "0" * 16 + " mm", "1." + "0" * 16 + "1 mm",
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=[ascii(text)[:30] for text in HOSTILE])
def test_hostile_text_is_refused_at_once(text: str) -> None:
    """What it costs does not depend on how long the text is."""
    with contextlib.suppress(InvalidInput):
        parse("1 furlong", ("length",))  # what is loaded for the first refusal
    with lines_run() as run, pytest.raises(InvalidInput) as refused:
        parse(text, ("length",))
    assert run.number < 15_000
    assert refused.value.hint
    assert len(str(refused.value)) < 1000


def test_enough_hostile_texts() -> None:
    assert len(HOSTILE) + len(REFUSED) >= 60


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    for dimension in ("length", "pressure", "ratio"):
        try:
            read = parse(text, (dimension,))
        except InvalidInput:
            continue
        assert math.isfinite(read.si)
        assert read.unit.text in text


def length(text: str) -> Quantity:
    return parse(text, ("length",))


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ("3.551 in", "90.2 mm", True),  # 3.551 in = 90.1954 mm
        ("90.2 mm", "90.5 mm", False),
        ("90.2 mm", "90.20 mm", True),
        ("90.2 mm", "90.21 mm", False),  # one unit: the numbers decide
        ("25.4 mm", "1 in", True),
        ("1.0 in", "26 mm", True),  # 26 mm was written to the millimetre, 1.0 in to 2.5 mm
        ("1.00 in", "26 mm", False),
        ("88412 mi", "142285 km", True),
        ("88412 mi", "142288 km", False),
    ],
)
def test_same_within_the_written_precision(one: str, other: str, alike: bool) -> None:
    assert same(length(one), length(other)) is alike
    assert same(length(other), length(one)) is alike


def test_one_unit_under_two_spellings() -> None:
    assert same(parse("200 N*m", ("torque",)), parse("200.0 Nm", ("torque",)))
    assert not same(parse("200 N*m", ("torque",)), parse("200.1 Nm", ("torque",)))


def test_a_temperature_is_no_difference_of_temperatures() -> None:
    level = parse("20 degC", ("temperature",))
    step = parse("20 degC", ("temperature_difference",))
    assert level.si == pytest.approx(293.15)
    assert step.si == pytest.approx(20.0)
    assert not same(level, step)


quantities = st.builds(
    lambda number, row: parse(f"{number} {row[0]}", (row[1],)),
    st.decimals(0, 200, places=2),
    st.sampled_from([row for row in ROWS if row[1] in {"length", "temperature"}]),
)


@given(quantities, quantities)
def test_same_is_symmetric(one: Quantity, other: Quantity) -> None:
    assert same(one, other) is same(other, one)
    assert same(one, one)


def test_the_field_decides_between_dimensions() -> None:
    assert parse("12 K", ("temperature_difference", "temperature")).dimension == "temperature"
    with pytest.raises(InvalidInput, match='"bar" measures pressure, not volume flow or mass flow'):
        parse("12 bar", ("volume_flow", "mass_flow"))


def test_every_dimension_has_a_unit_to_offer() -> None:
    for dimension in DIMENSIONS:
        assert texts((dimension,)), dimension
    assert "1" not in texts(("ratio",))


def test_no_hint_contradicts_the_table() -> None:
    """A hint stands for a text that the table does not hold, but for those of another dimension."""
    known = {row[0] for row in ROWS}
    assert {text for text in units.hints() if text in known} <= {"g"}


def test_the_authors_system_is_read_from_the_newest_odometer() -> None:
    assert system_of(["88412 mi", "1 km"]) == "us"
    assert system_of([None, "unknown", "5 km", "1 mi"]) == "metric"
    assert system_of([]) == "metric"
    assert system_of([], "us") == "us"


# What people write: the trade's own spellings (common practice, no source), the value in SI by
# scipy.constants. A place that the field does not mean is refused with what to type.
SPOKEN = [
    ("452 bhp", "power", "crank", 452 * constants.hp),
    ("452 HP", "power", None, 452 * constants.hp),
    ("380 whp", "power", "wheels", 380 * constants.hp),
    ("280 wkW", "power", "wheels", 280e3),
    ("120 cv", "power", "crank", 120 * 75 * constants.g),
    ("120 ch", "power", "crank", 120 * 75 * constants.g),
    ("120 pk", "power", None, 120 * 75 * constants.g),
    ("120 hk", "power", None, 120 * 75 * constants.g),
    ("9 psig", "pressure", "gauge", 9 * constants.psi),
    ("0.8 barg", "pressure", "gauge", 0.8e5),
    ("14.5 psia", "pressure", "absolute", 14.5 * constants.psi),
    ("2.5 bara", "pressure", "absolute", 2.5e5),
    *(
        (f"330 {text}", "torque", None, 330 * constants.lbf * constants.foot)
        for text in (
            "ft-lbs", "ft-lb", "lb-ft", "lbs-ft", "ft lb", "ft lbs", "lb ft", "lb·ft", "lbf·ft",
            "lbft", "ftlb", "ftlbs", "ft-lbf", "ft.lbs", "lb*ft", "ft·lb", "ft·lbf", "ft.lb",
            "ft lbf", "lbf ft", "lbf-ft", "lbs ft", "lb.ft",
        )
    ),
    *(
        (f"90 {text}", "torque", None, 90 * constants.lbf * constants.inch)
        for text in ("in-lbs", "in-lb", "in lbs", "in lb", "lb-in", "lb·in", "lb*in",
                     "in·lb", "in-lbf", "lbf-in", "lbf·in", "lb in")
    ),
    *((f"110 {text}", "torque", None, 110.0) for text in ("N·m", "N-m", "N m", "Nm", "N*m")),
    *(
        (f"11 {text}", "torque", None, 11 * constants.g)
        for text in (
            "mkg", "mkp", "kpm", "kgf·m", "kgf-m", "kgf m", "kg·m", "kg-m", "kgm", "kgf*m",
        )
    ),
    *((f"90 {text}", "angle", None, constants.pi / 2) for text in ("°", "degree", "degrees")),
    *((f"212 {text}", "temperature", None, 373.15) for text in ("F", "deg F", "degF", "°F")),
    *((f"100 {text}", "temperature", None, 373.15) for text in ("C", "deg C", "degC", "°C")),
    *((f"302 {text}", "volume", None, 302 * constants.inch**3) for text in ("cid", "CID", "ci")),
    ("302 cu.in.", "volume", None, 302 * constants.inch**3),
    ("1998 ccm", "volume", None, 1998e-6),
    ("3400 lbs", "mass", None, 3400 * constants.lb),
    ("1500 kgs", "mass", None, 1500.0),
    *(
        (f"60 {text}", "mass_flow", None, 60 * constants.lb / constants.hour)
        for text in ("lbs/hr", "lbs/h", "pph", "lb/hr")
    ),
    ("255 lph", "volume_flow", None, 255 * constants.liter / constants.hour),
    ("12 lpm", "volume_flow", None, 12 * constants.liter / constants.minute),
    ("100 kph", "speed", None, 100 * constants.kmh),
    ("100 kmh", "speed", None, 100 * constants.kmh),
    ("60 MPH", "speed", None, 60 * constants.mph),
    ("89541 miles", "length", None, 89541 * constants.mile),
    ("89,541 mi", "length", None, 89541 * constants.mile),
    ("1,234,567.5 km", "length", None, 1234567.5e3),
    ("5,600 rpm", "angular_speed", None, 5600 * constants.pi / 30),
    ("3,053 lb", "mass", None, 3053 * constants.lb),
    ("9 kg·m^2", "inertia", None, 9.0),
    ("9 lb·ft^2", "inertia", None, 9 * constants.lb * constants.foot**2),
    ("9 lb·in^2", "inertia", None, 9 * constants.lb * constants.inch**2),
    ("1 mile", "length", None, constants.mile),
    ("3.5 inch", "length", None, 3.5 * constants.inch),
    ("3.5 inches", "length", None, 3.5 * constants.inch),
    ("9 feet", "length", None, 9 * constants.foot),
    ("2 mil", "length", None, 2 * constants.mil),
    ("2 mils", "length", None, 2 * constants.mil),
    ("6200 RPM", "angular_speed", None, 6200 * constants.pi / 30),
    ("6200 U/min", "angular_speed", None, 6200 * constants.pi / 30),
    ("90 foot-pounds", "torque", None, 90 * constants.lbf * constants.foot),
    ("90 foot pounds", "torque", None, 90 * constants.lbf * constants.foot),
    ("90 pound-feet", "torque", None, 90 * constants.lbf * constants.foot),
    ("90 pound feet", "torque", None, 90 * constants.lbf * constants.foot),
    ("90 inch-pounds", "torque", None, 90 * constants.lbf * constants.inch),
    ("90 inch pounds", "torque", None, 90 * constants.lbf * constants.inch),
    ("90 newton meters", "torque", None, 90 * 1.0),
    ("90 newton metres", "torque", None, 90 * 1.0),
    ("30 PSI", "pressure", None, 30 * constants.psi),
    ("30 BAR", "pressure", None, 30 * 1e5),
    ("30 kpa", "pressure", None, 30 * 1e3),
    ("30 mb", "pressure", None, 30 * 100.0),
    ("30 in Hg", "pressure", None, 30 * 3386.389),
    ("30 kg/cm2", "pressure", None, 30 * constants.g * 1e4),
    ("150 horsepower", "power", None, 150 * constants.hp),
    ("150 kw", "power", None, 150 * 1e3),
    ("1200 pounds", "mass", None, 1200 * constants.lb),
    ("1200 lbs.", "mass", None, 1200 * constants.lb),
    ("1200 tonnes", "mass", None, 1200 * 1e3),
    ("4 sec", "time", None, 4 * 1.0),
    ("4 secs", "time", None, 4 * 1.0),
    ("4 seconds", "time", None, 4 * 1.0),
    ("4 minutes", "time", None, 4 * 60.0),
    ("2 liter", "volume", None, 2 * 1e-3),
    ("2 liters", "volume", None, 2 * 1e-3),
    ("2 litre", "volume", None, 2 * 1e-3),
    ("2 litres", "volume", None, 2 * 1e-3),
    ("2 cubic inches", "volume", None, 2 * constants.inch**3),
    ("2 cm3", "volume", None, 2 * 1e-6),
    ("255 ccm/min", "volume_flow", None, 255 * 1e-6 / 60),
    ("255 L/hr", "volume_flow", None, 255 * 1e-3 / 3600),
    ("255 l/hr", "volume_flow", None, 255 * 1e-3 / 3600),
    ("255 CFM", "volume_flow", None, 255 * constants.foot**3 / 60),
    ("12 volts", "voltage", None, 12 * 1.0),
    ("500 kms", "length", None, 500 * 1e3),
    ("500 KM", "length", None, 500 * 1e3),
    ("500 in.", "length", None, 500 * constants.inch),
    ("6200 rev/min", "angular_speed", None, 6200 * constants.pi / 30),
    ("6200 r/min", "angular_speed", None, 6200 * constants.pi / 30),
    ("10 per cent", "ratio", None, 10 * 0.01),
    ("10 pct", "ratio", None, 10 * 0.01),
    ("95 celsius", "temperature", None, 368.15),
    ("95 fahrenheit", "temperature", None, (95 + 459.67) / 1.8),
    ("90 km/hr", "speed", None, 90 * constants.kmh),
    ("90 degs", "angle", None, 90 * constants.pi / 180),
]  # fmt: skip


@pytest.mark.parametrize(("text", "dimension", "place", "si"), SPOKEN)
def test_what_people_write_is_taken_as_meant(
    text: str, dimension: str, place: str | None, si: float
) -> None:
    quantity = parse(text, (dimension,), place)
    assert quantity.si == pytest.approx(si, rel=1e-6)
    assert quantity.text == text  # kept as typed
    assert quantity.unit in [row for one in ROWS if (row := unit(*one[:2])).text == one[0]]
    assert units.as_written(text) == quantity


def test_every_spelling_is_spoken_once_and_none_is_a_unit_of_the_table_already() -> None:
    said = [text.partition(" ")[2] for text, *_ in SPOKEN]
    assert {one.text for one in units.spellings()} <= set(said)
    table = {row[:2] for row in ROWS}
    for one in units.spellings():
        assert (one.text, one.unit.dimension) not in table
    texts_alone = [one.text for one in units.spellings()]
    assert len(set(texts_alone)) == len(texts_alone)


@pytest.mark.parametrize(
    "spelling", [one for one in units.spellings() if one.place], ids=lambda one: one.text
)
def test_a_place_that_the_field_does_not_mean_is_refused_with_what_to_type(
    spelling: units.UnitSpelling,
) -> None:
    dimension = (spelling.unit.dimension,)
    for place in {None, "gauge", "absolute", "crank", "wheels"} - {spelling.place}:
        with pytest.raises(InvalidInput) as refused:
            parse(f"10 {spelling.text}", dimension, place)
        assert spelling.place in refused.value.what
        assert spelling.unit.text in refused.value.hint
        assert place is None or place in refused.value.hint


@pytest.mark.parametrize(
    ("text", "dimension", "typed"),
    [
        ("30 lbs", "force", "lbf"),  # a mass, by every handbook
        ("10 gal", "volume", "write L"),
        ("85 gph", "volume_flow", "write L/h"),
        ("14.7 AFR", "ratio", "lambda"),
        ("12 F", "temperature_difference", "known here"),
        ("33,5 psi", "pressure", '"33.5 psi"'),
        ("3 1/2 in", "length", "decimal"),
        ("0,850 kg", "mass", '"0.850 kg"'),
        ("89,54 mi", "length", '"89.54 mi"'),
    ],
)
def test_what_may_mean_two_things_is_refused_with_what_to_type(
    text: str, dimension: str, typed: str
) -> None:
    with pytest.raises(InvalidInput) as refused:
        parse(text, (dimension,))
    assert typed in refused.value.hint

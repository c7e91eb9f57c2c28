"""Spellings of units, header words in three languages, and the notes beside a table.

What a header means is common practice, no source; what a unit is worth is tested with the units.
"""

import pytest

from buildlog import units
from buildlog.rawfiles.aliases import SPELLINGS, spelling
from buildlog.rawfiles.cells import Dialect
from buildlog.rawfiles.channel_words import CHANNELS
from buildlog.rawfiles.guess import guess
from buildlog.rawfiles.header import read_heading
from buildlog.rawfiles.notes import conditions, metadata
from buildlog.rawfiles.propose import propose


@pytest.mark.parametrize(
    ("raw", "unit"),
    [
        ("1/min", "rpm"),
        ("U/min", "rpm"),
        ("min-1", "rpm"),
        ("min⁻¹", "rpm"),
        ("tr/min", "rpm"),
        ("[°C]", "°C"),
        ("(kPa)", "kPa"),
        ("ps", "PS"),
        ("ch", "PS"),
        ("HP", "hp"),
        ("KW", "kW"),
        ("N·m", "Nm"),
        ("lb ft", "lb-ft"),
        ("ft.lbs", "lb-ft"),
        ("Km/h", "km/h"),
        ("in Hg", "inHg"),
        ("%RH", "%"),
        ("°KW", "deg"),
        ("F", "degF"),
        ("ºC", "°C"),
        ("λ", "1"),
        ("mkg", "kgf*m"),
    ],
)
def test_spellings(raw: str, unit: str) -> None:
    found = spelling(raw)
    assert found is not None
    assert found.unit == unit


@pytest.mark.parametrize("raw", ["", "x1000 rpm", "MW", "mW", "furlong", "Nm/s", "mpa", "g/kWh"])
def test_no_spelling_is_stretched(raw: str) -> None:
    """ "MW" is not "mW": what only capitals tell apart is never folded."""
    assert spelling(raw) is None


def test_every_spelling_stands_for_a_unit_of_the_table_and_for_one_only() -> None:
    words = [word for text in SPELLINGS.values() for word in text.split()]
    assert len(words) == len(set(words))
    assert all(units.find(text) for text in SPELLINGS)


def test_gauge_absolute_wheel_and_crank_are_kept() -> None:
    found = [spelling(raw) for raw in ("psig", "bar(a)", "kPa abs", "whp", "bhp", "bar")]
    assert [(one.reference, one.place) for one in found if one] == [
        ("gauge", None),
        ("absolute", None),
        ("absolute", None),
        (None, "wheel"),
        (None, "crank"),
        (None, None),
    ]


HEADERS = [
    ("Engine RPM", "engine_speed"),
    ("Motordrehzahl [1/min]", "engine_speed"),
    ("Régime moteur (tr/min)", "engine_speed"),
    ("EngineSpeed", "engine_speed"),
    ("v [km/h]", "road_speed"),
    ("Vitesse (km/h)", "road_speed"),
    ("Roller speed (km/h)", "roller_speed"),
    ("Radleistung [PS]", "power"),
    ("Puissance (ch)", "power"),
    ("Wheel HP", "power"),
    ("Puissance perdue (ch)", "power_loss"),
    ("Couple (N.m)", "torque"),
    ("Md [Nm]", "torque"),
    ("A/F", "air_fuel_ratio"),
    ("λ", "lambda"),
    ("Boost (psig)", "boost"),
    ("Pression de suralimentation (bar)", "boost"),
    ("Ladedruck [bar abs]", "manifold_pressure"),
    ("MAP kPa", "manifold_pressure"),
    ("Zündwinkel [°KW]", "spark"),
    ("Avance à l'allumage (°)", "spark"),
    ("Klopfregelung [°KW]", "knock_retard"),
    ("Ansauglufttemp. [°C]", "intake_temperature"),
    ("Öltemperatur [°C]", "oil_temperature"),
    ("Öldruck [bar]", "oil_pressure"),
    ("Oil (bar)", "oil_pressure"),
    ("Oil (°C)", "oil_temperature"),
    ("Kühlwasser [°C]", "coolant_temperature"),
    ("Benzindruck [bar]", "fuel_pressure"),
    ("Drosselklappe [%]", "throttle"),
    ("Rapport cyclique (%)", "injector_duty"),
    ("Luftfeuchte [% r.F.]", "humidity"),
    ("Luftdruck [hPa]", "ambient_pressure"),
    ("Baro (inHg)", "ambient_pressure"),
    ("EGT 1 (°C)", "exhaust_temperature"),
    ("Gang", "gear"),
    ("Accel [m/s²]", "acceleration"),
]


@pytest.mark.parametrize(("heading", "channel"), HEADERS)
def test_header_words(heading: str, channel: str) -> None:
    assert guess(read_heading(heading)).channel == channel


@pytest.mark.parametrize(
    ("heading", "candidates"),
    [
        ("Speed", ("engine_speed", "road_speed")),
        ("Ladedruck [mbar]", ("boost", "manifold_pressure")),
        ("Wideband", ("air_fuel_ratio", "lambda")),
        ("Oil", ("oil_temperature", "oil_pressure")),
        ("Power [Nm]", ()),
        ("Lambda Soll", ()),
        ("AFR target", ()),
        ("Channel 7", ()),
        ("Marker", ()),
    ],
)
def test_what_cannot_be_decided_is_left_open(heading: str, candidates: tuple[str, ...]) -> None:
    found = guess(read_heading(heading))
    assert found.candidates == candidates
    assert found.channel is None


def test_place_and_state_are_heard() -> None:
    found = [guess(read_heading(text)) for text in ("Leistung Rad [kW]", "Engine power [PS]")]
    assert [one.place for one in found] == ["wheel", "crank"]
    found = [guess(read_heading(text)) for text in ("Corr. Power [hp]", "Uncorrected power (hp)")]
    assert [one.state for one in found] == ["corrected", "observed"]


def test_every_channel_is_found_by_its_own_name() -> None:
    for name, channel in CHANNELS.items():
        unit = units.texts(channel.dimensions)[0]
        assert guess(read_heading(name, unit)).channel == name


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("Datum;14.03.2026;;;", "date", "2026-03-14"),
        ("Date: 2026-03-14 12:03", "date", "2026-03-14"),
        ("Date: 03/14/2026", "date", "2026-03-14"),
        ("Date: 14/03/2026", "date", "2026-03-14"),
        ("Date: 03/04/2026", "date", None),
        ("Datum: gestern", "date", None),
        ("Kilometerstand: 142285 km", "odometer", "142285 km"),
        ("Kilometerstand: 142.285 km", "odometer", None),
        ("Odometer: 88 412 mi", "odometer", "88412 mi"),
        ("Gang;4", "gear", "4"),
        ("Lufttemperatur;21,5;°C;", "air.temperature", "21.5 °C"),
        ("Air temp (F): 71", "air.temperature", "71 degF"),
        ("Baro: 29.92", "air.pressure", None),
        ("Baro: 29.12 inHg", "air.pressure", "29.12 inHg"),
        ("Humidity: 45", "air.humidity", None),
        ("rel. Luftfeuchte: 45 %", "air.humidity", "45 %"),
        ("Korrektur: DIN 70020", "standard_applied", "DIN 70020"),
        ("Correction: SAE", "standard_applied", "SAE J1349"),
        ("Correction: SAE J607", "standard_applied", "60F-29.92-dry"),
        ("Correction: house blend", "standard_applied", None),
        ("Korrektur: unkorrigiert", "standard_applied", "none"),
        ("all figures corrected to SAE", "standard_applied", None),
    ],
)
def test_conditions_in_notes(text: str, field: str, value: str | None) -> None:
    (found,) = conditions([(3, text)], Dialect(";", ","))
    assert (found.field, found.value, found.line) == (field, value, 3)
    assert (found.question is None) == (value is not None)


def test_notes_without_a_key_are_kept_by_line() -> None:
    notes = [(2, "# ran well"), (9, "Max: 211 hp"), (12, "Max: 212 hp")]
    assert metadata(notes, Dialect(",")) == {
        "line 2": "ran well",
        "Max": "211 hp",
        "Max (line 12)": "212 hp",
    }


@pytest.mark.parametrize(
    ("unit", "numbers", "channel"),
    [("bar", "300 1350", "rail_pressure"), ("bar", "3.0 3.4", "fuel_pressure"),
     ("MPa", "5 18", "fuel_pressure"), ("psi", "43 44", "fuel_pressure")],
)  # fmt: skip
def test_a_rail_s_pressure_is_that_of_the_engine_that_can_have_it(
    unit: str, numbers: str, channel: str
) -> None:
    # 40 MPa is more than any spark-ignition engine's injection works at (common practice)
    low, high = numbers.split()
    text = f"RPM,Rail Pressure ({unit})\n3000,{low}\n3100,{high}\n"
    found = propose(text.encode(), "a.csv").columns[1]
    assert found.channel == channel

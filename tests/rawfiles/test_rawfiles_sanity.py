"""Values that contradict their unit: found and named, with the unit that would fit.

The everyday ranges are common practice, no source.
"""

import numpy as np
import pytest
import rawfile_examples as layouts
from rawfile_examples import RUN

from buildlog.channels import CHANNELS as SESSION_CHANNELS
from buildlog.findings import Finding
from buildlog.rawfiles.channel_words import CHANNELS
from buildlog.rawfiles.sanity import look_at
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table


def findings(channel: str, numbers: list[float], unit: str) -> list[Finding]:
    lines = ["x;value", *(f"{n};{number:.6g}" for n, number in enumerate(numbers))]
    specs = [ColumnSpec(channel, "value", unit)]
    table = read_table("\n".join(lines).encode(), "pull.csv", specs)
    return look_at(table, specs, "pull.csv")


def rising(low: float, high: float, count: int = 40) -> list[float]:
    return [float(x) for x in np.linspace(low, high, count)]


SOUND = [
    ("power", 30, 150, "kW"),
    ("power", 30, 900, "hp"),
    ("torque", 100, 350, "lb-ft"),
    ("engine_speed", 1800, 6500, "rpm"),
    ("road_speed", 40, 210, "km/h"),
    ("boost", -2, 18, "psi"),
    ("manifold_pressure", 35, 190, "kPa"),
    ("ambient_pressure", 29.2, 29.3, "inHg"),
    ("ambient_temperature", 60, 75, "degF"),
    ("coolant_temperature", 180, 195, "degF"),
    ("humidity", 30, 100, "%"),
    ("lambda", 0.78, 1.02, "1"),
    ("air_fuel_ratio", 11, 15, "1"),
    ("spark", 8, 32, "deg"),
    ("throttle", 10, 100, "%"),
]


@pytest.mark.parametrize(("channel", "low", "high", "unit"), SOUND)
def test_sound_values_raise_nothing(channel: str, low: float, high: float, unit: str) -> None:
    assert findings(channel, rising(low, high), unit) == []


WRONG = [
    ("boost", 0, 90, "psi", "kPa"),  # kPa as psi
    ("boost", 0, 14, "bar", "psi"),
    ("power", 30000, 150000, "kW", "W"),  # W as kW
    ("power", 30, 150, "W", "kW"),
    ("humidity", 100, 460, "%", "check"),
    ("humidity", 0.3, 0.46, "%", "1"),
    ("ambient_pressure", 29.8, 29.9, "kPa", "inHg"),
    ("ambient_pressure", 985, 990, "kPa", "mbar"),
    ("engine_speed", 0.8, 6.5, "rpm", "thousands"),
    ("coolant_temperature", 180, 195, "degC", "degF"),
    ("coolant_temperature", 353, 365, "degC", "K"),
    ("coolant_temperature", 80, 90, "degF", "degC"),
    ("ambient_temperature", 292, 296, "degC", "K"),
    ("throttle", 0.1, 1, "%", "1"),
    ("throttle", 10, 100, "1", "%"),
    ("manifold_pressure", 300, 1900, "kPa", "mbar"),
]


@pytest.mark.parametrize(("channel", "low", "high", "unit", "hint"), WRONG)
def test_wrong_units_are_found(channel: str, low: float, high: float, unit: str, hint: str) -> None:
    (finding,) = findings(channel, rising(low, high), unit)
    assert (finding.code, finding.severity) == ("unit-implausible", "caution")
    assert finding.hint is not None
    assert hint in finding.hint
    assert f"reaches {high:.4g} {unit}".removesuffix(" 1") in finding.text


def test_lambda_and_air_fuel_ratio_mistaken() -> None:
    assert findings("lambda", rising(11, 15), "1")[0].hint == "map it as air_fuel_ratio"
    assert findings("air_fuel_ratio", rising(0.8, 1), "1")[0].hint == "map it as lambda"


def test_gauge_and_absolute_mistaken() -> None:
    assert findings("boost", rising(98, 190), "kPa")[0].code == "pressure-reference"
    assert findings("manifold_pressure", rising(-8, 90), "kPa")[0].code == "pressure-reference"


def test_stuck_channel() -> None:
    (finding,) = findings("lambda", [0.85] * 40, "1")
    assert finding.text == 'column "value" (lambda) stands at 0.85 in all rows'
    assert findings("ambient_temperature", [20.0] * 40, "degC") == []


def test_negative_power() -> None:
    (finding,) = findings("power", [*rising(30, 150), *rising(-5, -40)], "kW")
    assert finding.text == 'column "value" (power) falls to -40 kW'
    assert findings("power", [-0.4, *rising(0, 150)], "kW") == []


def test_few_rows() -> None:
    assert [one.code for one in findings("power", [50.0], "kW")] == ["few-rows"]


def test_time_that_jumps_or_runs_backwards() -> None:
    sound = [0.05 * n for n in range(40)]
    assert findings("time", sound, "s") == []
    jump = [*sound[:20], *(t + 30 for t in sound[20:])]
    (finding,) = findings("time", jump, "s")
    assert finding.text == 'the time in "value" jumps by 30.1 s at data row 21'
    (finding,) = findings("time", [*sound[:30], *sound[:10]], "s")
    assert finding.text == 'the time in "value" runs backwards at data row 31'


def test_empty_channel() -> None:
    data = b"RPM,Power\n" + b"".join(b"%d,\n" % n for n in range(1000, 5000, 50))
    specs = [ColumnSpec("engine_speed", "RPM", "rpm"), ColumnSpec("power", "Power", "kW")]
    (finding,) = look_at(read_table(data, "p.csv", specs), specs, "p.csv")
    assert (finding.code, finding.paths) == ("channel-empty", ("column.power",))


@pytest.mark.parametrize(
    ("said", "per_kw", "off"), [("hp", layouts.PS, "+1.4"), ("kW", layouts.PS, "+36.0")]
)
def test_metric_horsepower_taken_for_another(said: str, per_kw: float, off: str) -> None:
    """hp and PS lie 1.4 % apart: only P = T * omega tells. Source: definition of both units."""
    lines = ["n,P,M", *(f"{n:.0f},{p / per_kw:.2f},{t:.2f}" for n, p, t, _ in RUN)]
    specs = [
        ColumnSpec("engine_speed", "n", "rpm"),
        ColumnSpec("power", "P", said),
        ColumnSpec("torque", "M", "Nm"),
    ]
    table = read_table("\n".join(lines).encode(), "p.csv", specs)
    (finding,) = look_at(table, specs, "p.csv")
    assert finding.text == f"power and torque times engine speed disagree by {off} %"
    assert finding.hint == "they agree with power in PS and torque in Nm; are the units right?"


def test_every_expected_range_is_of_a_known_channel_in_a_unit_of_it() -> None:
    known = 0
    for channel in CHANNELS.values():
        for unit, low, high in (*([channel.largest] if channel.largest else []), *channel.sizes):
            row = ColumnSpec(channel.name, "x", unit).unit_row()
            assert row.to_si(low) < row.to_si(high)
            known += 1
    assert known > 60


def test_channels_are_those_of_session_toml_in_their_order() -> None:
    assert list(CHANNELS) == list(SESSION_CHANNELS)

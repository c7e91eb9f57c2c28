"""A list's values as a person says them, taken as meant or asked about; none taken wrongly."""

from __future__ import annotations

import re

import pytest

from buildlog.analysis.workshop.spoken_values import is_lambda, taken
from buildlog.errors import InvalidInput
from buildlog.records.checks import ListItem
from buildlog.records.lists import SHIPPED, shipped
from buildlog.units import DIMENSIONS, parse

LAMBDA = ListItem(key="cruise", text="Lambda cruising", value=True, low="0.97", high="1.01")
# 1 psi = 6.894757 kPa, 1 bar = 100 kPa: NIST SP 811 (2008), appendix B.8.
FUEL = ListItem(key="fuel", text="Fuel pressure", value=True, unit="psi", usual="30 to 120 psi")
LIMITS = ListItem(key="rail", text="Rail", value=True, unit="psi", low="42 psi", high="45 psi")
WARM = ListItem(key="warm", text="Warm-up", value=True, unit="degC", usual="70 to 110 degC")
LEAK = ListItem(key="leak", text="Leakage", value=True, unit="percent", usual="1 to 40 percent")
ADVANCE = ListItem(key="deg", text="Advance", value=True, unit="deg", usual="-5 to 25 deg")
PLAIN = ListItem(key="number", text="Calibration number", value=True)


@pytest.mark.parametrize(
    ("said", "multiplier", "value"),
    [
        ("14.5 AFR", None, 14.5 / 14.7),
        ("14.5", None, 14.5 / 14.7),
        ("13.4:1", None, 13.4 / 14.7),
        ("13.4 : 1", None, 13.4 / 14.7),
        ("14.1 afr", 14.1, 1.0),  # a display set to another fuel
        ("9.0", 9.0, 1.0),
        ("12.9 air-fuel ratio", None, 12.9 / 14.7),
        ("0.99 lambda", None, 0.99),
        ("lambda 0.99", None, 0.99),
        ("λ 0.99", None, 0.99),
        ("0.99", None, 0.99),
        ("1", None, 1.0),
        ("1.02", None, 1.02),
    ],
)
def test_lambda_and_air_fuel_ratio_are_told_apart(
    said: str, multiplier: float | None, value: float
) -> None:
    found = taken(said, LAMBDA, multiplier)
    assert float(found.value) == pytest.approx(value, abs=5e-4)
    number = float(re.findall(r"[\d.]+", said)[0])
    assert (found.said is not None) == (number > 5)  # what was divided is said
    if found.said:
        assert f"lambda 1 = {multiplier or 14.7:g}" in found.said


@pytest.mark.parametrize(
    ("said", "item", "written"),
    [
        ("43.5", FUEL, "43.5 psi"), ("300 kPa", FUEL, "300 kPa"),
        ("3 bar", FUEL, "3 bar"), ("38", LIMITS, "38 psi"), ("88", WARM, "88 degC"),
        ("190 degF", WARM, "190 degF"), ("190 F", WARM, "190 F"), ("8", LEAK, "8 percent"),
        ("-7", ADVANCE, "-7 deg"), ("2317", PLAIN, "2317"), ("T26-004", PLAIN, "T26-004"),
        ("12 psi", FUEL, "12 psi"),
    ],
)  # fmt: skip
def test_a_value_is_taken_in_the_unit_it_is_meant_in(
    said: str, item: ListItem, written: str
) -> None:
    assert taken(said, item).value == written


@pytest.mark.parametrize(
    ("said", "item", "typed"),
    [
        ("300", FUEL, "300 kPa"), ("3", FUEL, "3 bar"), ("300", LIMITS, "300 kPa"),
        ("190", WARM, "190 degF"), ("0.08", LEAK, "8 percent"), ("7", LAMBDA, '"7 AFR"'),
        ("4.5", LAMBDA, '"4.5 lambda"'),
        ("147", LAMBDA, "AFR"), ("3 lambda1", LAMBDA, "AFR"), ("14.7 lambda", LAMBDA, "14.7 AFR"),
        ("0.9 AFR", LAMBDA, "lambda"), ("rich", LAMBDA, "0.99 lambda"), ("14,5", LAMBDA, '"14.5"'),
    ],
)  # fmt: skip
def test_what_may_mean_another_scale_is_asked_about_and_never_fails_by_it(
    said: str, item: ListItem, typed: str
) -> None:
    with pytest.raises(InvalidInput) as asked:
        taken(said, item)
    assert typed in (asked.value.hint or "")


def test_where_the_display_shows_small_ratios_a_number_that_is_either_is_asked_about() -> None:
    """Methanol: 6.4 for lambda 1, so that 4 is a rich mixture or the idle of a diesel."""
    with pytest.raises(InvalidInput, match="may be lambda or"):
        taken("4", LAMBDA, 6.4)
    assert taken("6.4", LAMBDA, 6.4).value == "1.000"


@pytest.mark.parametrize("name", SHIPPED)
def test_every_value_of_the_lists_that_come_with_the_program_is_taken_in_its_unit(
    name: str,
) -> None:
    for item in shipped(name).item:
        if not item.value or is_lambda(item) or not item.unit:
            continue
        kind = parse(f"1 {item.unit}", DIMENSIONS).dimension
        ends = (item.usual or "").split(" to ") if item.usual else [item.low or item.high or ""]
        for end in filter(None, ends):
            number = parse(end if " " in end else f"{end} {item.unit}", (kind,)).to(item.unit)
            assert taken(f"{number:g}", item).value == f"{number:g} {item.unit}"
    lambdas = [item for item in shipped("light-load-check").item if is_lambda(item)]
    assert len(lambdas) >= 4

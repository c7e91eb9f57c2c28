"""The look for personal data: what must be found, and what must not be taken for it."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildlog.analysis.workshop.privacy import look, look_in_raw

DEMO = Path(__file__).parents[2] / "demo_vehicle"


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ('note = "ask jo.doe+car@mail.example.org"', "an e-mail address"),
        ('note = "call 555-123-4567"', "a telephone number"),
        ('note = "call (555) 123-4567 after six"', "a telephone number"),
        ('note = "+49 30 1234567"', "a telephone number"),
        ('note = "+44 20 7946 0123"', "a telephone number"),
        ('note = "030 1234567"', "a telephone number"),
        ('note = "lives at 12 Old Mill Road"', "a street address"),
        ('note = "221b Baker Hill Street, back yard"', "a street address"),
        ('note = "Lindenstraße 14"', "a street address"),
        ('note = "12 rue de la Gare"', "a street address"),
    ],
)
def test_found(text: str, kind: str):
    (finding,) = look(f"format = 1\n{text}\n", "car.toml")
    assert finding.text == f"this looks like {kind}"
    assert finding.where == "car.toml, line 2"
    assert text.split('"')[1] not in finding.text  # named by line, never repeated


@pytest.mark.parametrize(
    "text",
    [
        'vin = "0MTBA26A7RS004417"',
        "date = 2026-03-14",
        'odometer = "88412 mi"',
        'number = "PH-26L"',
        'serial = "26-0418"',
        'file_sha256 = "ba2a19f7b5541c7e46a121bb9f591e189d610756cf3fb2569abc533fc41e3fab"',
        "ratios = [3.72, 2.04, 1.34, 1.00, 0.82]",
        'place = "Dunmarrow Works, dyno bay"',
        'note = "5W-40, filter, feed and return for the turbocharger"',
        'note = "bulletin 95/03; bank 12 of 24, way 2"',
        'note = "torque 105 N*m, then 90 deg"',
        'start = "2026-05-09T17:25:00-04:00"',
    ],
)
def test_not_taken_for_personal_data(text: str):
    assert look(text, "car.toml") == []


def test_nothing_is_found_in_the_invented_car():
    for path in DEMO.rglob("*.toml"):
        assert look(path.read_text("utf-8"), path.name) == [], path


def test_the_head_of_a_raw_file():
    head = "Customer: J. Doe\nRun 1\nn [1/min],P [kW]\n3000,60.1\n5551234567,1\n"
    (finding,) = look_in_raw(head, "dyno/a/pull-1.csv")
    assert finding.where == "dyno/a/pull-1.csv, line 1"
    assert look_in_raw("Customer:\nOperator name;\n3000,60.1\n", "x") == []

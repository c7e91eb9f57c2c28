"""Facts for local codes: stated with the number they rest on, never judged."""

from __future__ import annotations

from typing import Any

import pytest

from buildlog.analysis.car.legal import DECIDE, facts
from buildlog.findings import Finding
from tests.analysis.stories import Step, tell

CAME: dict[str, Any] = {
    "exhaust.catalysts.count": 1, "exhaust.catalysts.kind": "original",
    "tyres.size": "205/55 R16 91V", "final_drive.ratio": 3.73,
}  # fmt: skip


def told(came: dict[str, Any], **now: Any) -> list[Finding]:
    put = {path.replace("__", "."): value for path, value in now.items()}
    return facts(tell(Step(CAME | came, kind="found"), Step(put))[0])


def emission(came: dict[str, Any], **now: Any) -> list[Finding]:
    return [f for f in told(came, **now) if f.code == "emission-equipment"]


def codes(came: dict[str, Any], **now: Any) -> list[str]:
    return [finding.code for finding in told(came, **now)]


def test_emission_equipment_removed_with_no_exemption():
    (finding,) = emission({}, exhaust__catalysts__kind="none")
    assert finding.text == f"catalysts removed, no exemption recorded; {DECIDE}"
    assert finding.severity == "note"
    (wanted,) = emission({"intent.keep_emission_equipment": True}, exhaust__catalysts__kind="none")
    assert wanted.severity == "caution"
    exempt = {"exhaust.catalysts.exemption": "D-1"}
    assert emission(exempt, exhaust__catalysts__kind="none") == []
    (other,) = emission({}, exhaust__catalysts__kind="high-flow")
    assert "not the maker's" in other.text
    assert emission({}) == []


def test_sound_level_is_stated_with_its_limit():
    put = {"exhaust.sound_level": "92 dB(A)", "exhaust.sound_method": "0.5 m"}
    (finding,) = told(put | {"intent.sound_level_limit": "96 dB(A)"})
    assert (finding.severity, finding.code) == ("note", "sound-level")
    (over,) = told(put | {"intent.sound_level_limit": "90 dB(A)"})
    assert over.severity == "caution"
    assert codes({}, exhaust__mufflers=1) == ["sound-level"]  # changed, and never measured


def test_a_tyre_index_below_the_axle_load():
    """Load index 91 is 615 kg a tyre (UN R30, from memory): 1230 kg on the axle."""
    assert codes({"chassis.rear_axle_load": "1230 kg"}) == []
    (finding,) = told({"chassis.rear_axle_load": "1231 kg"})
    assert finding.code == "tyre-load-index"
    assert "carries 1230 kg on the axle" in finding.text


def test_the_speedometer_reads_less_on_larger_tyres():
    """205/55 R16 is 631.9 mm, 225/45 R17 634.3 mm, 245/40 R18 653.2 mm (computed in the
    reference from D = d + 2 H)."""
    assert codes({}, tyres__size="225/45 R17") == []  # 0.4 %
    (finding,) = told({}, tyres__size="245/40 R18")
    assert f"{100 * (1 - 631.9 / 653.2):.1f} % below what it read" in finding.text
    (shorter,) = told({}, final_drive__ratio=4.10)
    assert f"{100 * (4.10 / 3.73 - 1):.1f} % above what it read" in shorter.text


def test_a_circumference_measured_later_is_no_other_tyre():
    assert codes({}, tyres__rolling_circumference="1.905 m") == []


@pytest.mark.parametrize("word", ["safe", "unsafe", "legal", "illegal", "allowed", "forbidden"])
def test_nothing_is_judged(word: str):
    found = told(
        {"chassis.rear_axle_load": "1500 kg", "intent.sound_level_limit": "80 dB"},
        exhaust__catalysts__kind="none", exhaust__sound_level="92 dB(A)", tyres__size="245/40 R18",
        final_drive__ratio=4.1,
    )  # fmt: skip
    assert len(found) >= 4
    assert all(word not in finding.text.split() for finding in found)
    assert all(finding.text.endswith(DECIDE) for finding in found)

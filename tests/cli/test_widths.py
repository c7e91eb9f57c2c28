"""Screens without --full on the demo: eighty columns, whatever is asked."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import Call

SCREENS = (
    "show --assembly induction",
    "show --assembly calibration",
    "show --assembly exhaust",
    "history", "show", "show stage-1", "show --parts", "show --at clutch.rated_torque",
    "diff", "diff baseline stage-1", "diff stage-1 stage-2", "diff first latest", "diff 5 7",
    "diff latest first", "dyno sheet", "dyno compare baseline stage-1", "predict --back-test",
    "predict stage-1 stage-2", "margins", "headroom", "next", "check", "checklist list",
    "torque list", "fault list", "explain", "explain clutch torque", "report stage-2", "verify",
    "plan list", "key list", "torque show", "plan show turbo-kit", "checklist show before-dyno",
    "waiting list", "due list", "diff stage-1 stage-2 --full", "show --full", 
    "margins --full", "report stage-1", "report stage-1 --full",
)  # fmt: skip


def wide(text: str) -> list[str]:
    return [line for line in text.splitlines() if len(line) > 80]


@pytest.mark.parametrize("command", SCREENS)
@pytest.mark.one_in(4)
def test_a_screen_is_eighty_wide(command: str, demo: Path, buildlog: Call) -> None:
    told = buildlog(*command.split(), at=demo)
    assert told.out
    assert wide(told.out + told.err) == []


def test_a_fault_is_told_in_eighty_columns(demo_copy: Path, buildlog: Call) -> None:
    symptom = 'loud "hiss" under load on the driver\'s side, since last week, warm engine only'
    told = buildlog("fault", "add", symptom, "--part", "induction.charge_cooler",
                    "--code", "P0299", at=demo_copy)  # fmt: skip
    assert told.status == 0
    assert wide(told.out) == []
    assert symptom in " ".join(told.out.split())


def test_what_a_sync_would_do_is_told_in_eighty_columns(
    demo_copy: Path, tmp_path: Path, buildlog: Call
) -> None:
    (tmp_path / "stick").mkdir()
    told = buildlog("sync", tmp_path / "stick", "--dry-run", at=demo_copy)
    assert told.status == 0
    assert "would go" in told.out
    assert wide(told.out) == []

"""Tightening records by one command."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from tests.histories import usual


@pytest.fixture
def car(tmp_path: Path) -> Path:
    with usual(tmp_path / "car") as ledger:
        return ledger.folder


def test_a_joint_with_one_torque_for_all(car: Path, buildlog):
    done = buildlog(
        "torque", "add", "header flange", "--count", "12", "--torque", "22 N*m", "--thread",
        "M8x1.25", "--grade", "8.8", "--condition", "anti-seize", "--spec-low", "20 N*m",
        "--spec-high", "24 N*m", "--retorque-after", "200 mi", "--date", "2026-03-07",
        "--part", "exhaust.headers", "--by", "D-07", at=car,
    )  # fmt: skip
    assert done.status == 0
    assert "nothing to look at" in done.out
    body = tomllib.loads((car / "torque" / "2026-03-07-header-flange.toml").read_text("utf-8"))
    assert len(body["fastener"]) == 12
    assert body["odometer"] == "88500 mi"
    (one,) = json.loads(buildlog("torque", "list", "--json").out)["joints"]
    assert one["retorque"] == "later"
    assert one["retorque_left_km"] == pytest.approx(200 * 1.609344)
    assert one["usual_nm"] == pytest.approx(0.16 * 0.008 * 15.93e3, rel=1e-3)


def test_named_fasteners_and_what_is_odd_about_them(car: Path, buildlog):
    """3/8-16 SAE 5 dry: 31 lb*ft is the usual torque of a published table (opened)."""
    done = buildlog(
        "torque", "add", "mount", "left=30 lb*ft", "right=45 lb*ft", "--thread", "3/8-16",
        "--grade", "SAE 5", "--condition", "dry", "--single-use", at=car,
    )  # fmt: skip
    assert "usual for this thread and grade 31 lb·ft" in done.out
    assert "right: 45 lb·ft stretches 3/8-16 SAE 5 past its proof load" in " ".join(
        done.out.split()
    )
    assert "not marked as new: left, right" in " ".join(done.out.split())
    assert buildlog("torque", "list", "--strict").status == 1


def test_a_second_tightening_settles_the_first(car: Path, buildlog):
    first = ("torque", "add", "flange", "--torque", "22 N*m", "--retorque-after", "200 mi")
    buildlog(*first, "--odometer", "88100 mi", "--date", "2026-03-07", at=car)
    assert "1 due again" in buildlog("torque", "list").out
    assert any(
        "tighten again" in one["step"] for one in json.loads(buildlog("next", "--json").out)["next"]
    )
    buildlog("torque", "add", "flange", "--torque", "22 N*m", "--retorque-of", "2026-03-07-flange")
    assert "0 due again" in buildlog("torque", "list").out


@pytest.mark.parametrize(
    ("arguments", "status", "hint"),
    [
        (["x"], 2, "--count 12"),
        (["x", "a=22 N*m", "--count", "2"], 2, "not both"),
        (["x", "a=22 psi"], 4, "N*m"),
        (["x", "a=22"], 4, "N*m"),
        (["x", "a=22 N*m", "a=23 N*m"], 4, "its own name"),
        (["x", "a=22 N*m", "--part", "exhaust.header"], 4, "exhaust.headers"),
        (["x", "a=22 N*m", "--retorque-of", "none"], 4, "none yet"),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_written(
    car: Path, buildlog, arguments: list[str], status: int, hint: str
):
    outcome = buildlog("torque", "add", *arguments, at=car)
    assert outcome.status == status
    assert hint in outcome.err
    assert not (car / "torque").exists() or not list((car / "torque").iterdir())


def test_the_demo_has_nothing_to_look_at(demo: Path, buildlog):
    outcome = buildlog("torque", "list", "--strict", at=demo)
    assert outcome.status == 0
    assert "0 to look at" in outcome.out
    assert all(len(line) <= 80 for line in outcome.out.splitlines())

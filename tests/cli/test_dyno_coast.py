"""`dyno coast` gives back the road load that a coast-down was made with."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

A, B, C, MASS = 150.0, 1.5, 0.45, 1500.0


def coast(path: Path, grade: float, seed: int) -> Path:
    """A coast-down integrated by scipy, with speed noise, as a logger would write it."""
    effective = MASS + 0.03 * (MASS + 25)  # the 3 % rule, UN GTR 15 [opened in the reference]

    def slowing(_: float, v: Any) -> Any:
        return -(A + B * v + C * v * v + MASS * 9.80665 * grade) / effective

    time = np.arange(0, 40, 0.1)
    speed = solve_ivp(slowing, (0, 40), [33.0], t_eval=time, rtol=1e-9).y[0] * 3.6
    speed += np.random.default_rng(seed).normal(0, 0.05, time.size)
    rows = [f"{t:.1f},{v:.2f}" for t, v in zip(time, speed, strict=True)]
    path.write_text("\n".join(["Time (s),Road Speed (km/h)", *rows]) + "\n")
    return path


def test_both_ways_give_the_road_load(tmp_path: Path, buildlog: Any) -> None:
    files = [coast(tmp_path / f"{i}.csv", g, i) for i, g in enumerate((0.002, -0.002))]
    out = buildlog("dyno", "coast", *files, "--mass", f"{MASS} kg", "--json").out
    found = json.loads(out)
    force = [
        found["a_n"] + found["b_n_s_per_m"] * v + found["c_n_s2_per_m2"] * v * v for v in (15, 30)
    ]
    assert force == pytest.approx([A + B * v + C * v * v for v in (15, 30)], rel=0.01)
    assert abs(found["c_n_s2_per_m2"] - C) < 4 * found["u_c_n_s2_per_m2"] + 0.01


def test_the_next_line_can_be_typed(tmp_path: Path, buildlog: Any, demo_copy: Path) -> None:
    lines = buildlog("dyno", "coast", coast(tmp_path / "a.csv", 0, 3), "--mass", "1500 kg").out
    line = lines.strip().splitlines()[-1]
    assert line.startswith("next: buildlog set chassis.road_load_a=")
    import shlex

    words = shlex.split(line.removeprefix("next: buildlog "))
    assert buildlog(*words, "--ledger", demo_copy).status == 0


def test_a_file_without_speed_and_one_that_does_not_coast(tmp_path: Path, buildlog: Any) -> None:
    blind = tmp_path / "blind.csv"
    blind.write_text("Time (s),Power (kW)\n" + "".join(f"{i},{i}\n" for i in range(40)))
    outcome = buildlog("dyno", "coast", blind, "--mass", "1500 kg")
    assert outcome.status == 4
    assert "blind.csv: no column holds road speed" in outcome.err
    rising = tmp_path / "rising.csv"
    rising.write_text("Time (s),Road Speed (km/h)\n" + "".join(f"{i},{i}\n" for i in range(40)))
    outcome = buildlog("dyno", "coast", rising, "--mass", "1500 kg")
    assert outcome.status == 4
    assert "rising.csv: only 1 row of a coast-down" in outcome.err


def test_a_file_that_is_too_large_says_so_before_it_is_read(
    tmp_path: Path, buildlog: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from buildlog.desk.questions import coast_files

    path = coast(tmp_path / "1.csv", 0.0, 1)
    monkeypatch.setattr(coast_files, "LARGEST_FILE", path.stat().st_size - 1)
    monkeypatch.setattr(coast_files, "propose", lambda *_: pytest.fail("it is read"))
    done = buildlog("dyno", "coast", path, "--mass", "1500 kg")
    assert done.status == 4
    assert "is the largest that is read" in done.err


def test_an_empty_dyno_running_down(tmp_path: Path, buildlog: Any) -> None:
    inertia, radius, a, c = 335.0, 0.54, 60.0, 0.03
    mass = inertia / radius**2

    def slowing(_: float, v: Any) -> Any:
        return -(a + c * v * v) / mass

    time = np.arange(0, 250, 0.5)
    speed = solve_ivp(slowing, (0, 250), [40.0], t_eval=time, rtol=1e-9).y[0] * 3.6
    down = tmp_path / "down.csv"
    rows = [f"{t:.1f},{v:.3f}" for t, v in zip(time, speed, strict=True) if v > 5]
    down.write_text("\n".join(["Time (s),Road Speed (km/h)", *rows]) + "\n")
    around = f"{2 * np.pi * radius:.6f} m"
    call = ("dyno", "coast", down, "--drum-inertia", f"{inertia} kg*m^2")
    found = json.loads(buildlog(*call, "--roller-circumference", around, "--json").out)
    assert found["a_n"] == pytest.approx(a, rel=0.02)
    assert found["c_n_s2_per_m2"] == pytest.approx(c, rel=0.02)
    out = buildlog(*call, "--roller-circumference", around).out
    assert "the dyno's own drag at 100 km/h" in out
    assert 'parasitic_a = "' in out
    assert buildlog(*call).status == 2

"""Uses of the door as somebody writes them: checked by mypy --strict, never run."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_type

import numpy as np
from numpy.typing import NDArray

import buildlog

if TYPE_CHECKING:
    with buildlog.open("demo-ledger", units="metric") as car:
        head: str | None = car.head
        stage = car.version("stage-2")
        assert_type(stage, buildlog.CarVersion)
        if (engine := stage.configuration.engine) and engine.bore:
            bore_in: float = engine.bore.to("in")
            text: str = engine.bore.text
        d = car.diff("stage-1", stage)
        peak_w: float = d.measured.power.peak_delta_w
        if d.measured:
            assert_type(d.measured.power.half_width_95_w, float)
            grid = d.measured.axis_rpm
            if not isinstance(grid, buildlog.Absent):
                assert_type(grid, NDArray[np.float64])
        else:
            why: str = d.measured.reason
        paths = [change.path for change in d.changes]
        for pull in car.sheet("2026-05-09-stage-2").pulls:
            assert_type(pull.power_w, NDArray[np.float64])
            boost = pull.channels["boost"].max()
        for row in car.margins(9):
            assert_type(row.state, str)
            left: float | None = row.share.p50 if row.share else None
        first = car.headroom().limits[0].wheel_power_w.p50
        band = car.predict("stage-1", "plan:cam", altitude="1600 m").peak_delta_w
        low_w: float = band.p10
        distances = {part.path: part.distance_m for part in car.parts}
        assert_type(car.raw("car.toml"), bytes)
        car.plot("baseline", stage, what="torque").savefig("torque.png")
        with car.edit(by="D-07") as work:
            work.set("exhaust.pipe_diameter", "63.5 mm")
            number: int = work.record("exhaust", odometer="89700 mi", stage="stage-3").number

    for one in buildlog.shop("cars"):
        assert_type(one, buildlog.OpenedCar)

    try:
        buildlog.open("nowhere")
    except buildlog.BuildlogError as error:
        told = (error.what, error.where, error.hint)

    # What is wrong is noticed: each line has its `ignore`, and an unused one is an error itself.
    car.dif("stage-1")  # type: ignore[attr-defined]
    buildlog.opne("demo-ledger")  # type: ignore[attr-defined]
    car.diff(standard=9)  # type: ignore[arg-type]
    car.plot(what="colour")  # type: ignore[arg-type]
    work.record("x", odometre="1 mi")  # type: ignore[call-arg]

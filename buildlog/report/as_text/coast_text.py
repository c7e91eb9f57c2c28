"""The drag that coast-down files show, as text."""

from __future__ import annotations

from buildlog.analysis.pulls.coasting import CoastDown
from buildlog.records.checked_paths import field_paths
from buildlog.records.session import Dyno
from buildlog.report.lines import table

_ROAD_LOAD = field_paths("chassis.road_load_a", "chassis.road_load_b", "chassis.road_load_c")
_OWN_DRAG = field_paths("parasitic_a", "parasitic_b", "parasitic_c", model=Dyno)


def coast_lines(found: CoastDown) -> list[str]:
    """The drag at one speed with its interval, the three coefficients, and where they go."""
    load, (u_a, u_b, u_c) = found.load, found.u
    at = 100 / 3.6
    force, doubt = float(load.force([at])[0]), float(load.u_force([at])[0])
    low, high = load.speeds or (0.0, 0.0)
    name = "the dyno's own drag" if found.drum else "road load"
    fields = [f"{load.a:.1f} N", f"{load.b:.2f} N*s/m", f"{load.c:.4f} N*s^2/m^2"]
    return [
        f"{name} at 100 km/h: {force:.0f} ± {1.96 * doubt:.0f} N (95 %), {force * at / 1e3:.1f} kW",
        f"  computed from {found.runs} run{'s' if found.runs > 1 else ''}, "
        f"{low * 3.6:.0f} to {high * 3.6:.0f} km/h, {found.what}",
        "",
        *table(
            [
                ["", "value", "95 %", "unit"],
                ["A", f"{load.a:.1f}", f"± {1.96 * u_a:.1f}", "N"],
                ["B", f"{load.b:.2f}", f"± {1.96 * u_b:.2f}", "N*s/m"],
                ["C", f"{load.c:.4f}", f"± {1.96 * u_c:.4f}", "N*s^2/m^2"],
            ],
            right=(1, 2),
        ),
        "  one run alone holds the grade of its road" if found.runs == 1 and not found.drum else "",
        _next(fields, found.drum),
    ]


def _next(fields: list[str], drum: bool) -> str:
    if drum:
        return "write in session.toml, [dyno]: " + ", ".join(
            f'{path} = "{value}"' for path, value in zip(_OWN_DRAG, fields, strict=True)
        )
    words = [f'{path}="{value}"' for path, value in zip(_ROAD_LOAD, fields, strict=True)]
    return f"next: buildlog set {' '.join(words)}"

"""The drag that coast-down files show, as text."""

from __future__ import annotations

from buildlog.analysis.pulls.coasting import CoastDown
from buildlog.records.checked_paths import field_paths
from buildlog.records.session import Dyno
from buildlog.report.in_units import in_units
from buildlog.report.lines import table
from buildlog.report.numbers import Display
from buildlog.units import unit

_ROAD_LOAD = field_paths("chassis.road_load_a", "chassis.road_load_b", "chassis.road_load_c")
_COEFFICIENTS = (
    ("A", "N", "force", 1), ("B", "N*s/m", "force_per_speed", 2),
    ("C", "N*s^2/m^2", "force_per_speed_squared", 4),
)  # fmt: skip
_OWN_DRAG = field_paths("parasitic_a", "parasitic_b", "parasitic_c", model=Dyno)


def coast_lines(found: CoastDown, show: Display) -> list[str]:
    """The drag at one speed with its interval, the three coefficients, and where they go."""
    load = found.load
    name = "the dyno's own drag" if found.drum else "road load"
    rows = _coefficients(found, show)
    low, high = (show.number(speed, "speed", 0) for speed in load.speeds or (0.0, 0.0))
    return [
        f"{name} {_at_one_speed(found, show)}",
        f"  computed from {found.runs} run{'s' if found.runs > 1 else ''}, "
        f"{low} to {high} {show.unit('speed').text}, {in_units(found.what)}",
        "",
        *table([["", "value", "95 %", "unit"], *rows], right=(1, 2)),
        "  one run alone: a slope counts as drag" if found.runs == 1 and not found.drum else "",
        _next([f"{value} {unit}" for _, value, _, unit in rows], found.drum),
    ]


def _at_one_speed(found: CoastDown, show: Display) -> str:
    """ "at 100 km/h: 512 ± 14 N (95 %), 14.2 kW"; at 60 mph where those are driven."""
    load, at = found.load, show.unit("speed").to_si(60 if show.system == "us" else 100)
    force, doubt = float(load.force([at])[0]), float(load.u_force([at])[0])
    told = show.number(force, "force", 0), show.value(1.96 * doubt, "force", 0)
    speed, power = show.value(at, "speed", 0), show.value(force * at, "power", 1)
    return f"at {speed}: {told[0]} ± {told[1]} (95 %), {power}"


def _coefficients(found: CoastDown, show: Display) -> list[list[str]]:
    rows = []
    for (name, text, kind, decimals), value, doubt in zip(
        _COEFFICIENTS, (found.load.a, found.load.b, found.load.c), found.u, strict=True
    ):
        of = unit(show.instead(text), kind)
        rows.append([name, f"{of.from_si(value):.{decimals}f}",
                     f"± {1.96 * doubt / of.factor:.{decimals}f}", of.text])  # fmt: skip
    return rows


def _next(fields: list[str], drum: bool) -> str:
    if drum:
        return "write in session.toml, [dyno]: " + ", ".join(
            f'{path} = "{value}"' for path, value in zip(_OWN_DRAG, fields, strict=True)
        )
    words = [f'{path}="{value}"' for path, value in zip(_ROAD_LOAD, fields, strict=True)]
    return f"next: buildlog set {' '.join(words)}"

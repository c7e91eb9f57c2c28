"""`buildlog dyno coast`: the road load from coast-down files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import json_option, say, say_json

if TYPE_CHECKING:
    from buildlog.analysis.pulls.coasting import CoastDown
    from buildlog.analysis.pulls.pull_data import Floats


@click.command()
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--mass", help='The car as it coasted, with all in it: "1385 kg".')
@click.option("--drum-inertia", help='Of an empty dyno instead of a car: "335 kg*m^2".')
@click.option("--roller-circumference", help='Of the dyno: "3.39 m".')
@click.option(
    "--map", "maps", multiple=True, metavar="CHANNEL=COLUMN:UNIT", help="What a column holds."
)
@json_option
def command(
    files: tuple[Path, ...],
    mass: str | None,
    drum_inertia: str | None,
    roller_circumference: str | None,
    maps: tuple[str, ...],
    as_json: bool,
) -> None:
    """Fit the drag A + B v + C v^2 to coast-down files: time and road speed, in neutral.

    \b
    buildlog dyno coast north.csv south.csv --mass "1385 kg"
    buildlog dyno coast down.csv --drum-inertia "335 kg*m^2" \\
        --roller-circumference "3.39 m"

    Use as many runs one way as the other: a steady grade cancels then, wind does not.
    Coast down only where it is lawful and nobody is near. With --drum-inertia the files are
    of an empty dyno running down, and the drag is the machine's own.
    """
    from buildlog.analysis.pulls.coasting import coast_down, coasted

    slowing, what = _slowing(mass, drum_inertia, roller_circumference)
    runs = [coasted(*_time_and_speed(path, maps), path.name) for path in files]
    found = coast_down(runs, slowing)
    if as_json:
        load, (u_a, u_b, u_c) = found.load, found.u
        body = {"a_n": load.a, "b_n_s_per_m": load.b, "c_n_s2_per_m2": load.c}
        body |= {"u_a_n": u_a, "u_b_n_s_per_m": u_b, "u_c_n_s2_per_m2": u_c}
        say_json(
            "dyno-coast", {**body, "runs": found.runs, "effective_mass_kg": found.effective_mass}
        )
    else:
        say(_lines(found, what, drum=mass is None))


def _slowing(mass: str | None, inertia: str | None, circumference: str | None) -> tuple[float, str]:
    """The mass [kg] that slows down at the surface, and what it is, in words."""
    from buildlog.analysis.pulls.coasting import car_mass, drum_mass
    from buildlog.errors import UsageError
    from buildlog.units import parse

    if mass is not None and inertia is None:
        return car_mass(parse(mass, ("mass",)).si), f"{mass} and 3 % for the wheels"
    if mass is None and inertia is not None and circumference is not None:
        turning = parse(inertia, ("inertia",)).si, parse(circumference, ("length",)).si
        if min(turning) <= 0:
            raise UsageError("inertia and circumference are above zero")
        return drum_mass(*turning), f"a drum of {inertia} and {circumference} round"
    raise UsageError(
        "say what slows down: a car, or an empty dyno",
        hint='--mass "1385 kg", or --drum-inertia "335 kg*m^2" --roller-circumference "3.39 m"',
    )


def _time_and_speed(path: Path, maps: tuple[str, ...]) -> tuple[Floats, Floats]:
    from buildlog.errors import InvalidInput, NotFound
    from buildlog.rawfiles.propose import propose
    from buildlog.rawfiles.spec import parse_map
    from buildlog.rawfiles.table import read_table

    if not path.is_file():
        raise NotFound(f"there is no file {path}", hint="look at the name")
    own = [parse_map(text) for text in maps]
    proposal = propose(path, path.name, own)
    wanted = {spec.channel: spec for spec in proposal.specs() if spec.channel in _WANTED}
    missing = [name for name in _WANTED if name not in wanted]
    if missing:
        raise InvalidInput(
            f"no column holds {' and '.join(name.replace('_', ' ') for name in missing)}",
            where=path.name,
            hint=f"--map {missing[0]}=COLUMN:{'s' if missing[0] == 'time' else 'km/h'}",
        )
    table = read_table(path, path.name, list(wanted.values()))
    return table.channels["time"], table.channels["road_speed"]


_WANTED = ("time", "road_speed")


def _lines(found: CoastDown, what: str, drum: bool) -> list[str]:
    from buildlog.report.lines import table

    load, (u_a, u_b, u_c) = found.load, found.u
    at = 100 / 3.6
    force, doubt = float(load.force([at])[0]), float(load.u_force([at])[0])
    low, high = load.speeds or (0.0, 0.0)
    name = "the dyno's own drag" if drum else "road load"
    fields = [f"{load.a:.1f} N", f"{load.b:.2f} N*s/m", f"{load.c:.4f} N*s^2/m^2"]
    return [
        f"{name} at 100 km/h: {force:.0f} ± {1.96 * doubt:.0f} N (95 %), {force * at / 1e3:.1f} kW",
        f"  computed from {found.runs} run{'s' if found.runs > 1 else ''}, "
        f"{low * 3.6:.0f} to {high * 3.6:.0f} km/h, {what}",
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
        "  one run alone holds the grade of its road" if found.runs == 1 and not drum else "",
        _next(fields, drum),
    ]


def _next(fields: list[str], drum: bool) -> str:
    if drum:
        pairs = zip("abc", fields, strict=True)
        return "write in session.toml, [dyno]: " + ", ".join(
            f'parasitic_{name} = "{value}"' for name, value in pairs
        )
    words = [f'chassis.road_load_{n}="{value}"' for n, value in zip("abc", fields, strict=True)]
    return f"next: buildlog set {' '.join(words)}"

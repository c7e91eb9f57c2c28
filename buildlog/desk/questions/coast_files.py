"""The road load of a car, or the drag of an empty dyno, from coast-down files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from buildlog.analysis.pulls.coasting import CoastDown, car_mass, coast_down, coasted, drum_mass
from buildlog.analysis.pulls.pull_data import Floats
from buildlog.errors import InvalidInput, NotFound, UsageError
from buildlog.rawfiles.propose import propose
from buildlog.rawfiles.spec import parse_map
from buildlog.rawfiles.table import read_table
from buildlog.store.git.ledger_files import LARGEST_FILE
from buildlog.units import parse

_WANTED = ("time", "road_speed")


def coast_files(
    files: Sequence[Path],
    *,
    mass: str | None = None,
    drum_inertia: str | None = None,
    roller_circumference: str | None = None,
    maps: Sequence[str] = (),
) -> CoastDown:
    """The drag fitted to files of time and road speed, of a car of a mass ("1385 kg") or of an
    empty dyno by its inertia ("335 kg*m^2") and circumference ("3.39 m").

    `maps` say what a column holds, as "road_speed=COLUMN:km/h", where a file does not.
    """
    slowing, what = _slowing(mass, drum_inertia, roller_circumference)
    runs = [coasted(*_time_and_speed(path, maps), path.name) for path in files]
    return coast_down(runs, slowing, what, drum=mass is None)


def _slowing(mass: str | None, inertia: str | None, circumference: str | None) -> tuple[float, str]:
    """The mass [kg] that slows down at the surface, and what it is, in words."""
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


def _time_and_speed(path: Path, maps: Sequence[str]) -> tuple[Floats, Floats]:
    if not path.is_file():
        raise NotFound(f"there is no file {path}", hint="look at the name")
    if (size := path.stat().st_size) > LARGEST_FILE:
        raise InvalidInput(
            f"{size / 2**20:.0f} MB; {LARGEST_FILE / 2**20:.0f} MB is the largest that is read",
            where=path.name,
            hint="export the coast-down alone",
        )
    proposal = propose(path, path.name, [parse_map(text) for text in maps])
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

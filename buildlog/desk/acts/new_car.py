"""A new ledger with its first car.toml."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from buildlog.desk.acts import working_files
from buildlog.desk.acts.car_fields import CAR
from buildlog.desk.acts.template import template
from buildlog.desk.snapshot import settings
from buildlog.errors import InvalidInput, NotFound, UsageError
from buildlog.records.configuration import Configuration
from buildlog.records.reading import read
from buildlog.store.ledger.ledger import Ledger


@dataclass(frozen=True)
class NewCar:
    """What is said of a car when its ledger is begun."""

    name: str | None = None
    year: int | None = None
    vin: str | None = None
    power_source: str | None = None


def start(
    folder: Path,
    car: NewCar | Path,
    *,
    units: str | None = None,
    shop: str | None = None,
    ask: Callable[[NewCar], NewCar] | None = None,
) -> Path:
    """Begin a ledger in an empty folder; the path of its car.toml.

    `car` is what is known of it, completed by `ask`, or a car.toml to start from. `units` are
    those of the commented examples, `shop` is kept in the user's settings.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InvalidInput(f"{folder} is not an empty folder", hint="name a new one")
    if isinstance(car, Path):
        data = _given(car)
        read(Configuration, data, car.name)
    else:
        data = _described(ask(car) if ask else car, units)
        read(Configuration, data, CAR)
    if shop:
        settings.save(settings.Settings(shop=shop))
    with Ledger.create(folder) as ledger:
        working_files.create(ledger, CAR, data)
    return folder / CAR


def _given(source: Path) -> bytes:
    if not source.is_file():
        raise NotFound(f"there is no file {source}", hint="look at --from")
    return source.read_bytes()


def _described(car: NewCar, units: str | None) -> bytes:
    if car.name is None:
        raise UsageError("the car has no name", hint='--name "Marrow Tern 2.6"')
    own = units or settings.load().units or "metric"
    return template(car.name, car.year, car.vin, car.power_source, own).encode()

"""A ledger itself: begun with its first, commented car.toml, and packed when it has grown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.acts import car_described, working_files
from buildlog.desk.acts.car_fields import CAR
from buildlog.desk.snapshot import settings
from buildlog.errors import InvalidInput, NotFound, UsageError
from buildlog.findings import Finding
from buildlog.records.car.configuration import Configuration
from buildlog.records.reading import read
from buildlog.store.git.ledger_files import ATTRIBUTES, KEEP_BYTES
from buildlog.store.ledger import editor_schema, working_places
from buildlog.store.ledger.ledger import Ledger, sweep_half_made

if TYPE_CHECKING:
    from buildlog.store.verify.repacking import Packed

# Commented starting values: one line a field, in the units a shop writes.
_EXAMPLES: dict[str, dict[str, str]] = {
    "us": {"mass": "3050 lb", "bore": "3.307 in", "stroke": "3.071 in", "rated": "170 hp",
           "torque": "160 lb*ft", "psi": "7 psi", "flow": "24 lb/h", "pipe": "2.5 in",
           "clutch": "9.1 in", "area": "7.3 ft^2", "tyre": "32 psi", "rail": "43.5 psi"},
    "metric": {"mass": "1385 kg", "bore": "84.0 mm", "stroke": "78.0 mm", "rated": "127 kW",
               "torque": "217 N*m", "psi": "0.48 bar", "flow": "310 cc/min", "pipe": "63.5 mm",
               "clutch": "231 mm", "area": "0.68 m^2", "tyre": "2.2 bar", "rail": "3.0 bar"},
}  # fmt: skip


@dataclass(frozen=True)
class NewCar:
    """What is said of a car when its ledger is begun."""

    name: str | None = None
    year: int | None = None
    vin: str | None = None
    power_source: str | None = None


def name_shop(name: str) -> None:
    """Keep the shop's name in the user's settings, for the entries of every car."""
    settings.save(settings.Settings(shop=name))


def start(
    folder: Path,
    car: NewCar | Path,
    *,
    units: str | None = None,
    shop: str | None = None,
    ask: Callable[[NewCar], NewCar] | None = None,
    known: NewCar | None = None,
) -> Path:
    """Begin a ledger in an empty folder; the path of its car.toml.

    `car` is what is known of it, completed by `ask`, or a car.toml to start from, or the ledger of
    another of its kind, whose description is taken without its history; `known` is said of this
    one. `units` are
    those of the commented examples, `shop` is kept in the user's settings.
    """
    if folder.is_dir():
        sweep_half_made(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InvalidInput(f"{folder} is not an empty folder", hint="name a new one")
    if isinstance(car, Path) and car_described.is_ledger(car):
        own = known or NewCar()
        told = car_described.described(car, own.name, own.year, own.vin, own.power_source)
        data = told.text
        read(Configuration, data, CAR)
    elif isinstance(car, Path):
        data = _given(car)
        read(Configuration, data, car.name)
    else:
        data = _described(ask(car) if ask else car, units)
        read(Configuration, data, CAR)
    if shop:
        name_shop(shop)
    with Ledger.create(folder) as ledger:
        working_files.create(ledger, ATTRIBUTES, KEEP_BYTES)
        editor_schema.put(ledger.repo.git)
        working_files.create(ledger, CAR, data)  # last: without it an attempt is half made
    return folder / CAR


def kept_in_step(folder: Path) -> list[Finding]:
    """A caution where a file service keeps the folder in step, which a ledger does not need."""
    return working_places.synchronised(folder.absolute())


def pack(ledger: Ledger) -> Packed:
    """Pack the objects into fewer, smaller files, and check it; the history stays as it is."""
    from buildlog.store.verify import repacking

    return repacking.pack(ledger)


def template(
    name: str, year: int | None, vin: str | None, power_source: str | None, units: str
) -> str:
    """A car.toml with the car's name and everything else as comments to be filled in."""
    from jinja2 import Environment, StrictUndefined

    text = Path(__file__).with_name("new-car.toml.j2").read_text("utf-8")
    made = Environment(trim_blocks=True, keep_trailing_newline=True, undefined=StrictUndefined)
    return made.from_string(text).render(
        _EXAMPLES[units], name=name.replace("\\", "\\\\").replace('"', '\\"'),
        year=year, vin=vin, power_source=power_source, burns=power_source != "electric",
        has_motor=power_source in ("electric", "hybrid"),
        diesel=power_source == "compression-ignition",
    )  # fmt: skip


def _given(source: Path) -> bytes:
    if not source.is_file():
        raise NotFound(f"there is no file {source}", hint="look at --from")
    return source.read_bytes()


def _described(car: NewCar, units: str | None) -> bytes:
    if car.name is None:
        raise UsageError("the car has no name", hint='--name "Marrow Tern 2.6"')
    own = units or settings.load().units or "metric"
    return template(car.name, car.year, car.vin, car.power_source, own).encode()

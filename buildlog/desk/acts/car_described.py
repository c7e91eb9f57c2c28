"""A car's description without its history, for the next one of its kind."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from buildlog.errors import NotFound
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field_paths, table
from buildlog.records.leaf_text import CAR as CAR_FORM
from buildlog.records.leaf_text import nested
from buildlog.records.paths import Value, leaves
from buildlog.records.reading import read
from buildlog.records.toml import toml_write

_SAID = field_paths("car.name", "car.year", "car.vin", "car.power_source")  # of the new car
CAR = "car.toml"
# What is this car's own: its numbers, its owner's wishes, what was done to it, what is in its
# engine control.
_OWN = field_paths("car.vin", "car.chassis_number", "car.colour", "car.note")
_OWN_TABLES = (table("intent"), table("calibration"), table("work[]"), table("odometer_offset[]"))
# Of any part: which piece it is and what became of it; of any table: free words, which may name
# anybody, and what a part that was fitted new still asks for.
_OF_A_PIECE = {
    "serial", "piece", "condition", "made", "document", "fitted_at_odometer", "fitted_on",
    "distance_before", "basis", "note",
}  # fmt: skip


@dataclass(frozen=True)
class Described:
    """The text of a new car.toml, whose description it is, and how much was taken and left out."""

    text: bytes
    of: str
    taken: int
    left_out: int


def is_ledger(place: Path) -> bool:
    """Whether a folder holds a car, and is no file."""
    return place.is_dir()


def described(
    folder: Path, name: str | None, year: int | None, vin: str | None, power_source: str | None
) -> Described:
    """The car of a ledger as a kind of car; what is said of the new one stands instead.

    Parts keep maker, number and their stated limits with their sources. NotFound where the folder
    holds no car.toml; InvalidInput where that cannot be read.
    """
    source = folder / CAR
    if not source.is_file():
        raise NotFound(f"there is no {CAR} in {folder}", hint="name a car's ledger, or a car.toml")
    car = read(Configuration, source.read_bytes(), str(source))
    every = leaves(car)
    kept = {path: value for path, value in every.items() if _of_the_kind(path)}
    said = dict(zip(_SAID, (name, year, vin, power_source), strict=True))
    kept |= {path: value for path, value in said.items() if value is not None}
    head = (
        f"# Described after {car.car.name}: look at each value before it is recorded. Its\n"
        "# numbers, serials, calibration, work and notes were left out.\n"
    )
    body = toml_write.write(nested(_in_order(kept), CAR_FORM))
    return Described(head.encode() + body, car.car.name, len(kept), len(every) - len(kept))


def _of_the_kind(path: str) -> bool:
    """Whether a value is true of the next car of this kind, too."""
    parts = path.split(".")
    own = path in _OWN or parts[0].split("[")[0] in {one.removesuffix("[]") for one in _OWN_TABLES}
    return not own and parts[-1] not in _OF_A_PIECE and "break_in" not in parts


def _in_order(values: dict[str, Value]) -> dict[str, Value]:
    return dict(sorted(values.items(), key=lambda one: CAR_FORM.rank(one[0])))

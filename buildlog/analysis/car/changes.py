"""What changed mechanically between two configurations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from buildlog.records.configuration import Configuration
from buildlog.records.paths import Value, assembly, differences, words

# Tables and fields that cannot change what the engine puts out or what the dyno shows.
_NEUTRAL_TABLES = ("car", "intent", "work", "odometer_offset", "battery")
_NEUTRAL_FIELDS = (
    "part",
    "break_in",
    "limit",
    "source",
    "note",
    "made",
    "author",
    "exemption",
    "written_for",
    "evaporation",
)
_NEUTRAL_ENDINGS = (
    "rated_power",
    "rated_power_speed",
    "rated_torque",
    "rated_torque_speed",
    "rated_standard",
    "speed_limit",
    "flow_limit",
    "inlet_limit",
    "rotating_assembly_limit",
    "mean_piston_speed_limit",
    "sound_level",
    "sound_method",
    "speed_symbol",
    "load_index",
    "file",
    "verification_number",
    "rated_heat",
)


@dataclass(frozen=True)
class Change:
    """One field that differs. `made` is False for a change that was found, not made."""

    path: str
    kind: Literal["added", "removed", "changed"]
    old: Value | None
    new: Value | None
    made: bool = True

    @property
    def assembly(self) -> str:
        """The table it belongs to."""
        return assembly(self.path)

    @property
    def words(self) -> str:
        """The field below its assembly, in words."""
        return words(self.path)


def changes(old: Configuration, new: Configuration, made: bool = True) -> list[Change]:
    """Every field that differs physically, in the order of car.toml."""
    return [
        Change(path, _kind(before, after), before, after, made)
        for path, before, after in differences(old, new)
    ]


def _kind(old: Value | None, new: Value | None) -> Literal["added", "removed", "changed"]:
    if old is None:
        return "added"
    return "removed" if new is None else "changed"


def power_neutral(path: str) -> bool:
    """Whether a change of this field leaves the measured power what it was."""
    if assembly(path) in _NEUTRAL_TABLES:
        return True
    parts = path.split(".")
    return any(part in _NEUTRAL_FIELDS for part in parts[1:]) or parts[-1] in _NEUTRAL_ENDINGS


def physically_equal(old: Configuration, new: Configuration) -> bool:
    """Whether no field differs physically, however it is written."""
    return not differences(old, new)

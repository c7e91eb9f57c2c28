"""What an act left in the working files, and how it is recorded."""

from __future__ import annotations

from dataclasses import dataclass, field

from buildlog.findings import Finding
from buildlog.records.paths import Value


@dataclass(frozen=True)
class RecordWith:
    """What `record` is to be told of something written: a message that fits, and the rest."""

    message: str
    kind: str | None = None
    odometer: str | None = None
    corrects: int | None = None
    resolves: int | None = None

    @property
    def line(self) -> str:
        """The line to type."""
        words = f'buildlog record -m "{self.message}"'
        words += f" --kind {self.kind}" if self.kind else ""
        words += f' --odometer "{self.odometer}"' if self.odometer else ""
        words += f" --corrects {self.corrects}" if self.corrects else ""
        return words + (f" --resolves {self.resolves}" if self.resolves else "")


@dataclass(frozen=True)
class Written:
    """Files of the working folder that an act wrote, and what there is to say of them."""

    paths: tuple[str, ...]
    record: RecordWith
    findings: tuple[Finding, ...] = field(default=(), kw_only=True)


@dataclass(frozen=True)
class FieldsSet(Written):
    """Fields of car.toml that are physically different now: path, was, is."""

    changed: tuple[tuple[str, Value | None, Value | None], ...]
    was_valid: bool


@dataclass(frozen=True)
class WorkAdded(Written):
    """An item of the car's work, new or with another note."""

    item: str
    note: str | None


@dataclass(frozen=True)
class Attached(Written):
    """Copies below attachments; `left_out` says of each what was left out of the copy."""

    left_out: tuple[tuple[str, ...], ...]

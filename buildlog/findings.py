"""A finding: something a person should know about a record, kept as a value.

Findings are collected and shown together; they never stop a computation.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "caution", "error"]
ORDER: dict[str, int] = {"error": 0, "caution": 1, "note": 2}


@dataclass(frozen=True)
class Finding:
    """One statement about a record.

    `code` is stable and meant for programs, `text` is a sentence for people,
    `paths` are the dotted fields concerned, `where` a place in a file and
    `hint` what to write or do.
    """

    code: str
    severity: Severity
    text: str
    paths: tuple[str, ...] = ()
    where: str | None = None
    hint: str | None = None


def first_error(findings: Iterable[Finding]) -> Finding | None:
    """The first finding that is an error."""
    return next((finding for finding in findings if finding.severity == "error"), None)


def worst_first(findings: Iterable[Finding]) -> list[Finding]:
    """Errors, then cautions, then notes; the given order is kept within each."""
    return sorted(findings, key=lambda finding: ORDER[finding.severity])


def how_many(number: int, one: str, many: str | None = None) -> str:
    """A count in a sentence; no sentence makes its own plural (`tests/test_counts.py`).

    >>> how_many(1, "entry", "entries"), how_many(3, "entry", "entries"), how_many(1200, "pull")
    ('1 entry', '3 entries', '1,200 pulls')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"

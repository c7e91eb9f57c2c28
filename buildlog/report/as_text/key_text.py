"""The key register: what was entered, and the keys there are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from buildlog.analysis.car.recorded import EntryMade, KeyEntered, KeyState
from buildlog.report.as_text.record_text import entry_words
from buildlog.report.lines import table


def change_lines(entry: EntryMade, then: str) -> list[str]:
    """A change of the register, and what comes next."""
    return [f"recorded: {entry_words(entry)}: {entry.subject}", f"next: {then}"]


def entered_lines(done: KeyEntered, file: Path | None) -> list[str]:
    """A key that was entered, and how to sign with it; `file` is the private key as named."""
    first, last = change_lines(done.entry, "buildlog key list")
    own = f'  to sign with it: signing_key = "{file}" in {done.settings}'
    return [
        first,
        f"  {done.name} is {done.fingerprint}",
        "  give this fingerprint to whoever is to check the history, on paper or by phone",
        *([own] if done.settings else []),
        last,
    ]


def list_lines(keys: Sequence[KeyState]) -> list[str]:
    """Every key with its fingerprint; the first line answers."""
    if not keys:
        return [
            "no key is entered: entries of this ledger are not signed",
            'next: buildlog key add "bench 1"',
        ]
    rows = table([[k.name, f"{k.signed} signed", _state(k)] for k in keys], right=(1,))
    lines = [f"{sum(k.gone is None for k in keys)} of {len(keys)} keys in use"]
    for row, key in zip(rows, keys, strict=True):
        lines += [row, f"    {key.fingerprint}"]
    return [*lines, "next: buildlog verify"]


def _state(key: KeyState) -> str:
    return key.gone or "in use"

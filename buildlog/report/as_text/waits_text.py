"""What a car waits for, on a screen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from buildlog.analysis.workshop.wait_book import Wait
from buildlog.report.lines import wrap
from buildlog.report.numbers import count


def waiting_lines(found: Sequence[Wait], day: dt.date) -> list[str]:
    """Each thing with its kind, since when, and when it is expected; the oldest first."""
    if not found:
        return [
            "it waits for nothing",
            'next: buildlog waiting add "head gasket" --for part --expected DAY',
        ]
    late = sum(one.is_late(day) for one in found)
    over = f", {late} expected before {day}" if late else ""
    lines = [f"it waits for {count(len(found), 'thing')}{over}"]
    lines += [line for one in found for line in wait_lines(one, day)]
    return [*lines, f"next: buildlog waiting done {found[0].name}"]


def wait_lines(one: Wait, day: dt.date | None = None) -> Iterator[str]:
    """ "- head gasket (part), since 2026-03-14, expected 2026-04-02", and the note."""
    waiting = one.waiting
    kind = f" ({waiting.waits_for})" if waiting.waits_for not in (None, "other") else ""
    word = "was expected" if day and one.is_late(day) else "expected"
    expected = f"{word} {waiting.expected}" if waiting.expected else None
    told = [f"{one.what}{kind}", f"since {one.since}", expected, waiting.by]
    yield from wrap(f"- {', '.join(filter(None, told))}", 4, 2)
    if waiting.note:
        yield from wrap(waiting.note, 4, 4)

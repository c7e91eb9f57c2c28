"""The entries of a ledger as a table, newest first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from buildlog.records.key_words import key_words
from buildlog.records.recorded_change import changed_in_car, is_of_keys
from buildlog.records.recorded_peak import recorded_peak
from buildlog.report.lines import cut_table
from buildlog.report.numbers import Display, count

if TYPE_CHECKING:
    from buildlog.store.ledger.entries import Entry


_CORRECTED, _OUTSIDE = "+", "!"  # beside the kind of an entry


def history_lines(entries: Sequence[Entry], show: Display, full: bool = False) -> list[str]:
    """The screen of `history`, of entries that are given first to last."""
    if not entries:
        return ["nothing is recorded yet", 'next: buildlog record -m "as it came" --kind found']
    corrected = {entry.corrects for entry in entries if entry.corrects}
    lines = [headline(entries, show), "", *_table(entries[::-1], corrected, show, full)]
    signs = (
        ("* carries a signature; buildlog verify checks it", any(e.signed for e in entries)),
        (f"{_CORRECTED} corrected by a later entry", bool(corrected)),
        (f"{_OUTSIDE} recorded outside buildlog", any(e.recorded_outside for e in entries)),
    )
    told = [words for words, stands in signs if stands]
    return [*lines, *([""] if told else []), *told, "", "next: buildlog diff"]


def headline(entries: Sequence[Entry], show: Display) -> str:
    """How many entries, at which stage, and the newest's day and odometer."""
    newest = entries[-1]
    stages = [entry.stage for entry in entries if entry.stage]
    at = f"at {stages[-1]}" if stages else "no stage named yet"
    reading = show.distance(newest.odometer_m)
    where = reading if newest.odometer_m is not None else f"odometer {reading}"
    told = count(len(entries), "entry", "entries")
    return f"{told}, {at}; the newest is {newest.work_date}, {where}"


def _table(
    newest_first: Sequence[Entry], corrected: set[str], show: Display, full: bool
) -> list[str]:
    """One line an entry; what was done is cut at the edge of the page."""
    titles = ["", "id", "date", show.unit("length").text, "kind", show.unit("power").text, "what"]
    rows = [[*row(one, show, one.id in corrected), what(one, full)] for one in newest_first]
    return cut_table([titles, *rows], full, right=(0, 3, 5), least=20)


def row(entry: Entry, show: Display, corrected: bool) -> list[str]:
    """Number, id, day, odometer, kind with its signs, peak power."""
    peak = recorded_peak(entry.measured)
    return [
        str(entry.number),
        entry.short + ("*" if entry.signed else ""),
        entry.work_date.isoformat(),
        _reading(entry, show),
        entry.kind + f" {_CORRECTED}" * corrected + f" {_OUTSIDE}" * entry.recorded_outside,
        show.number(peak.power_w, "power") if peak and peak.power_w else "",
    ]


def _reading(entry: Entry, show: Display) -> str:
    if entry.odometer_m is not None:
        return show.number(entry.odometer_m, "length")
    return "" if is_of_keys(entry.changed) else "unknown"


def what(entry: Entry, full: bool) -> str:
    """The stage, the message as it was typed, then the assemblies that it changed."""
    parts = [f"{entry.stage}: {entry.subject}" if entry.stage else entry.subject]
    parts += [key_words(changed)] if not full and (changed := changed_in_car(entry.changed)) else []
    return "; ".join(parts)

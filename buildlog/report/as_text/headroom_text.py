"""Headroom on one screen: what gives first when power is raised, and what comes behind it."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.answers.look_answers import HeadroomAnswer
from buildlog.analysis.margins.figures.margin_rows import Row, State, worth_asking
from buildlog.analysis.margins.first_reached import Ends, ReachedLimit, Room
from buildlog.report.as_text.margins_text import CAUTION, last_lines, left_words, power_words
from buildlog.report.in_units import in_units
from buildlog.report.lines import table, wrap
from buildlog.report.numbers import Display

NEXT = 3


def headroom_lines(answer: HeadroomAnswer, show: Display, full: bool = False) -> list[str]:
    """The whole screen."""
    found = answer.room
    lines = wrap(headline(found, show), 2, 0)
    lines += wrap(f"{answer.version.name}; {power_words(found.subject, show)}", 2, 2)
    if found.limits:
        lines += ["", *_table(found, show, full), *_upgrade(found, show)]
    lines += _apart(found, show, full)
    asked = worth_asking(list(found.unknown))
    return [*lines, CAUTION, *(last_lines(asked) if asked else ["next: buildlog margins"])]


def headline(found: Room, show: Display) -> str:
    """What runs out first, at what power."""
    how = "raising boost" if found.boost is not None else "raising power"
    gone = ", ".join(one.name for one in found.over)
    if not found.limits:
        none = f"{how}: no known limit is reached up to three times the present power"
        return f"no reserve left now: {gone}; {none}" if gone else none
    first = found.limits[0]
    lead = f"no reserve left now: {gone}; the next limit" if gone else "first limit"
    text = f"{lead}: {first.name}, at {_power(first.power, show)} at the wheels"
    if first.boost is not None:
        text += f" and {_boost(first.boost, show)} of boost"
    gain = (first.power.p50 or 0.0) - found.power
    return f"{text}; that is {show.value(gain, 'power', 0)} more than now ({how})"


def _table(found: Room, show: Display, full: bool) -> list[str]:
    boosted = found.boost is not None
    head = ["limit reached", "wheel power", "8 in 10", *(["boost"] if boosted else []), "basis"]
    rows = []
    for one in found.limits if full else found.limits[:NEXT]:
        boost = [_boost(one.boost, show)] if boosted else []
        rows.append([one.name, _power(one.power, show), _range(one, found, show), *boost,
                     one.row.basis])  # fmt: skip
    lines = table([head, *rows], right=(1, 2, 3) if boosted else (1, 2))
    for one in found.limits[:NEXT]:
        said = in_units("; ".join(one.row.capacity.sources[:2])) or "car.toml"
        lines += wrap(f"limit of {one.name}: {one.row.capacity.basis}, {said}", 6, 4)
    return lines


def _power(ends: Ends, show: Display) -> str:
    return "not reached" if ends.p50 is None else show.value(ends.p50, "power", 0)


def _boost(ends: Ends | None, show: Display) -> str:
    return "-" if ends is None or ends.p50 is None else show.value(ends.p50, "pressure")


def _range(one: ReachedLimit, found: Room, show: Display) -> str:
    """The band; an end at or below the present power is "now"."""
    low = one.power.p10
    first = "now" if low is None or low <= found.power * 1.0001 else show.number(low, "power", 0)
    high = one.power.p90
    return f"{first} to {'beyond' if high is None else show.number(high, 'power', 0)}"


def _upgrade(found: Room, show: Display) -> list[str]:
    """What a larger first part would allow: up to the limit behind it."""
    if len(found.limits) < 2:
        return []
    first, second = found.limits[:2]
    text = f"without {first.name} as a limit: {_power(second.power, show)}, then {second.name}"
    return wrap(text, 4, 2)


def _apart(found: Room, show: Display, full: bool) -> list[str]:
    """Limits that do not depend on power, and those that nobody can answer."""
    lines = [""]
    if not full and len(found.limits) > NEXT:
        behind = ", ".join(one.name for one in found.limits[NEXT:])
        lines += wrap(f"next in line (--full): {behind}", 2, 0)
    if found.not_reached:
        names = ", ".join(one.name for one in found.not_reached)
        lines += wrap(f"not reached up to three times the power: {names}", 2, 0)
    apart = [one for one in found.independent if full or one.state is not State.CLEAR]
    if apart:
        lead = "the same at any power" if full else "not clear at any power"
        lines += wrap(f"{lead}: {_names(apart, show)}", 2, 0)
    if found.unknown:
        lacks = [f"{one.name} ({', '.join(one.ask[:2])})" for one in found.unknown]
        lines += wrap(f"unknown, may come earlier: {', '.join(lacks)}", 2, 0)
    return lines


def _names(rows: Sequence[Row], show: Display) -> str:
    return ", ".join(f"{one.name} {left_words(one, show)}" for one in rows)

"""A built plan beside the car: promise and result, what was built otherwise, what came besides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildlog.analysis.answers.plan_result import BuiltPlan
from buildlog.analysis.car.changes import Change
from buildlog.analysis.car.version import Version
from buildlog.report.as_text.changes_text import CHANGED, Heading, brief_lines, change_lines
from buildlog.report.as_text.measured_text import deltas
from buildlog.report.as_text.promise_text import place, stored_gain
from buildlog.report.lines import table, wrap
from buildlog.report.numbers import Display, count, gains

_ESTIMATE = "an estimate, no approval: 8 results in 10 are expected inside"


def built_answer(built: BuiltPlan, show: Display) -> str:
    """The sentence that answers: whether it was built as planned, and whether it kept its word."""
    every = f"all {count(built.fields, 'field')}" if built.fields > 1 else "its one field"
    how = f"{every} as planned"
    if built.otherwise:
        number = len(built.otherwise)
        how = f"{number} of {count(built.fields, 'field')} otherwise than planned"
    return f"plan {built.name} is in the car since entry {built.entry}, {how}; {_word(built, show)}"


def _word(built: BuiltPlan, show: Display) -> str:
    wanted = stored_gain(built.promise, "power")
    if wanted is None:
        return "its quote promised no gain"
    promised = f"promised {_gain(wanted, 'power', show)}"
    if built.result is None:
        return f"{promised}; not measured: {built.reason}"
    power = built.result.power
    gained = show.change(power.peak_delta, power.half_width_95, "power")
    return f"{promised}, measured {gained}: {place(wanted, power, built.result)}"


def built_lines(built: BuiltPlan, show: Display, full: bool) -> list[str]:
    """Promise and result by quantity; what the car has otherwise; what the work changed besides."""

    def told(changes: Sequence[Change], over: Heading) -> list[str]:
        return change_lines(changes, full, over) if full else brief_lines(changes, over)

    lines = _delivered(built, show)
    if built.otherwise:
        lines += [*told(built.otherwise, ("otherwise", "planned", "in the car")), ""]
    if built.beside:
        lines += wrap(f"beside the plan, up to {_named(built.end)}", 2, 0)
        return [*lines, *told(built.beside, CHANGED)]
    return [*lines, "beside the plan the work changed nothing"]


def _delivered(built: BuiltPlan, show: Display) -> list[str]:
    if built.result is None:
        return []
    assert built.start is not None
    lines = wrap(f"promised and delivered, {_named(built.start)} to {_named(built.end)}", 2, 0)
    lines += table([["", "promised", "measured", "result"], *_rows(built, show)], right=(1, 2),
                   indent=2)  # fmt: skip
    said = f"quoted {built.promise.date}"
    if built.promise.accepted is not None:
        how = built.promise.accepted_how
        said += f", accepted {built.promise.accepted}" + (
            f" {how}" if how not in (None, "-") else ""
        )
    return [*lines, *wrap(f"{said}; {_ESTIMATE}", 4, 2), ""]


def _rows(built: BuiltPlan, show: Display) -> Iterator[list[str]]:
    assert built.result is not None
    for name, delta, dimension in deltas(built.result):
        wanted = stored_gain(built.promise, dimension)
        measured = show.change(delta.peak_delta, delta.half_width_95, dimension)
        if wanted is None:
            yield [name, "-", measured, "not promised"]
        else:
            yield [name, _gain(wanted, dimension, show), measured,
                   place(wanted, delta, built.result)]  # fmt: skip


def _gain(wanted: tuple[float, float], dimension: str, show: Display) -> str:
    unit = show.unit(dimension)
    low, high = gains(wanted, unit.factor)
    return f"{low} to {high} {unit.text}"


def _named(version: Version) -> str:
    return version.stage or f"entry {version.number}"

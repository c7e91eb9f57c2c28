"""Two sessions, groups or pulls side by side, and how two machines read one car."""

from __future__ import annotations

from buildlog.analysis.pulls.measured import Measured, Relation
from buildlog.analysis.pulls.stated_values import SessionComparison, StatedPoint
from buildlog.report.as_text.measured_text import headline, measured_lines
from buildlog.report.lines import table, wrap
from buildlog.report.numbers import Display, plain


def comparison_lines(found: SessionComparison, show: Display) -> list[str]:
    """The screen of `dyno compare`."""
    if found.measured is not None:
        lines = _measured(found.measured, found, show)
    else:
        lines = _stated(found, show)
    first, second = found.names
    session = second.partition("/")[0].partition(":")[0]
    return [*lines, "", f"next: buildlog dyno sheet {session or first}"]


def _measured(result: Measured, found: SessionComparison, show: Display) -> list[str]:
    """The answer, what is compared, the block that `diff` has too, and what is not alike."""
    names, why = found.names, found.why_observed
    lines = [*wrap(headline(result, show), 2, 0), *wrap(f"{names[0]}  →  {names[1]}", 4, 2), ""]
    lines += measured_lines(result, show)
    lines += wrap(why, 2) if why else []
    if result.reasons:
        lines += ["", "not like for like", *(f"  {reason}" for reason in result.reasons)]
    return lines


def _stated(found: SessionComparison, show: Display) -> list[str]:
    """Declared values side by side: no verdict."""
    lines = wrap(
        "no verdict: one side at least is only declared, and its scatter is not known", 2, 0
    )
    rows = [["", *found.names, "difference"]]
    for one in found.stated:
        delta = one.delta
        rows.append([
            f"peak {one.quantity}",
            _point(one.before, show, one.quantity),
            _point(one.after, show, one.quantity),
            "not formed" if delta is None else show.change(delta, None, one.quantity),
        ])  # fmt: skip
    lines += ["", *table(rows)]
    for reason in dict.fromkeys(reason for one in found.stated for reason in one.reasons):
        lines += wrap(f"not like for like: {reason}", 4, 2)
    return lines


def _point(point: StatedPoint, show: Display, quantity: str) -> str:
    return f"{show.value(point.value, quantity)} {point.basis}"


def relation_lines(found: Relation) -> list[str]:
    """The ratio of two machines with its interval, and what it is for."""
    percent, half = 100 * (found.ratio - 1), 100 * found.half_width
    lines = wrap(
        f"{found.second} reads {percent:+.1f} ± {half:.1f} % against {found.first} on the same "
        f"car (95 %, {len(found.pairs)} pair{'s' * (len(found.pairs) != 1)} of sessions)",
        2,
        0,
    )
    rows = [["pair", "", "", "ratio"]]
    rows += [
        [f"  {a}", "and", b, plain(ratio, 4)]
        for (a, b), ratio in zip(found.pairs, found.ratios, strict=True)
    ]
    lines += ["", *table(rows, right=(3,))]
    lines += wrap(
        f"used for comparisons between these two instead of 5 %: one standard deviation "
        f"{100 * found.u_difference:.1f} %, their disagreement included. No headline number is "
        "converted by it.",
        2,
    )
    a, b = found.pairs[0]
    return [*lines, "", f"next: buildlog dyno compare {a} {b}"]

"""What was measured, side by side: the block of a comparison, two sessions, two machines."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.pulls.measured import Delta, Extreme, Measured, Relation
from buildlog.analysis.pulls.stated_values import SessionComparison, StatedPoint
from buildlog.report.lines import table, wrap
from buildlog.report.numbers import (
    Display,
    axis_number,
    axis_scale,
    axis_unit,
    axis_value,
    count,
    freedom,
    plain,
)


def headline(result: Measured, show: Display) -> str:
    """The sentence that answers: what was gained, and whether the pulls can show it."""
    power = result.power
    word = "gain" if power.peak_delta >= 0 else "loss"
    if not (power.beyond_scatter and result.comparable):
        word = "difference"
    text = show.change(power.peak_delta, power.half_width_95, "power")
    return f"measured {word} {text} at the {result.at} (peak, 95 %): {verdict(power, result)}"


def verdict(delta: Delta, result: Measured) -> str:
    """Whether the difference is larger than the scatter; "not shown" is not "no change"."""
    if not result.comparable:
        return "no verdict: the two are not like for like"
    if delta.beyond_scatter:
        return "larger than the scatter"
    return "too small to tell from the scatter"


def measured_lines(result: Measured, show: Display, full: bool = True) -> list[str]:
    """Conditions above, then peaks, means and extremes with their intervals."""
    low, high = result.range
    unit, scale = axis_unit(result.axis), axis_scale(result.axis)
    n1, n2 = result.pulls
    lines = wrap(
        f"measured at the {result.at} ({conditions(result)}; {n1} and {count(n2, 'pull')})", 2, 0
    )
    rows = [["", "was", f"@ {unit}", "now", f"@ {unit}", "difference, 95 %", ""]]
    rows.append(_row("peak power", result.power, result, show, "power"))
    rows.append(_mean_row(f"mean {plain(low * scale)}-{plain(high * scale)}", result, show))
    if result.torque is not None:
        rows.append(_row("peak torque", result.torque, result, show, "torque"))
    lines += table(rows, right=(1, 2, 3, 4), indent=2)
    if result.torque is None:
        lines += wrap(f"torque      unknown: {result.torque_reason}", 14, 2)
    lines += _extremes(result, show) if full else _extremes_in_a_line(result, show)
    return lines + wrap(_basis(result, full), 2)


def deltas(result: Measured) -> Iterator[tuple[str, Delta, str]]:
    """Peak power, and peak torque where it is known: words, difference, dimension."""
    yield "peak power", result.power, "power"
    if result.torque is not None:
        yield "peak torque", result.torque, "torque"


def conditions(result: Measured) -> str:
    """The standard, gear and dyno that the numbers hold for."""
    a, b = (sheet.session for sheet in result.sheets)
    standard = {"none": "observed, no correction", "unknown": "correction unknown"}.get(
        result.standard, result.standard
    )
    parts = [standard]
    if a.gear and a.gear == b.gear:
        parts.append(f"gear {a.gear}")
    ids = [s.dyno.id if s.dyno and s.dyno.id else "not named" for s in (a, b)]
    dyno = f"dyno {ids[0]}" if ids[0] == ids[1] else f"dynos {ids[0]} and {ids[1]}"
    parts.append(f"{dyno} on two days" if a.date != b.date and ids[0] == ids[1] else dyno)
    recovered = [any(c.speed.state == "recovered" for c in g.curves) for g in result.groups]
    if any(recovered):
        sides = "both sides" if all(recovered) else "one side"
        parts.append(f"{result.sheets[1].turning} recovered on {sides}")
    return ", ".join(parts)


def _row(name: str, delta: Delta, result: Measured, show: Display, dimension: str) -> list[str]:
    before, after = delta.peak_from, delta.peak_to
    return [
        name,
        show.number(before.value, dimension),
        axis_number(before.at, result.axis),
        show.number(after.value, dimension),
        axis_number(after.at, result.axis),
        show.change(delta.peak_delta, delta.half_width_95, dimension),
        "shown" if delta.beyond_scatter and result.comparable else "too small",
    ]


def _mean_row(name: str, result: Measured, show: Display) -> list[str]:
    delta = result.power
    text = show.change(delta.mean_delta, delta.mean_half_width_95, "power")
    shown = delta.mean_beyond_scatter and result.comparable
    return [name, "", "", "", "", text, "shown" if shown else "too small"]


def _extremes(result: Measured, show: Display) -> list[str]:
    lines: list[str] = []
    for name, extreme in (("gain", result.largest_gain), ("loss", result.largest_loss)):
        if extreme is not None:
            lines += wrap(f"largest {name}  {_extreme(extreme, result, show)}", 16, 2)
    return lines


def _extremes_in_a_line(result: Measured, show: Display) -> list[str]:
    said = {True: "shown", False: "too small to tell", None: "no verdict"}
    words = [
        f"{name} {show.change(one.value, None, 'power')} at {axis_value(one.at, result.axis)}, "
        f"{said[one.shown if result.comparable else None]}"
        for name, one in (("gain", result.largest_gain), ("loss", result.largest_loss))
        if one is not None
    ]
    return wrap(f"largest {'; '.join(words)}", 4, 2) if words else []


def _extreme(extreme: Extreme, result: Measured, show: Display) -> str:
    said = {
        True: "larger than scatter alone would make it",
        False: "too small to tell from the scatter",
        None: "no verdict: no pull was repeated",
    }[extreme.shown]
    if not result.comparable:
        said = "no verdict: the two are not like for like"
    text = show.change(extreme.value, None, "power")
    return (
        f"{text} ({100 * extreme.relative:+.1f} %) at {axis_value(extreme.at, result.axis)}; {said}"
    )


def _basis(result: Measured, full: bool) -> str:
    scatter = result.scatter
    own = f"a pull {100 * scatter.s:.2f} %"
    if scatter.basis == "typical":
        own = "scatter of one pull 1 % (common practice: no pull was repeated)"
    elif full:
        own = f"scatter of one pull {100 * scatter.s:.2f} %, {freedom(scatter.dof)}"
    if parts := [*_by_basis(result)]:
        own += f"; {'widened for ' if full else ''}{', '.join(parts)}"
    return f"interval: {own}"


def _by_basis(result: Measured) -> Iterator[str]:
    """What an interval was widened by, with what each figure rests on, said once for all of it."""
    parts = [part for part in result.parts if part.u]
    for basis in dict.fromkeys(part.basis for part in parts):
        alike = (f"{part.text} {100 * part.u:.1f} %" for part in parts if part.basis == basis)
        yield ", ".join(alike) + (f" ({basis})" if basis else "")


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
        f"car (95 %, {count(len(found.pairs), 'pair')} of sessions)",
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

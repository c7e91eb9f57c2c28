"""The first page, for the customer: plain words, no table to be understood first."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.diff import Diff
from buildlog.report.booklet.content import Content
from buildlog.report.booklet.document import Block, Section, Span, bullets, joined, para
from buildlog.report.booklet.limits import close_to_limit
from buildlog.report.booklet.words import count, day, listed, state
from buildlog.report.numbers import Display, axis_value, digits_for, plain, signed

_TURBO = {
    "turbocharger": "turbocharged",
    "positive-displacement": "supercharged (positive displacement)",
    "centrifugal": "supercharged (centrifugal)",
    "naturally-aspirated": "naturally aspirated",
}
_DONE_KINDS = ("build", "correction")


def front(content: Content, show: Display) -> tuple[Section, ...]:
    """Six questions a customer has, each with its answer."""
    sections = (
        ("what-it-is", "What this car is", list(_car(content, show))),
        ("what-was-done", "What was done", list(_done(content))),
        ("what-was-gained", "What was gained, and how sure that is", list(_gained(content, show))),
        (
            "close-to-limits",
            "What is close to its limit",
            list(close_to_limit(content.margins, show)),
        ),
        ("open-faults", "Open faults", list(_faults(content, show))),
        ("not-checked", "What was not checked", list(_not_checked(content))),
    )
    return tuple(Section(name, title, tuple(body)) for name, title, body in sections if body)


def _car(content: Content, show: Display) -> Iterator[Block]:
    car, config = content.now.configuration.car, content.now.configuration
    engine, induction = config.engine, config.induction
    kind = {"spark-ignition": "petrol engine", "compression-ignition": "diesel engine",
            "hybrid": "hybrid drive", "electric": "electric drive"}  # fmt: skip
    words = []
    if engine and engine.layout and engine.cylinders:
        words.append(f"{engine.layout} {engine.cylinders}-cylinder")
    if content.displacement:
        words.append(f"of {1000 * content.displacement:.1f} litres")
    if induction and induction.kind:
        words.append(_TURBO.get(induction.kind, induction.kind))
    drive = kind.get(car.power_source or "", "engine")
    year = f"a {car.year} " if car.year else "a "
    engine_words = f" Its {drive} is {', '.join(words)}." if words else ""
    wheels = config.chassis.driven_wheels if config.chassis else None
    driven = f" It drives its {wheels} wheels." if wheels else ""
    yield para(
        f"This is {year}", Span(car.name, "strong"), f".{engine_words}{driven} On "
        f"{day(content.now.date)} it stood at {show.distance(content.now.odometer)}.",
    )  # fmt: skip


def _done(content: Content) -> Iterator[Block]:
    items = []
    for stage in content.stages:
        subjects = [one.version.subject for one in stage.entries if one.version.kind in _DONE_KINDS]
        subjects = subjects or [stage.after.subject]
        said = "; ".join(dict.fromkeys(subjects))
        when = day(stage.after.date)
        items.append(joined(Span(stage.name, "strong"), f" ({when}): {said}"))
    if items:
        yield bullets(items)


def _gained(content: Content, show: Display) -> Iterator[Block]:
    found = content.gain
    if found is None or found.measured is None:
        why = found.measured_reason if found is not None else _why_nothing(content)
        yield para(f"No gain can be stated: {why}.")
        return
    yield from gained(found, show)


def gained(found: Diff, show: Display) -> Iterator[Block]:
    """The measured gain in two sentences, and what had been predicted in a third."""
    result = found.measured
    assert result is not None
    power, unit = result.power, show.unit("power")
    before, after = power.peak_from, power.peak_to
    where = {"wheels": "at the wheels", "hubs": "at the hubs", "crank": "at the crank"}[result.at]
    half = power.half_width_95 / unit.factor
    change = signed(power.peak_delta / unit.factor, digits_for(half))
    yield para(
        f"From {found.before.name} to {found.after.name}, peak power {where} went from "
        f"{show.value(before.value, 'power')} at {axis_value(before.at, result.axis)} to "
        f"{show.value(after.value, 'power')} at {axis_value(after.at, result.axis)}: ",
        Span(f"{change} ± {plain(half, digits_for(half))} {unit.text}", "strong"), ".",
    )  # fmt: skip
    yield para(_how_sure(result.power.beyond_scatter, result.comparable, result.reasons))
    if found.predicted is not None and not found.predicted.changes_nothing:
        band = found.predicted.peak_power_delta
        low, high = (signed(x / unit.factor, 0) for x in (band.p10, band.p90))
        lies = {"inside": "lies inside that band", "below": "lies below that band",
                "above": "lies above that band"}  # fmt: skip
        said = f" The measured value {lies[found.lies.where]}." if found.lies else ""
        yield para(f"Calculated from the parts alone: {low} to {high} {unit.text} "
                   f"(eight times in ten).{said}")  # fmt: skip


def _how_sure(shown: bool, comparable: bool, reasons: tuple[str, ...]) -> str:
    if not comparable:
        return f"The two measurements are not like for like ({'; '.join(reasons)}): no verdict."
    interval = "The ± is the range that holds the true difference nineteen times in twenty"
    if reasons:
        interval += f"; it was widened because of {listed(list(reasons))}"
    if shown:
        return f"{interval}. The gain is larger than the dyno's own scatter."
    return f"{interval}. The dyno scatters more than that: a gain is not shown, nor is its absence."


def _why_nothing(content: Content) -> str:
    measured = [one for one in content.readings if one.group is not None]
    if not measured:
        return "the car was never measured on a dyno"
    if len({one.version.number for one in measured}) == 1:
        return "the car was measured in one state only, so there is nothing to compare"
    return "no two of the measurements can be set against each other like for like"


def _faults(content: Content, show: Display) -> Iterator[Block]:
    still = [one for one in content.faults if one.open]
    if not still:
        closed = len(content.faults)
        more = f" {count(closed, 'fault was', 'faults were')} found and closed." if closed else ""
        yield para(f"None is on record.{more}")
        return
    yield bullets(
        joined(
            state("open"), f" {one.fault.symptom or one.name}, since {day(one.fault.date)}"
            + (f", at {one.fault.odometer.text}" if one.fault.odometer else "")
        )
        for one in still
    )  # fmt: skip


def _not_checked(content: Content) -> Iterator[Block]:
    if content.not_checked:
        yield bullets(content.not_checked)

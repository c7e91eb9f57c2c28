"""The first page, for the customer: plain words, no table to be understood first."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.answers.comparison import Diff
from buildlog.analysis.car.version import Version
from buildlog.records.session import Stated
from buildlog.report.as_text.margins_text import left_words
from buildlog.report.booklet import document as doc
from buildlog.report.booklet.content import BookletContent, StageStory
from buildlog.report.booklet.limit_pages import UNKNOWN, close_to_limit
from buildlog.report.booklet.words import day, listed, state
from buildlog.report.numbers import Display, axis_value, count, digits_for, plain, signed

_TURBO = {
    "turbocharger": "turbocharged",
    "positive-displacement": "supercharged (positive displacement)",
    "centrifugal": "supercharged (centrifugal)",
    "naturally-aspirated": "naturally aspirated",
}
_DRIVES = {"spark-ignition": "petrol engine", "compression-ignition": "diesel engine",
           "hybrid": "hybrid drive"}  # fmt: skip
_NUMBERS = dict(enumerate(("one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
                           "ten", "eleven", "twelve"), start=1))  # fmt: skip
_DONE_KINDS = ("build",)
_KINDS = {"found": "found", "dyno": "measured", "check": "checked", "fault": "fault",
          "correction": "record corrected", "earlier": "before this ledger",
          "handover": "handed over"}  # fmt: skip
_WHERE = {"wheels": "at the wheels", "hubs": "at the hubs", "crank": "at the crank"}
_STAGES = 8  # on the first page; each has its own pages
_WORKS = 4  # of one stage


def front(content: BookletContent, show: Display) -> tuple[doc.Section, ...]:
    """Six questions a customer has, each with its answer."""
    sections = (
        ("what-it-is", f"What this {_vehicle(content)} is", list(_car(content, show))),
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
    return tuple(doc.Section(name, title, tuple(body)) for name, title, body in sections if body)


def answer(content: BookletContent, show: Display) -> doc.Spans:
    """The page in one line: what was gained, what is closest to its limit, what is open."""
    said = [_gain_in_short(content, show)]
    rows = [one for one in content.margins if not one.kind.information
            and one.state.value != UNKNOWN]  # fmt: skip
    if rows:
        said.append(f"Closest to its limit: {rows[0].name}, {left_words(rows[0], show)}.")
    still = sum(one.open for one in content.faults)
    said.append(f"{count(still, 'fault is', 'faults are')} open." if still else "No open fault.")
    return doc.joined(" ".join(filter(None, said)))


def _gain_in_short(content: BookletContent, show: Display) -> str:
    found = content.gain.measured if content.gain else None
    if found is None or not found.comparable:
        return ""
    power = found.power
    change = show.change(power.peak_delta, power.half_width_95, "power")
    if not power.beyond_scatter:
        return f"Measured difference {change}: neither a gain nor a loss is shown."
    word = "gain" if power.peak_delta >= 0 else "loss"
    return f"Measured {word} {change} {_WHERE[found.at]}."


def _vehicle(content: BookletContent) -> str:
    return content.now.configuration.car.vehicle


def _car(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    car, config = content.now.configuration.car, content.now.configuration
    year = f"a {car.year} " if car.year else "a "
    wheels = config.chassis.driven_wheels if config.chassis else None
    driven = ""
    if wheels:
        plural = "wheel" if car.vehicle == "motorcycle" and wheels != "all" else "wheels"
        driven = f" It drives {'' if wheels == 'all' else 'the '}{wheels} {plural}."
    yield doc.para(f"This is {year}", doc.Span(car.name, "strong"),
               f"{_engine(content)}.{driven}{_odometer(content, show)}")  # fmt: skip


def _engine(content: BookletContent) -> str:
    """ " with a turbocharged 2.6-litre inline six-cylinder petrol engine"; only what is known."""
    config = content.now.configuration
    engine, induction = config.engine, config.induction
    source = config.car.power_source or ""
    if source == "electric":
        rated = engine.rated_power if engine else None
        return f" with an electric drive{f' rated {rated.text}' if rated else ''}"
    words = []
    if induction and induction.kind:
        words.append(_TURBO.get(induction.kind, induction.kind))
    if content.displacement:
        words.append(f"{1000 * content.displacement:.1f}-litre")
    if engine and engine.layout:
        words.append(engine.layout)
    if engine and engine.cylinders:
        words.append(f"{_NUMBERS.get(engine.cylinders, str(engine.cylinders))}-cylinder")
    drive = _DRIVES.get(source, "engine")
    if not words and not source:
        return ""
    said = " ".join([*words, drive])
    return f" with {'an' if said[0] in 'aeiou' else 'a'} {said}"


def _odometer(content: BookletContent, show: Display) -> str:
    """When the odometer was last read; a handover without a reading repeats an older one."""
    found = last_read(content)
    if found is None:
        return " Its odometer was never noted."
    return f" Its odometer read {show.distance(found.odometer)} on {day(found.date)}."


def last_read(content: BookletContent) -> Version | None:
    """The entry of the newest reading of the odometer: the first that has it."""
    known = [one for one in _versions(content) if one.odometer is not None]
    return next((one for one in known if one.odometer == known[-1].odometer), None)


def _versions(content: BookletContent) -> list[Version]:
    told = [one.version for stage in content.stages for one in stage.entries]
    return [one for one in told if one.number <= content.now.number] or [content.now]


def _done(content: BookletContent) -> Iterator[doc.Block]:
    shown = content.stages[-_STAGES:]
    if len(shown) < len(content.stages):
        yield doc.para(f"The newest {len(shown)} of {len(content.stages)} stages; the others stand "
                   "under Stage by stage.", tone="quiet")  # fmt: skip
    if shown:
        yield doc.bullets(_stage_done(stage, content) for stage in shown)
    for stage in shown:
        if stage.passed_over and stage.before is not None:
            yield doc.para(passed_over(stage, stage.before))


def passed_over(stage: StageStory, before: Version) -> str:
    """Why a stage is set against an earlier one than the one before it."""
    names = stage.passed_over
    were = "was" if len(names) == 1 else "were"
    return (f"{listed(list(names))} {were} not measured on a dyno: {stage.name} is set against "
            f"{before.name}, and what was done since then is told with it.")  # fmt: skip


def _stage_done(stage: StageStory, content: BookletContent) -> doc.Cell:
    """The stage, and the work that its entries name; what was only found or measured says so."""
    done = [one.version.subject for one in stage.entries if one.version.kind in _DONE_KINDS]
    word = "" if done else _KINDS.get(stage.after.kind, "")
    if word == "measured" and not any(one.group for one in content.readings):
        word = "values as stated to us"
    subjects = list(dict.fromkeys(done or [stage.after.subject]))
    more = f"; and {len(subjects) - _WORKS} more" if len(subjects) > _WORKS else ""
    when = ", ".join(filter(None, (day(stage.after.date), word)))
    return doc.joined(
        doc.Span(stage.name, "strong"), f" ({when}): {'; '.join(subjects[:_WORKS])}{more}"
    )


def _gained(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    found = content.gain
    if found is None or found.measured is None:
        why = found.measured_reason if found is not None else _why_nothing(content)
        yield doc.para(f"No gain can be stated: {why}.")
        return
    yield from gained(found, show)


def gained(found: Diff, show: Display) -> Iterator[doc.Block]:
    """The measured gain in two sentences, and what had been predicted in a third."""
    result = found.measured
    assert result is not None
    power, unit = result.power, show.unit("power")
    before, after = power.peak_from, power.peak_to
    where = _WHERE[result.at]
    half = power.half_width_95 / unit.factor
    change = signed(power.peak_delta / unit.factor, digits_for(half))
    yield doc.para(
        f"From {found.before.name} to {found.after.name}, peak power {where} went from "
        f"{show.value(before.value, 'power')} at {axis_value(before.at, result.axis)} to "
        f"{show.value(after.value, 'power')} at {axis_value(after.at, result.axis)}: ",
        doc.Span(f"{change} ± {plain(half, digits_for(half))} {unit.text}", "strong"), ".",
    )  # fmt: skip
    yield doc.para(_how_sure(power.beyond_scatter, result.comparable, result.reasons,
                         "gain" if power.peak_delta >= 0 else "loss"))  # fmt: skip
    if found.predicted is not None and not found.predicted.changes_nothing:
        band, band_lies = found.predicted.peak_power_delta, found.predicted.lies
        low, high = (signed(x / unit.factor, 0) for x in (band.p10, band.p90))
        lies = {"inside": "lies inside that band", "below": "lies below that band",
                "above": "lies above that band"}  # fmt: skip
        said = f" What was measured {lies[band_lies.where]}." if band_lies else ""
        yield doc.para(
            f"What the changes should give, calculated from the first curve: {low} to {high} "
            f"{unit.text}, where eight results in ten are expected.{said}"
        )


def _how_sure(shown: bool, comparable: bool, reasons: tuple[str, ...], word: str) -> str:
    if not comparable:
        return f"The two measurements are not like for like ({'; '.join(reasons)}): no verdict."
    interval = "The ± is the range that holds the true difference nineteen times in twenty"
    if reasons:
        interval += f"; it was widened because of {listed(list(reasons))}"
    if shown:
        return f"{interval}. The {word} is larger than the dyno's own scatter."
    return (f"{interval}. The dyno scatters more than that: neither a gain nor a loss is shown, "
            "which is not the same as no change.")  # fmt: skip


def _why_nothing(content: BookletContent) -> str:
    measured = [one for one in content.readings if one.group is not None]
    if not measured:
        said = [one for reading in content.readings if reading.sheet
                for one in reading.sheet.session.stated]  # fmt: skip
        if said:
            return ("no file of a measurement exists, only what was stated: "
                    + "; ".join(_stated(one) for one in said))  # fmt: skip
        return "the car was never measured on a dyno"
    if len({one.version.number for one in measured}) == 1:
        return "the car was measured in one state only, so there is nothing to compare"
    return "no two of the measurements can be set against each other like for like"


def _stated(one: Stated) -> str:
    where = f" at the {one.measured_at}" if one.measured_at else ""
    return f"{one.quantity} {one.value}{where} ({one.source or 'source not said'})"


def _faults(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    still = [one for one in content.faults if one.open]
    if not still:
        closed = len(content.faults)
        more = f" {count(closed, 'fault was', 'faults were')} found and closed." if closed else ""
        yield doc.para(f"None is on record.{more}")
        return
    yield doc.bullets(
        doc.joined(
            state("open"), f" {one.fault.symptom or one.name}, since {day(one.fault.date)}"
            + (f", at {one.fault.odometer.text}" if one.fault.odometer else "")
            + (". Full load must wait until it is closed" if one.fault.holds_up_full_load else "")
        )
        for one in still
    )  # fmt: skip


def _not_checked(content: BookletContent) -> Iterator[doc.Block]:
    if content.not_checked:
        yield doc.bullets(content.not_checked)

"""The first page, for who buys the car or pays for the work: one sentence, the curve before and
after, what was done, what is close to a limit, what is not settled."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite

from buildlog.analysis.answers.next_steps import STEP_WORDS
from buildlog.analysis.car.legal import LegalFact
from buildlog.analysis.car.version import Version
from buildlog.analysis.margins.figures.margin_rows import Row, Rule, State
from buildlog.analysis.pulls.measured import Delta, Measured
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.workshop import wheel_and_crank
from buildlog.analysis.workshop.gates import closed
from buildlog.records.session import Stated
from buildlog.report.as_text.margins_text import distance, left_words, number, value
from buildlog.report.as_text.measured_text import conditions
from buildlog.report.as_text.sheet_text import change_words
from buildlog.report.booklet import document as doc
from buildlog.report.booklet import page_pictures
from buildlog.report.booklet.content import BookletContent, StageStory
from buildlog.report.booklet.limit_pages import answers, unknown_words
from buildlog.report.booklet.prices import quoted_prices
from buildlog.report.booklet.promises import promised
from buildlog.report.booklet.stages import corrections
from buildlog.report.booklet.words import brief_day, day, listed, sentence, statement
from buildlog.report.numbers import Display, axis_value, count, declared, plain
from buildlog.report.pictures.power_pictures import Item

_INDUCTION = {
    "turbocharger": "turbocharged",
    "positive-displacement": "supercharged (positive displacement)",
    "centrifugal": "supercharged (centrifugal)",
    "naturally-aspirated": "naturally aspirated",
}
_DRIVES = {"spark-ignition": "", "compression-ignition": "diesel", "hybrid": "hybrid drive"}
_NUMBERS = dict(enumerate(("one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
                           "ten", "eleven", "twelve"), start=1))  # fmt: skip
_KINDS = {"found": "found", "dyno": "measured", "check": "checked", "fault": "fault",
          "correction": "record corrected", "earlier": "before this ledger",
          "handover": "handed over"}  # fmt: skip
_ROWS = 5  # of what was done
_LIMITS = 2  # in the booklet; a report has one more
_NAMES = 4  # of limits that are close, too


def line(content: BookletContent, show: Display) -> doc.Spans:
    """Odometer with its date, VIN, layout."""
    told = _layout(content)
    one = identity(content.now, content.read, show)
    return doc.joined(*one, f"{' · ' if one else ''}{told}" if told else "")


def identity(now: Version, read: Version | None, show: Display) -> list[doc.Cell]:
    """ "89,541 mi on 6 June 2026 · VIN …"; what is not known is left out."""
    car = now.configuration.car
    parts: list[doc.Cell] = []
    if read is not None:
        parts += [doc.Span(show.distance(read.odometer), "strong"), f" on {day(read.date)}"]
    if car.vin or car.chassis_number:
        parts.append(f"{' · ' if parts else ''}{'VIN' if car.vin else 'chassis number'} ")
        parts.append(doc.Span(car.vin or car.chassis_number or "", "code"))
    return parts


def _layout(content: BookletContent) -> str:
    """ "drives the rear wheels, 2.6-liter inline six, turbocharged"; only what is known."""
    config = content.now.configuration
    wheels = config.chassis.driven_wheels if config.chassis else None
    said = []
    if wheels:
        one = config.car.vehicle == "motorcycle" and wheels != "all"
        said.append(
            f"drives {'' if wheels == 'all' else 'the '}{wheels} {'wheel' if one else 'wheels'}"
        )
    engine, induction = config.engine, config.induction
    source = config.car.power_source or ""
    if source == "electric":
        rated = config.motor.rated_power if config.motor else None
        rated = rated or (engine.rated_power if engine else None)  # as some older files have it
        return ", ".join([*said, f"electric{f', rated {declared(rated)}' if rated else ''}"])
    words = [f"{1000 * content.displacement:.1f}-liter"] if content.displacement else []
    words += [engine.layout] if engine and engine.layout else []
    if engine and engine.cylinders:
        words.append(f"{_NUMBERS.get(engine.cylinders, str(engine.cylinders))}")
    said += [" ".join(words)] if words else []
    said += [_DRIVES[source]] if _DRIVES.get(source) else []
    if induction and induction.kind:
        said.append(_INDUCTION.get(induction.kind, induction.kind))
    return ", ".join(said)


def lead(content: BookletContent, show: Display) -> doc.Spans:
    """The page in a few words: what was gained, what is closest to its limit, what is open."""
    said = [_gain_in_short(content, show)]
    rows = answers(content.margins)
    if rows:
        past = rows[0].state is State.OVER
        how = "Past its stated limit is" if past else "Closest to its limit is"
        tail = _carries(rows[0], show) if content.sheet_of else f": {left_words(rows[0], show)}"
        said.append(f"{how} {_plain(rows[0])}{tail}.")
    still = sum(one.open for one in content.faults)
    many = _NUMBERS.get(still, str(still)).capitalize()
    open_ones = f"{many} {'fault is' if still == 1 else 'faults are'} open."
    said.append(open_ones if still else "No fault is open.")
    return doc.joined(" ".join(filter(None, said)))


# What a driver would have to look up, in the words of a driver.
_PLAIN = {
    "mean piston speed": "the speed of the pistons",
    "full-load lambda": "the mixture at full load",
    "rail-to-manifold differential": "the fuel pressure",
    "heat to coolant": "the cooling",
}


def _plain(one: Row) -> str:
    return _PLAIN.get(one.name, one.name)


def _carries(one: Row, show: Display) -> str:
    """ ", at 270 of 284 lb·ft"; of a limit that is no amount, what is left."""
    if one.kind.rule is not Rule.RATIO:
        return f": {left_words(one, show)}"
    load, limit = _load(one, show)
    return f", at {load} of {limit}"


def _gain_in_short(content: BookletContent, show: Display) -> str:
    found = content.gain.measured if content.gain else None
    if found is None:
        return ""
    power = found.power
    now = show.value(power.peak_to.value, "power", 0)
    owner = "Your car now makes" if content.sheet_of else "The car makes"
    if not found.comparable:
        return (f"{owner} {now} at the {found.at}; how much that changed nobody can tell, because "
                "the two visits were not alike.")  # fmt: skip
    if not power.beyond_scatter:
        return f"{owner} {now} at the {found.at}; the difference is too small to tell."
    word = "more" if power.peak_delta >= 0 else "less"
    if content.sheet_of:
        return f"{owner} {now} at the {found.at}, {_aloud(power, word, show)}."
    change = show.change(abs(power.peak_delta), power.half_width_95, "power").lstrip("+")
    return f"{owner} {now} at the {found.at}, {change} {word} than before the work."


def _aloud(power: Delta, word: str, show: Display) -> str:
    """ "60 more than before, give or take 6": a difference that can be read out."""
    factor, half = show.unit("power").factor, power.half_width_95
    said = f"{plain(abs(power.peak_delta) / factor)} {word} than before"
    if half is None or not isfinite(half):
        return said
    return f"{said}, give or take {plain(max(half / factor, 1.0))}"


def front(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    """The booklet's first page below the sentence."""
    yield from _curve(content, show, ("before", "today"))
    cover = [one for one in content.attachments if one.cover and one.photo]
    photo = page_pictures.photos(cover[-1:], show)
    heading = doc.PageHeading("what-was-done", "What was done", 2)
    done: tuple[doc.Block, ...] = (heading, *_done(content, _ROWS - (photo is not None)))
    if photo is not None:
        yield doc.Columns((photo,), done)
    else:
        yield from done
    faults = (doc.PageHeading("open-faults", "Faults", 2), *_faults(content, show))
    open_points = (doc.PageHeading("not-checked", "Not checked", 2), *_not_checked(content))
    yield doc.Columns((*_close(content, show, _LIMITS),), (*faults, *open_points))
    yield from _codes(content, "by this booklet")


def report_front(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    """A report's one page below the sentence."""
    yield from _curve(content, show, ("before", "now"))
    yield from promised(content.stages, show)
    yield from quoted_prices(content.quoted)
    done = (doc.PageHeading("what-was-done", "What was done", 2), *_done(content))
    left = (*done, *corrections(content), *_close(content, show, _LIMITS + 1))
    right = (
        doc.PageHeading("full-power", "Before you use full power", 2),
        *_before_use(content, show),
        doc.PageHeading("not-settled", "Not settled", 2),
        *_sags(content, show),
        *_two_powers(content),
        *_not_checked(content),
        *_faults(content, show),
    )
    yield doc.Columns(left, right)
    yield from _codes(content, "on this page")


def _curve(content: BookletContent, show: Display, names: tuple[str, str]) -> Iterator[doc.Block]:
    found = content.gain
    result = found.measured if found else None
    if found is None or result is None:
        why = found.measured_reason if found is not None else _why_nothing(content)
        yield doc.para(f"No gain can be stated: {why}.")
        return
    pairs = zip((found.before, found.after), result.sheets, result.groups, strict=True)
    items = [
        Item(version.name, sheet, group, page_pictures.slot(content, version.name),
             version.configuration)
        for version, sheet, group in pairs
    ]  # fmt: skip
    days = " and ".join(
        f"{day(sheet.session.date)} ({name}{_session(sheet, content)})"
        for sheet, name in zip(result.sheets, (found.before.name, found.after.name), strict=True)
    )
    caption = f"{days}. {sentence(conditions(result))} ±: the true gain lies inside 19 times in 20."
    if content.sheet_of:
        caption += f" {mean_and_best(result, show)}"
    if not result.comparable:
        caption += f" Not like for like: {'; '.join(result.reasons)}."
    if {one.sheet.axis for one in items} == {result.axis}:
        low = bool(content.sheet_of)
        yield page_pictures.before_and_after(items, result, show, names, caption, low)


def _done(content: BookletContent, most: int = _ROWS) -> Iterator[doc.Block]:
    shown = _told_first(content.stages, most)
    rows = [(brief_day(one.after.date), doc.joined(*_stage_done(one, content))) for one in shown]
    yield doc.facts(rows)
    left = sum(one not in shown and _was_work(one) for one in content.stages)
    if left:
        yield doc.para(f"{count(left, 'more stage')}: see the history.", tone="quiet")
    for stage in shown:
        if stage.passed_over and stage.before is not None:
            yield doc.para(passed_over(stage, stage.before), tone="quiet")


def _told_first(stages: Sequence[StageStory], most: int) -> Sequence[StageStory]:
    """As many stages as there is room for: those that were only measured go first, which the
    curve shows, the older before the newer."""
    order = sorted(range(len(stages)), key=lambda at: (_was_work(stages[at]), at), reverse=True)
    return [stages[at] for at in sorted(order[:most])]


def _was_work(stage: StageStory) -> bool:
    """Whether more was done than to measure."""
    worked = any(one.version.kind == "build" for one in stage.entries)
    return worked or stage.after.kind != "dyno"


def passed_over(stage: StageStory, before: Version) -> str:
    """Why a stage is set against an earlier one than the one before it."""
    names = stage.passed_over
    were = "was" if len(names) == 1 else "were"
    return (f"{listed(list(names))} {were} not measured on a dyno: {stage.name} is set against "
            f"{before.name}, and what was done since then is told with it.")  # fmt: skip


def _stage_done(stage: StageStory, content: BookletContent) -> tuple[doc.Cell, ...]:
    """The stage, and the work that its entries name; what was only found or measured says so."""
    done = [one.version.subject for one in stage.entries if one.version.kind == "build"]
    word = "" if done else _KINDS.get(stage.after.kind, "")
    if word == "measured" and not any(one.group for one in content.readings):
        word = "values as stated to us"
    subjects = list(dict.fromkeys(done or [stage.after.subject]))
    more = f" And {len(subjects) - 3} more." if len(subjects) > 3 else ""
    lead_ = f"{stage.name} ({word})." if word else f"{stage.name}."
    return doc.Span(lead_, "strong"), f" {' '.join(map(statement, subjects[:3]))}{more}"


def _close(content: BookletContent, show: Display, most: int) -> Iterator[doc.Block]:
    """The worst rows with load, limit and what is left; the names of the others."""
    yield doc.PageHeading("close-to-limits", "Close to a limit", 2)
    known = answers(content.margins)
    told = [one for one in known if one.state in (State.OVER, State.CLOSE)]
    shown = told[:most] or known[:1]
    if shown:
        yield limit_table(shown, show)
    rest = [one.name for one in told[most:]]
    also = ""
    if rest:
        more = f" and {len(rest) - _NAMES} more" if len(rest) > _NAMES else ""
        also = f"Close also: {', '.join(rest[:_NAMES])}{more}. "
    unknown = unknown_words(content.margins)
    if shown or unknown:
        yield doc.para(f"{also}{unknown} Distances from stated limits, not approvals.".strip(),
                       tone="quiet")  # fmt: skip


def limit_table(shown: Sequence[Row], show: Display) -> doc.PageTable:
    """Load, limit and what is left of each, worst first."""
    rows = [[one.name, *_load(one, show), _left(one, show)] for one in shown]
    head = ("", "load", "limit", "left, 8 in 10")
    return doc.table("Limits, worst first", head, rows, right=(1, 2, 3))


def _load(one: Row, show: Display) -> tuple[str, str]:
    demand, capacity = one.margin.demand, one.margin.capacity
    assert demand is not None
    assert capacity is not None
    return number(demand.p50, one.kind, show), value(capacity.p50, one.kind, show)


def _left(one: Row, show: Display) -> str:
    """ "5 % (−3 to 11)"."""
    left = one.margin.left
    assert left is not None
    said = distance(left.p50, one.kind, show)
    if left.is_exact:
        return said
    low, high = (distance(end, one.kind, show).split(" ")[0] for end in (left.p10, left.p90))
    return f"{said} ({low} to {high})"


def _faults(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    still = [one for one in content.faults if one.open]
    if not still:
        closed_ = len(content.faults)
        more = f" {count(closed_, 'fault was', 'faults were')} found and closed." if closed_ else ""
        yield doc.para(f"No fault is open.{more}")
        return
    for one in still:
        at = f", at {declared(one.fault.odometer)}" if one.fault.odometer else ""
        wait = " Full load must wait until it is closed." if one.fault.holds_up_full_load else ""
        yield doc.para(doc.Span("Open: ", "strong"), f"{one.fault.symptom or one.name}, since "
                       f"{day(one.fault.date)}{at}.{wait}")  # fmt: skip


def _before_use(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    shut = [one for one in closed(content.gates) if one.step in ("pull", "hand-back", "running",
                                                                 "light-load-check")]  # fmt: skip
    seen: dict[str, str] = {}
    for gate in shut:
        left = f"{show.distance(gate.distance)} left: " if gate.distance else ""
        seen.setdefault(f"{left}{gate.why}", STEP_WORDS[gate.step])
    for why, step in list(seen.items())[:4]:
        yield doc.para(doc.Span(f"Before {step}: ", "strong"), sentence(why))
    if len(seen) > 4:
        yield doc.para(f"And {len(seen) - 4} more: ask before you use full power.")
    waits = any(one.open and one.fault.holds_up_full_load for one in content.faults)
    if not seen:
        held = "An open fault holds up full load: it stands on this page."
        yield doc.para(held if waits else "Nothing holds up full load.")


def _sags(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    name = content.now.name
    found = content.gain.measured if content.gain else None
    last = found.sheets[-1].name if found else None
    for one in content.readings:
        ours = one.session == last if last else one.version.number == content.now.number
        if ours and one.sheet and one.group:
            item = Item(name, one.sheet, one.group, 0, one.version.configuration)
            for sag in item.sags():
                at = axis_value(sag.at, one.sheet.axis)
                where = f"near {at}, in {len(sag.pulls)} of {count(sag.of, 'pull')}."
                beside = ", ".join(change_words(other, show) for other in sag.beside)
                moved = f" There {beside}." if beside else ""
                yield doc.para(
                    doc.Span(f"A sag of {100 * sag.depth:.1f} %", "strong"),
                    f" {where}{moved} The cause is not proven.",
                )


def _two_powers(content: BookletContent) -> Iterator[doc.Block]:
    """Power at the wheels beside a figure for the crank that does not fit it."""
    told = {f"dyno/{one.session}" for one in content.readings}
    for one in content.to_look_at:
        if one.code in wheel_and_crank.CODES and one.where in told:
            yield doc.para(sentence(one.text))


def _not_checked(content: BookletContent) -> Iterator[doc.Block]:
    if content.not_checked:
        yield doc.para(" ".join(map(sentence, content.not_checked)))
    else:
        yield doc.para("Nothing that the usual lists ask for.")


def _codes(content: BookletContent, where: str) -> Iterator[doc.Block]:
    """What local codes have something to say about, where equipment that they govern is not
    as it came."""
    told = [one.fact for one in content.facts if isinstance(one, LegalFact)]
    if told:
        yield doc.para(
            doc.Span("Local codes. ", "strong"), " ".join(map(sentence, told)),
            " Whether the car may be used on your roads is decided by local codes and a licensed "
            f"inspection, not {where}.", tone="ruled",
        )  # fmt: skip


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
    return f"{one.quantity} {declared(one.value)}{where} ({one.source or 'source not said'})"


def _session(sheet: Sheet, content: BookletContent) -> str:
    """On a report, which session it was."""
    return f", session {sheet.name}" if content.sheet_of else ""


def mean_and_best(result: Measured, show: Display) -> str:
    """Mean of the pulls and best pull, each by its name."""
    group, top = result.groups[1], result.power.peak_to
    at = axis_value(top.at, result.sheets[1].axis)
    mean = f"Mean of {count(group.pulls, 'pull')}: {show.value(top.value, 'power')} at {at}."
    return f"{mean} {best_pull(result, show)}"


def best_pull(result: Measured, show: Display) -> str:
    """The best single pull, beside the mean."""
    sheet, group = result.sheets[1], result.groups[1]
    tops = [(curve.peak(sheet.axis).value, curve.name) for curve in group.curves]
    top, name = max(tops)
    return f"Best single pull: {show.value(top, 'power')} ({name})."


def loggers(content: BookletContent) -> str:
    """Which sessions have files of other loggers, and which."""
    told = []
    for one in content.readings:
        logs = [log for curve in one.sheet.curves for log in curve.data.logs] if one.sheet else []
        if logs:
            named = ", ".join(dict.fromkeys(log.source for log in logs))
            told.append(f"{one.session}: {named}")
    return f"Beside the dyno, {'; '.join(told)}." if told else ""


def visit_rows(content: BookletContent, show: Display) -> Sequence[Sequence[doc.Cell]]:
    """Every visit to a dyno: session, version, peak, where, pulls, conditions."""
    rows: list[Sequence[doc.Cell]] = []
    for one in content.readings:
        sheet, group = one.sheet, one.group
        if sheet is None or group is None:
            why = doc.Span(one.problem or "stated values only", "quiet")
            rows.append([one.session, one.version.name, "", "", "", why])
            continue
        top, unit = group.peak_power, show.unit("power")
        half = plain(sheet.peak_half_width(group) / unit.factor, 1)
        said = {"none": "observed, uncorrected", "unknown": "correction unknown"}
        dyno = (
            sheet.session.dyno.id if sheet.session.dyno and sheet.session.dyno.id else "not named"
        )
        gear = f", gear {sheet.session.gear}" if sheet.session.gear else ""
        rows.append([
            one.session, one.version.name, f"{show.number(top.value, 'power')} ± {half}",
            axis_value(top.at, sheet.axis), str(group.pulls),
            f"{said.get(sheet.standard, sheet.standard)}; at the {sheet.at}; dyno {dyno}{gear}",
        ])  # fmt: skip
    return rows

"""The car as it is now: its parts, what the next workshop needs, and the checks."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from buildlog.analysis.answers.next_steps import STEP_WORDS
from buildlog.analysis.workshop.check_book import values_of
from buildlog.analysis.workshop.due_book import DueState
from buildlog.analysis.workshop.gates import closed
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.records.checked_paths import field, field_paths
from buildlog.records.checks import CheckedItem
from buildlog.records.fasteners import Fastener, Joint
from buildlog.records.key_words import piece_words
from buildlog.records.paths import Value, leaves
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.as_text.checklist_text import WORDS
from buildlog.report.as_text.due_text import again_words, left_words
from buildlog.report.booklet import document as doc
from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.stages import findings
from buildlog.report.booklet.words import (
    NEUTRAL,
    brief_day,
    day,
    one_unit,
    sentence,
    state,
)
from buildlog.report.in_units import in_units
from buildlog.report.numbers import Display, all_in, count, declared

_AGAIN = {"due": "due now", "none": "", "unknown": "unknown", "later": "later"}
# What an engine is set up by, in the order a workshop asks for it.
_SET_UP = {
    field("calibration.id"): "calibration",
    field("calibration.author"): "written by",
    field("induction.boost.target_gauge"): "boost",
    field("induction.boost.relief_gauge"): "relief valve opens at",
    field("calibration.boost_limit_gauge"): "boost cut at",
    field("calibration.lambda_full_load"): "lambda at full load",
    field("calibration.rev_limit"): "engine speed limit",
    field("fuel.kind"): "fuel",
    field("fuel.ron"): "octane, RON",
    field("fuel.ethanol_content"): "ethanol",
    field("fuel.injectors.system_pressure"): "fuel pressure",
    field("ignition.plug_gap"): "plug gap",
    field("tyres.pressure"): "tire pressure",
    field("engine.code"): "engine",
    field("engine.bore"): "bore",
    field("engine.stroke"): "stroke",
    field("engine.compression_ratio"): "compression ratio",
    field("engine.rated_power"): "rated power",
    field("engine.rated_torque"): "rated torque",
    field("motor.rated_power"): "motor, rated power",
}
_ENGINE = frozenset(_SET_UP[path] for path in _SET_UP if path.split(".")[0] in {"engine", "motor"})
_SET_UP_PATHS = field_paths(*_SET_UP)


def parts_section(content: BookletContent, show: Display) -> doc.Section | None:
    """Parts in the car, fitted here first; taken out; faults; open points."""
    blocks = [*_parts(content, show), *_faults(content, show), *_open_points(content)]
    return (
        doc.Section("parts", "Parts in the car", tuple(blocks), new_page=True) if blocks else None
    )


def _parts(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    pieces = [one for one in content.parts if one.fitted or one.identity.words or one.condition]
    unit = show.unit("length").text
    groups = (
        ("Fitted since this history began", [one for one in pieces if one.fitted]),
        ("In the car before this history began", [one for one in pieces if not one.fitted]),
    )
    rows: list[Sequence[doc.Cell]] = []
    for title, own in groups:
        rows += [[title], *[_part(one, show) for one in own]] if own else []
    if rows:
        head = ("part", "maker and number", "when fitted", "date", f"at {unit}", f"run, {unit}")
        yield doc.table(
            "Part by part, and how far each has run", head, rows, right=(4, 5), tight=(3,)
        )
    if content.gone:
        yield doc.table(
            "Parts taken out",
            ("part", "what it was", "fitted", "out", f"run, {unit}"),
            [_gone(one, show) for one in content.gone], right=(4,), tight=(2, 3),
        )  # fmt: skip


def _part(one: PartLife, show: Display) -> list[doc.Cell]:
    date = one.fitted_on or (one.fitted.date if one.fitted else None)
    at = one.car_at_fitting
    return [
        one.name,
        one.identity.words or NEUTRAL,
        one.condition or NEUTRAL,
        brief_day(date) if date else "before",
        show.number(at, "length") if at is not None else NEUTRAL,
        _run(one, show),
    ]


def _run(one: PartLife, show: Display) -> str:
    if one.distance is None:
        return "unknown"
    stated = " (declared)" if one.basis == "declared" else ""
    return f"{show.number(one.distance, 'length')}{stated}"


def _gone(one: PartLife, show: Display) -> list[doc.Cell]:
    out = brief_day(one.ended.date) if one.ended else ""
    fitted = brief_day(one.fitted.date) if one.fitted else "before"
    return [one.name, one.identity.words or NEUTRAL, fitted, out, _run(one, show)]


def _faults(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    rows: list[Sequence[doc.Cell]] = []
    for one in content.faults:
        closing = one.closing
        remedy = closing.remedy if closing and closing.remedy else ""
        word = "closed" if one.closed else "open"
        run = show.distance(one.part_distance) if one.part_distance is not None else ""
        part = piece_words(one.fault.part) if one.fault.part else ""
        rows.append([one.fault.symptom or one.name, brief_day(one.fault.date), state(word),
                     part, run, remedy])  # fmt: skip
    if rows:
        head = ("fault", "date", "", "part", "it had run", "what was done")
        yield doc.table("Faults", head, rows, tight=(1,))


def _open_points(content: BookletContent) -> Iterator[doc.Block]:
    """What holds something up; a statement that nothing does."""
    yield doc.PageHeading("gates", "Open points")
    shut = closed(content.gates)
    if not shut:
        yield doc.para("Nothing holds up full load.")
    for one in shut:
        yield doc.para(doc.Span(f"Before {STEP_WORDS[one.step]}: ", "strong"), sentence(one.why))
    yield from findings(content.to_look_at)


def workshop_section(content: BookletContent, show: Display) -> doc.Section | None:
    """For the next workshop: how it is set up, what was tightened, calibrations, checks."""
    blocks = [*_set_up(content, show), *_tightened(content, show), *_calibrations(content),
              *_checks(content)]  # fmt: skip
    title = "For the next workshop"
    return doc.Section("workshop", title, tuple(blocks), new_page=True) if blocks else None


def _set_up(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    """How it is set up; beside it what comes due, then the engine."""
    known: dict[str, Value] = dict(leaves(content.now.configuration).items())
    rows = [
        (_SET_UP[path], value_text(known[path], path)) for path in _SET_UP_PATHS if path in known
    ]
    engine = [row for row in rows if row[0] in _ENGINE]
    electric = content.now.configuration.car.power_source == "electric"
    groups = [
        ("set-up", "Set up as", [row for row in rows if row not in engine]),
        ("due", "Due", [(one.name, due_words(one, show)) for one in content.dues]),
        ("engine", "Motor" if electric else "Engine", engine),
    ]
    blocks: list[tuple[doc.Block, doc.Block]] = [
        (doc.PageHeading(name, title), doc.facts(told)) for name, title, told in groups if told
    ]
    if len(blocks) == 1:
        yield from blocks[0]
    elif blocks:
        yield doc.Columns(blocks[0], tuple(one for block in blocks[1:] for one in block))


def due_words(one: DueState, show: Display) -> str:
    """ "every 3000 mi or 12 months; 2,965 mi left, about 15 March 2027"."""
    left = left_words(one, show)
    told = [f"{left} left" if left and not left.endswith("over") else left]
    if one.missing:  # it may bring it sooner than what is known
        told.append(f"not known when: {', '.join(one.missing)}")
    elif one.on is not None:
        told.append(f"{'about ' if one.estimated else ''}{day(one.on)}")
    known = ", ".join(filter(None, told))
    return f"every {in_units(one.due.every)}; {known}"


def _tightened(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    rows: list[Sequence[doc.Cell]] = []
    units, in_head = _common_units([one.joint for one in content.joints])
    for one in content.joints:
        if one.due in ("done", "gone"):
            continue  # tightened again in a later row, or no longer in the car
        joint = one.joint
        again = _AGAIN[one.due]
        if one.due == "later":
            again = again_words(one, show)
        rows.append([
            joint.joint, brief_day(joint.date),
            " ".join(filter(None, (joint.thread, joint.grade, joint.condition))),
            in_head(_both(_spec, joint)), in_head(_both(_set_to, joint)),
            str(len(joint.fastener)),
            joint.tool or "", again,
        ])  # fmt: skip
    if rows:
        yield doc.table(
            "Tightened",
            ("joint", "date", "thread", f"range{units}", f"set to{units}", "no.", "tool", "again"),
            rows, right=(5,), tight=(1, 6),
        )  # fmt: skip
        yield from findings([f for one in content.joints for f in one.findings])


def _common_units(joints: Sequence[Joint]) -> tuple[str, Callable[[str], str]]:
    """ ", lb*ft (N*m)" for a head where all torques are in these, and cells without them."""
    torques = [piece.torque for joint in joints for piece in joint.fastener if piece.torque]
    torques += [q for joint in joints for q in (joint.spec_low, joint.spec_high) if q]
    typed = {one.unit.text for one in torques}
    told = {declared(one).rpartition(" ")[2] for one in torques}
    if len(typed) != 1 or len(told) != 1:
        return "", lambda text: text
    pattern = re.compile(rf" (?:{'|'.join(map(re.escape, typed | told))})(?![\w*/^])")
    named = ", ".join(told) if typed == told else f"{told.pop()} ({', '.join(typed)})"
    return f", {named}", lambda text: pattern.sub("", text)


def _both(words: Callable[[Joint], str], joint: Joint) -> str:
    """In the car's units; in brackets as it was typed, which is what the tool shows."""
    told = words(joint)
    with all_in(None):
        typed = words(joint)
    return (told if told == typed else f"{told} ({typed})") or NEUTRAL


def _spec(joint: Joint) -> str:
    asked = dict.fromkeys(declared(q) for q in (joint.spec_low, joint.spec_high) if q)
    return _turned(one_unit([*asked], " to "), joint.spec_angle)


def _set_to(joint: Joint) -> str:
    return one_unit([*filter(None, dict.fromkeys(map(_got, joint.fastener)))])


def _turned(torque: str, angle: object) -> str:
    """ "60 N*m + 90 deg"."""
    return " + ".join(filter(None, (torque, f"{angle}" if angle else "")))


def _got(piece: Fastener) -> str:
    """What a fastener got; a value that was read says so."""
    read = " (read)" if piece.how == "reading" else ""
    return _turned(f"{declared(piece.torque)}{read}" if piece.torque else "", piece.angle)


def _calibrations(content: BookletContent) -> Iterator[doc.Block]:
    now = content.now.configuration.calibration
    rows: list[Sequence[doc.Cell]] = []
    for one in content.calibrations:
        here = now is not None and now.id == one.id
        name: doc.Cell = doc.joined(one.id, " ", state("in the car")) if here else one.id
        span = "tried, not kept"
        if one.first and one.last:
            span = f"since {brief_day(one.first.date)}" if here else (
                f"{brief_day(one.first.date)} to {brief_day(one.last.date)}")  # fmt: skip
        digest = (
            doc.Span(f"{one.sha256[:8]} {one.sha256[8:16]}", "code") if one.sha256 else "no file"
        )
        rows.append([name, one.author or "", span, ", ".join(one.sessions), digest])
    if rows:
        head = ("calibration", "by", "in the car", "measured in", "file, SHA-256 begins")
        yield doc.table("Calibrations", head, rows)


def _checks(content: BookletContent) -> Iterator[doc.Block]:
    """Only what has a value, a remark, or did not pass; the rest in one line."""
    if not content.lists:
        return
    items = [item for done in content.lists for item in done.check.item]
    bad = sum(item.result == "fail" for item in items)
    yield doc.PageHeading("checklists", "Checks")
    out = sum(item.result == "not-applicable" for item in items)
    not_here = f", {out} {'does' if out == 1 else 'do'} not apply" if out else ""
    yield doc.para(f"{count(len(items), 'item')}. {bad or 'None'} did not pass{not_here}.")
    rows: list[Sequence[doc.Cell]] = []
    for done in content.lists:
        told = [item for item in done.check.item if _worth_a_row(item)]
        if told:
            rows.append([f"{done.check.list}, {day(done.check.date)}"])
            rows += [_item(item) for item in told]
    for words, result in (("Passed without remark", "pass"), ("Not applicable", "not-applicable")):
        short = [item.text or item.key for item in items
                 if item.result == result and not _worth_a_row(item)]  # fmt: skip
        if short:
            yield doc.para(f"{words}: {'; '.join(short)}.", tone="quiet")
    if rows:
        head = ("item", "value", "remark")
        yield doc.table("Items with a value or a remark", head, rows)


def _worth_a_row(item: CheckedItem) -> bool:
    if item.result == "not-applicable":
        return False
    return item.result != "pass" or bool(item.note or values_of(item) or item.codes)


def _item(item: CheckedItem) -> list[doc.Cell]:
    limits = " to ".join(in_units(one) for one in (item.low, item.high) if one)
    word = "" if item.result == "pass" else WORDS[item.result].lower()
    given = one_unit([*map(in_units, values_of(item))]) or ", ".join(item.codes)
    odd = f"limits {limits}" if limits and item.result != "pass" else ""
    remark = "; ".join(filter(None, (item.note, odd)))
    told = doc.joined(state(word), f": {remark}" if remark else "") if word else remark
    return [item.text or item.key, given, told]

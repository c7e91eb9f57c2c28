"""The car as it is now: parts, values, calibrations, fasteners, lists, gates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from buildlog.analysis.answers.next_steps import STEP_WORDS
from buildlog.analysis.workshop.check_book import values_of
from buildlog.analysis.workshop.gates import closed
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.records.paths import assembly, parts, words
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.as_text.checklist_text import WORDS
from buildlog.report.booklet import document as doc
from buildlog.report.booklet.content import BookletContent, DoneList, FieldRow
from buildlog.report.booklet.stages import finding_bullets, stem
from buildlog.report.booklet.words import NEUTRAL, day, either, short, state
from buildlog.report.numbers import Display

_AGAIN = {"due": "due now", "done": "done", "gone": "part no longer fitted", "none": "not asked",
          "unknown": "unknown", "later": "later"}  # fmt: skip


def car_sections(content: BookletContent, show: Display) -> Iterator[doc.Section]:
    """The configuration and the records that belong to it; sections with nothing are left out."""
    for name, title, blocks in (
        ("parts", "The car today, part by part", [*_parts(content, show)]),
        ("values", "The car today, every value", [*_values(content)]),
        ("calibrations", "Calibrations", [*_calibrations(content)]),
        ("fasteners", "Fasteners", [*_fasteners(content, show)]),
        ("checklists", "Checklists", [*_lists(content)]),
        ("gates", "Gates and open points", [*_gates(content)]),
        ("attachments", "Attachments", [*_attachments(content)]),
    ):
        if blocks:
            yield doc.Section(name, title, tuple(blocks))


def _parts(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    pieces = [one for one in content.parts if one.fitted or one.identity.words or one.condition]
    if pieces:
        yield doc.para(
            "What is in the car, since when, and how far each part has run. A part that was there "
            "before this ledger began says so; its distance is unknown unless somebody stated it."
        )
        yield doc.table(
            "Parts in the car",
            ("part", "which", "condition", "fitted", "odometer then", "distance on it", "by"),
            [_part(one, show) for one in pieces], right=(4, 5), tight=(3,),
        )  # fmt: skip
    if content.gone:
        yield doc.table(
            "Parts no longer in the car",
            ("part", "which", "fitted", "taken out", "distance on it"),
            [_gone(one, show) for one in content.gone], right=(4,),
        )  # fmt: skip


def _part(one: PartLife, show: Display) -> list[doc.Cell]:
    fitted = f"{day(one.fitted.date)}, entry {one.fitted.number}" if one.fitted else one.since
    if one.fitted_on:
        fitted = f"{day(one.fitted_on)}, stated"
    return [
        one.name,
        either(one.identity.words, "not on record"),
        either(one.condition, NEUTRAL),
        fitted,
        show.distance(one.car_at_fitting) if one.car_at_fitting is not None else (
            doc.Span("unknown", "quiet")
        ),
        _run(one, show),
        one.by or "",
    ]  # fmt: skip


def _run(one: PartLife, show: Display) -> doc.Cell:
    if one.distance is None:
        return doc.Span("unknown", "quiet")
    stated = " (declared)" if one.basis == "declared" else ""
    return f"{show.distance(one.distance)}{stated}"


def _gone(one: PartLife, show: Display) -> list[doc.Cell]:
    out = f"{day(one.ended.date)}, {short(one.ended)}" if one.ended else ""
    return [one.name, one.identity.words or "", one.since, out, _run(one, show)]


def _values(content: BookletContent) -> Iterator[doc.Block]:
    rows: list[Sequence[doc.Cell]] = []
    last = ""
    for (name, path, since), fields in groupby(content.fields, key=_field_key):
        if name != last:
            rows.append([name.replace("_", " ")])
            last = name
        rows.append([words(path) or path, _together([*fields]), since])
    if rows:
        yield doc.para(
            "As it was recorded, word for word. Since which entry each value stands, and whether "
            "it was found or made."
        )
        yield doc.table("Every value on record", ("field", "value", "since"), rows, tight=(2,))


def _field_key(one: FieldRow) -> tuple[str, str, str]:
    """Its assembly, the row it stands in (a part is one row), and since when it is so."""
    since = f"entry {one.since.number}" if one.since else NEUTRAL
    if one.since is not None and one.since.kind == "found":
        since += ", found"
    return assembly(one.path), stem(one.path), since


def _together(fields: Sequence[FieldRow]) -> str:
    """One value alone; of a part's values all of them, each behind its name where it needs one."""
    if len(fields) == 1:
        return value_text(fields[0].value)
    said = []
    for one in fields:
        own = parts(one.path)[-1].replace("_", " ")
        bare = own in ("maker", "name", "number", "condition", "note", "distance")
        said.append(value_text(one.value) if bare else f"{own} {value_text(one.value)}")
    return ", ".join(said)


def _calibrations(content: BookletContent) -> Iterator[doc.Block]:
    now = content.now.configuration.calibration
    rows: list[list[doc.Cell]] = []
    for one in content.calibrations:
        name: doc.Cell = one.id
        if now is not None and now.id == one.id:
            name = doc.joined(one.id, " ", state("in the car"))
        span = f"{short(one.first)} to {short(one.last)}" if one.first else "tried, not kept"
        digest: doc.Cell = (
            doc.Span(one.sha256, "code") if one.sha256 else doc.Span("no file", "quiet")
        )
        rows.append([name, one.author or "", span, ", ".join(one.sessions), digest])
    if rows:
        yield doc.table(
            "Calibrations, with the SHA-256 of their files",
            ("id", "by", "in the car", "measured in", "SHA-256"), rows,
        )  # fmt: skip


def _fasteners(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    rows: list[Sequence[doc.Cell]] = []
    for state_ in content.joints:
        joint = state_.joint
        spec = " to ".join(str(q) for q in (joint.spec_low, joint.spec_high) if q is not None)
        torques = list(dict.fromkeys(str(one.torque) for one in joint.fastener if one.torque))
        again = _AGAIN[state_.due]
        if state_.due == "later" and state_.left is not None:
            again = f"in {show.distance(state_.left)}"
        rows.append([
            joint.joint, joint.date.isoformat(),
            " ".join(filter(None, (joint.thread, joint.grade, joint.condition))),
            spec or NEUTRAL, ", ".join(torques) or NEUTRAL, str(len(joint.fastener)),
            joint.tool or "", joint.by or "", again,
        ])  # fmt: skip
    if rows:
        yield doc.table(
            "Tightening records",
            ("joint", "date", "thread", "asked for", "given", "pieces", "tool", "by", "again"),
            rows, right=(5,), tight=(1,),
        )  # fmt: skip
        told = [f for one in content.joints for f in one.findings if f.severity == "caution"]
        if told:
            yield finding_bullets(told)


def _lists(content: BookletContent) -> Iterator[doc.Block]:
    for number, done in enumerate(content.lists, start=1):
        yield doc.PageHeading(f"list-{number}", f"{done.check.list}, {day(done.check.date)}")
        yield doc.table(
            f"{done.check.title or done.check.list}, entry {done.version.number}",
            ("item", "result", "value", "limits", "by"),
            _items(done), tight=(1,),
        )  # fmt: skip


def _items(done: DoneList) -> Iterator[list[doc.Cell]]:
    for item in done.check.item:
        text: doc.Cell = item.text or item.key
        if item.note:
            text = doc.joined(text, doc.Span(f" {item.note}", "quiet"))
        limits = " to ".join(one for one in (item.low, item.high) if one)
        word = WORDS[item.result].lower()
        result: doc.Cell = state(word) if item.result != "pass" else word
        yield [text, result, ", ".join(values_of(item)) or ", ".join(item.codes), limits,
               item.by or ""]  # fmt: skip


def _gates(content: BookletContent) -> Iterator[doc.Block]:
    shut = closed(content.gates)
    if shut:
        yield doc.table(
            "Closed gates: what must not be started before something else is done",
            ("before", "why", "who can open it"),
            [[STEP_WORDS[one.step], one.why, one.who] for one in shut],
        )
    else:
        yield doc.para("A gate is closed while a step must not be started before something else is "
                   "done. No gate is closed.")  # fmt: skip
    if content.to_look_at:
        yield finding_bullets(content.to_look_at)


def _attachments(content: BookletContent) -> Iterator[doc.Block]:
    if content.attachments:
        yield doc.table(
            "Files that came with the entries",
            ("file", "entry", "bytes", "SHA-256"),
            [
                [
                    one.path, str(one.version.number), f"{one.size:,}",
                    doc.joined(doc.Span(one.sha256, "code"), *(
                        [doc.Span(" of a copy without position; original ", "quiet"),
                         doc.Span(one.original, "code")] if one.original else [])),
                ]
                for one in content.attachments
            ],
            right=(1, 2),
        )  # fmt: skip

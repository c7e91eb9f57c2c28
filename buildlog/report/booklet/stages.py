"""Stage by stage: what changed (made and found apart), what it did, what was looked at, by whom."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildlog.analysis.answers.comparison import Diff
from buildlog.analysis.car.changes import Change
from buildlog.analysis.workshop.check_book import counted
from buildlog.findings import Finding
from buildlog.records.paths import Value, same_value
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.as_text.measured_text import conditions, deltas, verdict
from buildlog.report.booklet import document as doc
from buildlog.report.booklet.content import Correction, EntryStory, StageStory
from buildlog.report.booklet.dyno_pages import curve_table, history_figure
from buildlog.report.booklet.front import gained
from buildlog.report.booklet.limit_pages import stage_margins
from buildlog.report.booklet.words import (
    NEUTRAL,
    entry_name,
    field_words,
    label,
    listed,
    replaced,
    state,
    who,
)
from buildlog.report.numbers import Display, axis_unit, axis_value, count, plain, signed

_DRAWN = 8  # stages whose curves are drawn, the newest; of older ones the numbers stand


def stage_sections(stages: Sequence[StageStory], show: Display) -> doc.Section | None:
    """All stages, oldest first."""
    measured = [one for one in stages if one.diff is not None and one.diff.measured is not None]
    drawn = {one.after.number for one in measured[-_DRAWN:]}
    blocks = [
        block for one in stages for block in stage_blocks(one, show, one.after.number in drawn)
    ]
    if not blocks:
        return None
    over = any(one.passed_over for one in stages)
    against = "the newest one before it that was measured" if over else "the one before it"
    lead = doc.para(
        f"Each stage is set against {against}. What was done is kept apart from what was "
        "merely found. A mistake that was put right later stays readable: it is struck through."
    )
    return doc.Section("stages", "Stage by stage", (lead, *blocks), new_page=True)


def stage_blocks(stage: StageStory, show: Display, drawn: bool = True) -> Iterator[doc.Block]:
    """One stage; with `drawn`, its curves as a figure, else as numbers alone."""
    anchor = f"stage-{stage.after.number}"
    yield doc.PageHeading(anchor, stage.name)
    yield doc.para(label(stage.after, show), tone="quiet")
    yield from _entries(stage, anchor)
    corrected = corrections_of(stage)
    if stage.diff is not None:
        yield from _changes(stage.diff, corrected, stage.righted)
        yield from _measured(stage, show, drawn)
        yield from _predicted(stage.diff, show)
        yield from stage_margins(stage.margins, stage.diff.before.name, stage.name, show)
        yield from _findings(stage.diff.findings)
    yield from _looked_at(stage)


def corrections_of(stage: StageStory) -> dict[str, Correction]:
    """Fields of car.toml that a later entry put right, by path."""
    return {
        change.path: correction
        for entry in stage.entries
        for correction in entry.corrections
        if correction.where == "car.toml" and correction.by.number > stage.after.number
        for change in correction.changes
    }


def _entries(stage: StageStory, anchor: str) -> Iterator[doc.Block]:
    yield doc.table(
        f"Entries of {stage.name}",
        ("entry", "date", "kind", "what", "who"),
        [_entry_row(one) for one in stage.entries], tight=(1, 2),
    )  # fmt: skip
    for one in stage.entries:
        for correction in one.corrections:
            yield _correction(one, correction)


def _entry_row(one: EntryStory) -> list[doc.Cell]:
    version = one.version
    what: doc.Spans = (doc.Span(version.subject),)
    if one.notes:
        what += (doc.Span(f" {' '.join(one.notes.split())}", "quiet"),)
    if one.corrections:
        by = sorted({correction.by.number for correction in one.corrections})
        what += (doc.Span(f" corrected by entry {', '.join(map(str, by))}", "state"),)
    if version.outside:
        what += (doc.Span(" recorded outside buildlog", "state"),)
    signed = f"; signed by {one.signed}" if one.signed else ""
    return [
        f"{version.number} {version.id[:8]}",
        version.date.isoformat() if version.date else NEUTRAL,
        version.kind,
        what,
        who(version.done_by, version.approved_by) + signed,
    ]


def _correction(one: EntryStory, correction: Correction) -> doc.Block:
    """A mistake and what replaced it, in words and struck through."""
    where = "" if correction.where == "car.toml" else f" in session {correction.where}"
    rows: list[list[doc.Cell]] = []
    for change in correction.changes:
        name = field_words(change.path) if not where else change.path.replace("_", " ")
        was: doc.Cell = doc.Span("not recorded", "quiet")
        if change.old is not None:
            was = doc.Span(_shown(change.old), "was")
        rows.append([name, was, doc.Span(_shown(change.new) if change.new is not None else
                                     "taken out", "now")])  # fmt: skip
    caption = f"Entry {one.version.number} was put right by {entry_name(correction.by)}{where}"
    return doc.table(caption, ("field", "written", "corrected to"), rows)


def _changes(
    found: Diff, corrected: dict[str, Correction], righted: Sequence[Change]
) -> Iterator[doc.Block]:
    since = f"since {found.before.name}"
    right = {one.path: one.new for one in righted}
    only_written = [one for one in found.changes
                    if one.path in right and same_value(right[one.path], one.new)]  # fmt: skip
    done = [one for one in found.changes if one not in only_written]
    for caption, chosen in (
        (f"Changes made {since}", [one for one in done if one.made]),
        (f"Changes found {since}, made by others", [one for one in done if not one.made]),
        (f"Records put right {since}: nothing was done to the car here", only_written),
    ):
        if chosen:
            yield _change_table(caption, chosen, corrected)
    if not found.changes:
        yield doc.para("Nothing physically different was recorded.")
    gone = [one for one in found.replaced if not one.came]
    if gone:
        times = dict.fromkeys(one.since for one in gone)
        yield doc.para("Taken out: " + "; ".join(
            f"{listed([field_words(one.path) for one in gone if one.since == when])}, "
            f"in the car since {when}" for when in times) + ".")  # fmt: skip


def _change_table(
    caption: str, chosen: Sequence[Change], corrected: dict[str, Correction]
) -> doc.PageTable:
    rows: list[Sequence[doc.Cell]] = []
    for name in dict.fromkeys(change.assembly for change in chosen):
        own = [change for change in chosen if change.assembly == name]
        plain = [change for change in own if stem(change.path) == change.path]
        rows.append([name.replace("_", " ")])
        rows += [[one.words or one.path, _shown(one.old), _now(one, corrected)] for one in plain]
        rows += _pieces([change for change in own if change not in plain])
    return doc.table(caption, ("field", "was", "now"), rows)


def _pieces(details: Sequence[Change]) -> Iterator[list[doc.Cell]]:
    """The fields of a part, or of a break-in, in one row: "part  Tolvane, TC-240, new"."""
    for head in dict.fromkeys(stem(change.path) for change in details):
        own = [change for change in details if stem(change.path) == head]
        old, new = (
            ", ".join(_shown(getattr(one, side)) for one in own if getattr(one, side) is not None)
            for side in ("old", "new")
        )
        yield [head.partition(".")[2].replace(".", " ").replace("_", " "), old or "-", new or "-"]


def stem(path: str) -> str:
    """The table whose fields belong together ("clutch.part"), else the field itself."""
    for name in ("part", "written_for", "break_in", "limit", "effect"):
        head, found, _ = path.partition(f".{name}.")
        if found:
            return f"{head}.{name}"
    return path


def _shown(value: Value | None) -> str:
    """A value; of a digest its beginning, which is enough to tell it from another."""
    text = value_text(value)
    is_digest = len(text) == 64 and not set(text) - set("0123456789abcdef")
    return f"{text[:12]}..." if is_digest else text


def _now(change: Change, corrected: dict[str, Correction]) -> doc.Cell:
    correction = corrected.get(change.path)
    if correction is None:
        return _shown(change.new)
    right = next(one.new for one in correction.changes if one.path == change.path)
    return doc.joined(*replaced(_shown(change.new), _shown(right)),
                  doc.Span(f" by entry {correction.by.number}", "quiet"))  # fmt: skip


def _measured(stage: StageStory, show: Display, drawn: bool) -> Iterator[doc.Block]:
    found = stage.diff
    assert found is not None
    result = found.measured
    if result is None:
        if found.measured_reason:
            yield doc.para(f"Measured difference: none ({found.measured_reason}).", tone="quiet")
        return
    yield from gained(found, show)
    rows: list[list[doc.Cell]] = []
    for name, delta, dimension in deltas(result):
        tops = (
            f"{show.value(top.value, dimension)} at {axis_value(top.at, result.axis)}"
            for top in (delta.peak_from, delta.peak_to)
        )
        change = show.change(delta.peak_delta, delta.half_width_95, dimension)
        rows.append([name, *tops, change, state(verdict(delta, result))])
    low, high = result.range
    unit = axis_unit(result.axis)
    mean = show.change(result.power.mean_delta, result.power.mean_half_width_95, "power")
    shown = result.power.mean_beyond_scatter and result.comparable
    rows.append([f"mean power, {plain(low)} to {plain(high)} {unit}", "", "", mean,
                 state("larger than the scatter" if shown else "not shown")])  # fmt: skip
    n1, n2 = result.pulls
    pulls = f"{count(n1, 'pull')} and {count(n2, 'pull')}"
    note = f"± holds the true difference 19 times in 20. {conditions(result)}; {pulls}"
    if result.torque is None and result.torque_reason:
        note += f". Torque is not known: {result.torque_reason}"
    if result.reasons:
        note += f". Widened or qualified because of: {'; '.join(result.reasons)}"
    yield doc.table(
        f"Measured at the {result.at}, {found.before.name} and {found.after.name}",
        ("quantity", found.before.name, found.after.name, "difference", "verdict"),
        rows, note=note, tight=(3,),
    )  # fmt: skip
    names = (found.before.name, found.after.name)
    items = list(zip(names, result.sheets, result.groups, strict=True))
    if {sheet.axis for _, sheet, _ in items} == {result.axis}:
        figure = history_figure(items, result, show) if drawn else None
        yield figure or curve_table(items, result, show, "power")


def _predicted(found: Diff, show: Display) -> Iterator[doc.Block]:
    result = found.predicted
    if result is None or result.changes_nothing:
        return
    unit = show.unit("power")
    band = result.peak_power_delta
    rows: list[list[doc.Cell]] = [
        [f"change of peak power [{unit.text}]",
         *(signed(x / unit.factor, 0) for x in (band.p10, band.p50, band.p90))],
    ]  # fmt: skip
    yield doc.table(
        f"Predicted from {result.before.name}'s {result.start.words}",
        ("quantity", "P10", "P50", "P90"), rows, right=(1, 2, 3),
        note="P10 to P90: eight results in ten are expected inside. A prediction is an estimate, "
        "no approval.",
    )  # fmt: skip
    shares = [one for one in result.raw.attribution.shares if abs(one.delta) / unit.factor >= 0.5]
    if shares:
        yield doc.table(
            "What the predicted change is made of (mean effect)",
            ("change", f"effect [{unit.text}]"),
            [[one.name.replace(".", " ").replace("_", " "), signed(one.delta / unit.factor, 0)]
             for one in shares], right=(1,),
        )  # fmt: skip


def _findings(found: Sequence[Finding]) -> Iterator[doc.Block]:
    told = [one for one in found if one.severity != "note"]
    if told:
        yield finding_bullets(told)


def finding_bullets(found: Sequence[Finding]) -> doc.Bullets:
    """Findings, the word for their severity first."""
    return doc.bullets(doc.joined(state(one.severity), f" {one.text}") for one in found)


def _looked_at(stage: StageStory) -> Iterator[doc.Block]:
    rows: list[list[doc.Cell]] = []
    for done in stage.lists:
        have, of = counted(done.check)
        failed = [item.text or item.key for item in done.check.item if item.result == "fail"]
        said: doc.Cell = f"{have} of {of} items answered"
        if failed:
            said = doc.joined(said, "; ", state("fail"), f" {'; '.join(failed)}")
        by = sorted({item.by for item in done.check.item if item.by})
        rows.append([f"{done.check.list} list", done.check.date.isoformat(), said, ", ".join(by)])
    for joint in stage.joints:
        one = joint.joint
        said = f"{count(len(one.fastener), 'fastener')} tightened"
        bad = [finding.text for finding in joint.findings if finding.severity == "caution"]
        said = doc.joined(said, "; ", state("caution"), f" {'; '.join(bad)}") if bad else said
        rows.append([one.joint, one.date.isoformat(), said, one.by or ""])
    for fault in stage.faults:
        word = "closed" if fault.closed else "open"
        text = fault.fault.symptom or fault.name
        remedy = fault.closing.remedy if fault.closing and fault.closing.remedy else None
        said = doc.joined(state(word), f" {text}" + (f"; {remedy}" if remedy else ""))
        rows.append(["fault", fault.fault.date.isoformat(), said, fault.fault.by or ""])
    if rows:
        caption = f"Looked at and tightened, {stage.name}"
        yield doc.table(caption, ("what", "date", "result", "by"), rows, tight=(1,))

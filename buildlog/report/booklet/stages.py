"""Entry by entry, and stage by stage: what changed, made and found apart, and what came of it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from buildlog.analysis.answers.comparison import Diff
from buildlog.analysis.car.changes import Change
from buildlog.findings import Finding
from buildlog.records.key_words import key_words, piece_words
from buildlog.records.paths import Value, same_value
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.booklet import document as doc
from buildlog.report.booklet import page_pictures
from buildlog.report.booklet.content import BookletContent, Correction, EntryStory, StageStory
from buildlog.report.booklet.words import (
    NEUTRAL,
    brief_day,
    field_words,
    first_sentence,
    label,
    listed,
    replaced,
    state,
    statement,
)
from buildlog.report.in_units import in_units
from buildlog.report.numbers import Display, count
from buildlog.report.weight import rank, weighty

_FIXED = 4  # values of a correction
_PAPERS = (".written_for", ".effect")  # nothing that a workshop acts on
_READERS = (
    ("To buy", "parts", "parts"),
    ("To value", "power", "power"),
    ("To work on it", "for the next workshop", "workshop"),
    ("To trust it", "how to check it", "how-to-check"),
)


def history_section(
    content: BookletContent, show: Display, others: Collection[str] = ()
) -> doc.Section:
    """Every entry in a row; peaks over the car's life; where to look in the `others`."""
    entries = [one for stage in content.stages for one in stage.entries]
    years = {one.version.date.year for one in entries if one.version.date}
    unit = show.unit("length").text
    rows = [_entry_row(one, show, len(years) > 1) for one in entries]
    signers = _signers(entries)
    title = f"History, entry by entry{f', {years.pop()}' if len(years) == 1 else ''}"
    told: list[doc.Cell] = [doc.Span("Where to look. ", "strong")]
    for who, said, to in (one for one in _READERS if one[2] in others):
        told += [f"{who}: ", doc.Span(said, "", to), ". "]
    blocks: list[doc.Block] = [
        doc.para(*told),
        doc.table(title, ("", "date", unit, "what", "by", "id"), rows, right=(2,), tight=(1, 4, 5)),
    ]
    blocks += [doc.para(signers, tone="quiet")] if signers else []
    blocks += corrections(content)
    life = page_pictures.life(content, show)
    blocks += [life] if life is not None else []
    return doc.Section("history", "History", tuple(blocks), new_page=True)


def _entry_row(one: EntryStory, show: Display, years: bool) -> list[doc.Cell]:
    version = one.version
    name = f"{version.stage}. " if version.stage else ""
    what: doc.Spans = (doc.Span(name, "strong"), doc.Span(statement(version.subject)))
    if one.notes:
        what += (doc.Span(f" {first_sentence(one.notes)}", "quiet"),)
    if one.corrections:
        by = sorted({correction.by.number for correction in one.corrections})
        what += (doc.Span(f" Corrected by entry {', '.join(map(str, by))}.", "state"),)
    if version.outside:
        what += (doc.Span(" Recorded outside buildlog.", "state"),)
    date = version.date.isoformat() if years and version.date else brief_day(version.date)
    odometer = show.number(version.odometer, "length") if version.odometer is not None else ""
    by_whom = "/".join(filter(None, (version.done_by, version.approved_by)))
    return [str(version.number), date, odometer, what, by_whom, doc.Span(version.id[:8], "code")]


def _signers(entries: Sequence[EntryStory]) -> str:
    """ "Entries 10 to 14: signed by bench 1; entry 15: signed by bench 2."."""
    runs: list[tuple[str, list[int]]] = []
    for one in entries:
        if not runs or runs[-1][0] != (one.signed or ""):
            runs.append((one.signed or "", []))
        runs[-1][1].append(one.version.number)
    told = [f"{_numbers(numbers)}: {who}" for who, numbers in runs if who]
    return statement("; ".join(told)) if told else ""


def _numbers(numbers: Sequence[int]) -> str:
    first, last = numbers[0], numbers[-1]
    return f"entry {first}" if first == last else f"entries {first} to {last}"


def corrections(content: BookletContent) -> Iterator[doc.Block]:
    """Every mistake that was put right, with what replaced it."""
    for stage in content.stages:
        for one in stage.entries:
            yield from (_correction(one, fix) for fix in one.corrections)


def _correction(one: EntryStory, correction: Correction) -> doc.Block:
    """A mistake and what replaced it, in words and struck through."""
    where = "" if correction.where == "car.toml" else f" in session {correction.where}"
    said: list[doc.Cell] = []
    for change in sorted(correction.changes, key=lambda one: rank(one.path))[:_FIXED]:
        name = field_words(change.path) if not where else key_words(change.path)
        was = _shown(change.old) if change.old is not None else "not recorded"
        now = _shown(change.new) if change.new is not None else "taken out"
        said += ["; " if said else "", f"{name} ", *replaced(was, now)]
    lead = f"Entry {one.version.number} was put right by entry {correction.by.number}{where}: "
    more = len(correction.changes) - _FIXED
    rest = f"; and {count(more, 'more value')}" if more > 0 else ""
    return doc.para(lead, *said, f"{rest}.", tone="quiet")


def stage_sections(content: BookletContent, show: Display) -> doc.Section | None:
    """What changed, stage by stage, with the photos of each."""
    seen: set[Finding] = set()
    blocks = [block for one in content.stages for block in stage_blocks(one, content, show, seen)]
    if not blocks:
        return None
    lead = doc.para("What a workshop acts on. All recorded values lie in the package.")
    return doc.Section("stages", "What changed, stage by stage", (lead, *blocks))


def stage_blocks(
    stage: StageStory, content: BookletContent, show: Display, seen: set[Finding]
) -> Iterator[doc.Block]:
    """One stage: its photos, what is to be looked at and was not `seen` before, what changed."""
    told = [*_changes(stage)] if stage.diff is not None else []
    numbers = {one.version.number for one in stage.entries}
    photos = page_pictures.photos(
        [one for one in content.attachments if one.version.number in numbers and not one.cover],
        show,
    )
    if not told and photos is None:
        return
    tables = [one for one in told if isinstance(one, doc.PageTable)]
    head: list[doc.Block] = [
        doc.PageHeading(f"stage-{stage.after.number}", stage.name),
        doc.para(label(stage.after, show), tone="quiet"),
        *(one for one in told if not isinstance(one, doc.PageTable)),
    ]
    if stage.diff is not None:
        head += findings([one for one in stage.diff.findings if one not in seen])
        seen.update(stage.diff.findings)
    if photos is not None and len(photos.items) == 1:
        yield doc.Columns((photos,), tuple(head))
    else:
        yield from [*head, *([photos] if photos is not None else [])]
    yield from tables


def corrections_of(stage: StageStory) -> dict[str, Correction]:
    """Fields of car.toml that a later entry put right, by path."""
    return {
        change.path: correction
        for entry in stage.entries
        for correction in entry.corrections
        if correction.where == "car.toml" and correction.by.number > stage.after.number
        for change in correction.changes
    }


def _changes(stage: StageStory) -> Iterator[doc.Block]:
    found = stage.diff
    assert found is not None
    since, corrected = f"since {found.before.name}", corrections_of(stage)
    right = {one.path: one.new for one in stage.righted}
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
    yield from _taken_out(found)


def _taken_out(found: Diff) -> Iterator[doc.Block]:
    gone = [one for one in found.replaced if not one.came]
    if gone:
        times = dict.fromkeys(one.since for one in gone)
        yield doc.para("Taken out: " + "; ".join(
            f"{listed([piece_words(one.path) for one in gone if one.since == when])}, "
            f"in the car since {when}" for when in times) + ".", tone="quiet")  # fmt: skip


def _change_table(
    caption: str, chosen: Sequence[Change], corrected: dict[str, Correction]
) -> doc.Block:
    rows: list[Sequence[doc.Cell]] = []
    left = 0
    for name in dict.fromkeys(change.assembly for change in chosen):
        own = [change for change in chosen if change.assembly == name]
        plain = [change for change in own if stem(change.path) == change.path]
        told = [[one.words or one.path, _shown(one.old), _now(one, corrected)] for one in plain
                if weighty(one.path) or one.path in corrected]  # fmt: skip
        told += _pieces([change for change in own if change not in plain])
        rows += [["" if at else key_words(name), *row] for at, row in enumerate(told)]
        left += len(own) - len(told)
    if not rows:
        return doc.para(f"{caption}: {count(left, 'value')}, in the package.", tone="quiet")
    note = f"And {count(left, 'more value')}, in the package." if left > 0 else ""
    return doc.table(caption, ("", "", "was", "now"), rows, note=note)


def _pieces(details: Sequence[Change]) -> Iterator[list[doc.Cell]]:
    """The fields of a part, or of a break-in, in one row: "part  Tolvane, TC-240, new"."""
    for head in dict.fromkeys(stem(change.path) for change in details):
        own = [
            c for c in details if stem(c.path) == head and not c.path.endswith((".note", ".source"))
        ]
        if not own or head.endswith(_PAPERS):
            continue
        old, new = (
            ", ".join(_shown(getattr(one, side)) for one in own if getattr(one, side) is not None)
            for side in ("old", "new")
        )
        yield [key_words(head.partition(".")[2].replace(".", " ")), old or NEUTRAL,
               new or NEUTRAL]  # fmt: skip


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
    return f"{text[:12]}..." if is_digest else NEUTRAL if value is None else text


def _now(change: Change, corrected: dict[str, Correction]) -> doc.Cell:
    correction = corrected.get(change.path)
    if correction is None:
        return _shown(change.new)
    right = next(one.new for one in correction.changes if one.path == change.path)
    return doc.joined(*replaced(_shown(change.new), _shown(right)),
                      doc.Span(f" by entry {correction.by.number}", "quiet"))  # fmt: skip


def findings(found: Sequence[Finding]) -> Iterator[doc.Block]:
    """What is more than a note, the word for its severity first."""
    for one in found:
        if one.severity != "note":
            yield doc.para(state(f"{one.severity}: "), in_units(one.text))

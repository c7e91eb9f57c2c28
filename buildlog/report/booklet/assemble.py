"""From the content to the document: which sections, in which order, and the first page."""

from __future__ import annotations

from collections.abc import Iterable

from buildlog.report.booklet import document as doc
from buildlog.report.booklet import page_pictures
from buildlog.report.booklet.car import parts_section, workshop_section
from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.document import Document, Section
from buildlog.report.booklet.front import (
    best_pull,
    front,
    lead,
    line,
    loggers,
    report_front,
    visit_rows,
)
from buildlog.report.booklet.limit_pages import margins_section
from buildlog.report.booklet.promises import promised
from buildlog.report.booklet.proof import NO_NAME, all_sections, caution_section, unbroken
from buildlog.report.booklet.stages import history_section, stage_sections
from buildlog.report.booklet.text import text
from buildlog.report.booklet.words import day
from buildlog.report.numbers import Display, declared


def booklet(content: BookletContent, show: Display) -> Document:
    """The whole booklet that leaves with a car."""
    sections = [
        parts_section(content, show),
        stage_sections(content, show),
        power_section(content, show),
        visits_section(content, show),
        margins_section(content, show),
        workshop_section(content, show),
        *all_sections(content, show),
    ]
    known = tuple(one for one in sections if one is not None)
    first = history_section(content, show, {one.name for one in known})
    return _document(content, show, front(content, show), (first, *known))


def stage_sheet(content: BookletContent, show: Display, *, full: bool = False) -> Document:
    """The report of one stage or a few on one page, as it goes with the invoice; with `full`
    what changed and the cautions behind it."""
    behind = [stage_sections(content, show), caution_section(content)] if full else []
    known = tuple(one for one in behind if one is not None)
    return _document(content, show, report_front(content, show), known)


def stage_text(content: BookletContent, show: Display, full: bool = False) -> list[str]:
    """The customer's page for a terminal, or the whole sheet, and how to have it as a file."""
    named = content.sheet_of
    out = f"{named[-1].replace(':', '-')}.pdf"
    told = text(stage_sheet(content, show, full=full))
    return [told, "", f"next: buildlog report {' '.join(named)} --out {out}"]


def power_section(content: BookletContent, show: Display) -> Section | None:
    """All versions with their difference and their table on one page."""
    items = page_pictures.items_of(content)
    if not items:
        return None
    gain, ends = content.gain, (items[0].name, items[-1].name)
    whole = gain is not None and (gain.before.name, gain.after.name) == ends
    compared = gain.measured if gain is not None and whole else None
    caption = "Mean of the pulls with its 95 % band."
    if compared is not None:
        caption += f" {best_pull(compared, show)}"
    figure = page_pictures.history(items, compared, show, "power", caption)
    return Section("power", "Power", (figure,), new_page=True)


def visits_section(content: BookletContent, show: Display) -> Section | None:
    """Torque, the visits to a dyno, and what was promised and measured stage by stage."""
    if not content.readings:
        return None
    blocks: list[doc.Block] = []
    items = [one for one in page_pictures.items_of(content) if one.top("torque")]
    if items:
        blocks.append(page_pictures.history(items, None, show, "torque", "Mean of the pulls."))
    unit = show.unit("power").text
    head = ("session", "version", f"peak power, {unit}", "at", "pulls", "conditions")
    rows = visit_rows(content, show)
    note = loggers(content)
    blocks.append(doc.table("Visits to a dyno", head, rows, right=(2, 3, 4), note=note))
    stated = [
        [one.session, f"{said.quantity} at the {said.measured_at}" if said.measured_at else
         said.quantity, declared(said.value), said.source or "not said"]
        for one in content.readings if one.sheet for said in one.sheet.session.stated
    ]  # fmt: skip
    if stated:
        title = "Stated values: no raw file exists, scatter not known"
        blocks.append(doc.table(title, ("session", "quantity", "value", "source"), stated, (2,)))
    blocks += promised(content.stages, show)
    return Section("visits", "Torque and visits", tuple(blocks), new_page=True)


def _document(
    content: BookletContent, show: Display, page: Iterable[doc.Block], sections: tuple[Section, ...]
) -> Document:
    car, proof = content.now.configuration.car, content.proof
    read = content.read
    shop = content.shop if content.shop and content.shop not in NO_NAME else None
    stage = content.stages[-1].name if content.stages else content.now.name
    kicker, at = "Build history", f"as of {day(content.now.date)}"
    if content.custody:
        at = f"handed on {day(content.custody[-1].record.date)}"
    if content.sheet_of:
        kicker, at = "After the work", ", ".join(one.name for one in content.stages) or stage
    odometer = f"{show.distance(read.odometer)}, " if read else ""
    told = [one.version.number for each in content.stages for one in each.entries]
    entries = ""
    if content.sheet_of and told:
        entries = f"This page tells of entries {min(told)} to {max(told)}."
    told_proof = doc.joined(
        doc.Span(unbroken(content), "strong"),
        " Compare this code with the one on the invoice: ",
        doc.Span(proof.fingerprint, "code"), ".",
    )  # fmt: skip
    if content.sheet_of:
        told_proof = doc.joined(f"{unbroken(content)} {entries} Fingerprint {proof.fingerprint}.")
    return Document(
        title=f"{car.name}, {car.year}" if car.year else car.name,
        kicker=f"{kicker} · kept by {shop}" if shop else kicker,
        at=at,
        line=line(content, show),
        lead=lead(content, show),
        front=tuple(page),
        sections=sections,
        running=f"{odometer}{day(content.now.date)}",
        foot=proof.fingerprint,
        proof=told_proof,
        qr=None if content.sheet_of else f"buildlog:1:{proof.fingerprint.replace('-', '')}",
    )  # fmt: skip

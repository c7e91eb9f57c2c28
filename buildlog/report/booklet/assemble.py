"""From the content to the document: which sections, in which order, and the cover."""

from __future__ import annotations

from buildlog.report.booklet.car import car_sections
from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.document import Document, Section, joined
from buildlog.report.booklet.dyno_pages import dyno_section
from buildlog.report.booklet.front import answer, front, last_read
from buildlog.report.booklet.limit_pages import margins_section
from buildlog.report.booklet.proof import NO_NAME, all_sections, caution_section, words_section
from buildlog.report.booklet.stages import stage_sections
from buildlog.report.booklet.text import text
from buildlog.report.booklet.words import day
from buildlog.report.numbers import Display, count


def booklet(content: BookletContent, show: Display) -> Document:
    """The whole booklet that leaves with a car."""
    middle = [dyno_section(content, show), stage_sections(content.stages, show)]
    sections = [words_section(), *(one for one in middle if one is not None)]
    limits = margins_section(content.margins, show)
    sections += [limits] if limits is not None else []
    sections += [*car_sections(content, show), *all_sections(content, show)]
    return _document(content, show, "Build history", tuple(sections))


def stage_sheet(content: BookletContent, show: Display) -> Document:
    """The sheet of one stage or a few, as it goes with the invoice."""
    middle = [stage_sections(content.stages, show)]
    sections = [one for one in middle if one is not None]
    sections.append(caution_section(content))
    kicker = "Stage sheet" if len(content.stages) == 1 else "Stage sheets"
    return _document(content, show, kicker, tuple(sections))


def stage_text(content: BookletContent, show: Display, full: bool = False) -> list[str]:
    """The customer's page for a terminal, or the whole sheet, and how to have it as a file."""
    named = content.sheet_of
    out = f"{named[-1].replace(':', '-')}.pdf"
    told = text(stage_sheet(content, show), front_only=not full)
    return [told, "", f"next: buildlog report {' '.join(named)} --out {out}"]


def _document(
    content: BookletContent, show: Display, kicker: str, sections: tuple[Section, ...]
) -> Document:
    car, proof = content.now.configuration.car, content.proof
    stage = content.stages[-1].name if content.stages else content.now.name
    number = car.vin or car.chassis_number
    read = last_read(content)
    strip = [
        ("stage", stage),
        ("date", day(content.now.date)),
        ("odometer", show.distance(read.odometer) if read else "never noted"),
        ("VIN" if car.vin else "chassis number", number or "not recorded"),
    ]
    year = f"{car.year}, " if car.year else ""
    begun, ended = day(content.first.date), day(content.now.date)
    between = f", {begun}" if begun == ended else f" from {begun} to {ended}"
    subtitle = f"{year}{count(proof.entries, 'entry', 'entries')}{between}"
    if content.sheet_of:
        told = [one.version.number for stage in content.stages for one in stage.entries]
        subtitle = f"{year}entries {min(told)} to {max(told)} of {proof.entries}"
    shop = content.shop if content.shop and content.shop not in NO_NAME else None
    kept = [joined(f"Kept by {shop}.")] if shop else []
    return Document(
        title=car.name,
        kicker=kicker,
        subtitle=subtitle,
        strip=tuple(strip),
        front=front(content, show),
        sections=sections,
        colophon=(*kept, joined(f"Fingerprint {proof.fingerprint}.")),
        answer=answer(content, show),
        shop=shop,
        seal=proof.fingerprint,
        qr=f"buildlog:1:{proof.fingerprint.replace('-', '')}",
    )

"""Quotes as files: HTML and PDF, one for each plan."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from buildlog.analysis.answers.plan_quotes import Quote
from buildlog.desk.give.packing import WrittenSheet, written_as
from buildlog.errors import UsageError
from buildlog.report.booklet.quote_page import quote_document
from buildlog.report.numbers import Display


def write_quotes(
    quotes: Sequence[Quote], places: Sequence[Path | None], show: Display, paper: str | None = None
) -> list[WrittenSheet]:
    """Write every quote to every place; with several, each file's name ends in its plan's."""
    wanted = [one for one in places if one is not None]
    _refuse_ending(places)
    made: list[WrittenSheet] = []
    for quote in quotes:
        document, page = quote_document(quote, show), None
        for place in wanted:
            out = place.with_stem(f"{place.stem}-{quote.offer.name}") if len(quotes) > 1 else place
            made.append(written_as(document, out, show, paper, instead=page))
            page = out if out.suffix.lower() == ".html" else page
    return made


def _refuse_ending(places: Sequence[Path | None]) -> None:
    for place, ending in zip(places, (".html", ".pdf"), strict=True):
        if place is not None and place.suffix.lower() != ending:
            raise UsageError(
                f"{place.name} does not end in {ending}", hint=f"--{ending[1:]} NAME{ending}"
            )

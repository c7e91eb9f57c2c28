"""`buildlog show --parts`: the parts in the car at a version."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.cli.common import say, say_json

if TYPE_CHECKING:
    from buildlog.analysis.version import Version
    from buildlog.cli.book import Book
    from buildlog.report.numbers import Display


def say_parts(book: Book, version: Version, shown: Display, as_json: bool) -> None:
    """Print the parts at a version, with since when and the distance on each."""
    from buildlog.analysis.partlife import part_at
    from buildlog.report.json_parts import version_json
    from buildlog.report.parts_text import part_json, parts_lines

    history = book.until_now if version.working else book.history
    found = part_at(history, version)
    if as_json:
        parts = [part_json(life) for life in found]
        say_json("show-parts", {"version": version_json(version), "parts": parts})
    else:
        say(parts_lines(found, version, shown))

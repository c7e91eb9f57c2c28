"""`buildlog show --parts`: the parts in the car at a version."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.cli.common import say, say_json

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.numbers import Display


def say_parts(book: Snapshot, version: Version, shown: Display, as_json: bool) -> None:
    """Print the parts at a version, with since when and the distance on each."""
    from buildlog.analysis.workshop.partlife import part_at
    from buildlog.report.as_json.json_parts import version_json
    from buildlog.report.as_text.parts_text import part_json, parts_lines

    history = book.until_now if version.working else book.history
    found = part_at(history, version)
    if as_json:
        parts = [part_json(life) for life in found]
        say_json("show-parts", {"version": version_json(version), "parts": parts})
    else:
        say(parts_lines(found, version, shown))

"""`buildlog show`: the configuration at a version, part by part."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import (
    display,
    json_option,
    ledger_option,
    read_ledger,
    say,
    say_json,
    units_option,
)

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.records.paths import Value


@click.command()
@click.argument("version", default="", metavar="[VERSION]")
@click.option("--assembly", help="One table only: engine, clutch, fuel, ...")
@click.option("--parts", is_flag=True, help="The parts with serials, since when, distance on them.")
@click.option("--at", "path", metavar="FIELD", help="One field's whole life: clutch.rated_torque")
@click.option("--full", is_flag=True, help="Parts, sources and notes too; nothing cut.")
@ledger_option
@units_option
@json_option
def command(
    version: str,
    assembly: str | None,
    parts: bool,
    path: str | None,
    full: bool,
    ledger_folder: Path | None,
    units: str | None,
    as_json: bool,
) -> None:
    """Show what is in the car at a version: since when, by whom.

    \b
    buildlog show stage-1
    buildlog show --assembly clutch
    buildlog show --at clutch.rated_torque

    Without a version: the newest entry, or the working files where nothing is recorded.
    """
    from buildlog.analysis.car.origin import life, origins
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.errors import UsageError
    from buildlog.records.configuration import Configuration
    from buildlog.records.paths import field_at, nearest
    from buildlog.report.as_json.json_parts import value_json, version_json
    from buildlog.report.as_text.show_text import Since, life_lines, show_lines

    with read_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        chosen = book.version(version) if version else _default(book)
        shown = display(ledger, units)
        if assembly is not None and assembly not in Configuration.model_fields:
            raise UsageError(
                f'there is no assembly "{assembly}"',
                hint=nearest(assembly, list(Configuration.model_fields)),
            )
        if path is not None:
            course = life(book.history, path)
            if not course:
                field_at(Configuration, path)  # says what was probably meant
            if as_json:
                say_json("show", {"path": path, "life": [_step(v, x, path) for v, x in course]})
            else:
                say(life_lines(path, course, shown))
            return
        if parts:
            from buildlog.cli.parts import say_parts

            say_parts(book, chosen, shown, as_json)
            return
        history = [v for v in book.history if not chosen.number or v.number <= chosen.number]
        history += [] if chosen.number else [chosen]
        since = {
            name: Since(origin, origin.kind == "found") for name, origin in origins(history).items()
        }
        if as_json:
            from buildlog.records.paths import leaves

            values = leaves(chosen.configuration)
            fields: dict[str, Any] = {
                name: {
                    **(value_json(value, name) or {}),
                    "since": version_json(since[name].version) if name in since else None,
                    "found": since[name].found if name in since else None,
                }
                for name, value in values.items()
            }
            say_json("show", {"version": version_json(chosen), "fields": fields})
        else:
            say(show_lines(chosen, since, shown, assembly, full))


def _default(book: Snapshot) -> Version:
    return book.history[-1] if book.history else book.working


def _step(version: Version, value: Value | None, path: str) -> dict[str, Any]:
    from buildlog.report.as_json.json_parts import value_json, version_json

    return {"version": version_json(version), "value": value_json(value, path)}

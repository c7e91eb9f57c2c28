"""`buildlog show`: the configuration at a version, part by part."""

from __future__ import annotations

import click

from buildlog.cli import names
from buildlog.cli.common import AnswerForm, say, say_json, units_form


@click.command()
@click.argument("version", default="", metavar="[VERSION]", shell_complete=names.version)
@click.option("--assembly", help="One table only: engine, clutch, fuel, ...")
@click.option("--parts", is_flag=True, help="The parts with serials, since when, distance on them.")
@click.option(
    "--at",
    "path",
    metavar="FIELD",
    help="One field's whole life: clutch.rated_torque",
    shell_complete=names.field,
)
@click.option("--full", is_flag=True, help="Parts, sources and notes too; nothing cut.")
@units_form
def command(
    form: AnswerForm, version: str, assembly: str | None, parts: bool, path: str | None, full: bool
) -> None:
    """Show what is in the car at a version: since when, by whom.

    \b
    buildlog show stage-1
    buildlog show --assembly clutch
    buildlog show --at clutch.rated_torque

    Without a version: the newest entry, or the working files where nothing is recorded.
    """
    from buildlog.desk.questions import day_books
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.show_json import life_json, parts_json, show_json
    from buildlog.report.as_text.show_text import life_lines, parts_lines, show_lines

    with opening.snapshot(form.ledger) as book:
        chosen = book.version(version) if version else book.newest
        shown = form.display(book.ledger)
        if assembly is not None:
            assembly = day_books.assembly_called(assembly)
        if path is not None:
            course = day_books.field_life(book, path)
            if form.as_json:
                say_json("show", life_json(path, course))
            else:
                say(life_lines(path, course, shown))
        elif parts:
            found = day_books.parts_at(book, chosen)
            if form.as_json:
                say_json("show-parts", parts_json(chosen, found))
            else:
                say(parts_lines(found, chosen, shown))
        else:
            since = day_books.since_when(book, chosen)
            if form.as_json:
                say_json("show", show_json(chosen, since))
            else:
                say(show_lines(chosen, since, shown, assembly, full))

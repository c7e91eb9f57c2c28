"""`buildlog set`: edit car.toml, keeping comments and order."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import ledger_option, open_ledger, say


@click.command()
@click.argument("assignments", metavar="PATH=VALUE...", nargs=-1, required=True)
@ledger_option
def command(assignments: tuple[str, ...], ledger_folder: Path | None) -> None:
    """Set fields of car.toml in the working files; an empty value removes the field.

    \b
    buildlog set engine.compression_ratio=9.0 fuel.injectors.flow="550 cc/min"
    buildlog set exhaust.sound_level=
    """
    from buildlog.desk.acts.editing import apply
    from buildlog.records.configuration import Configuration
    from buildlog.records.paths import differences
    from buildlog.records.reading import load, read
    from buildlog.report.as_text.changes_text import value_text
    from buildlog.store.ledger.names import WORKING

    with open_ledger(ledger_folder) as ledger:
        before = ledger.read(WORKING, "car.toml")
        after = apply(before, assignments)
        ledger.write_working("car.toml", after, expect=before)
    old, new = load(Configuration, before, "car.toml")[0], read(Configuration, after, "car.toml")
    changed = differences(old, new) if old else []
    for path, was, now in changed:
        say(f"{path}: {value_text(was, path)} -> {value_text(now, path)}")
    if old is None:
        say("car.toml was not valid before, and is now")
    elif not changed:
        say("the same as before, physically")
    say('next: buildlog record -m "what was done"')

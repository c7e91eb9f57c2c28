"""`buildlog schema`: the JSON Schema of a file, for editors and other programs."""

from __future__ import annotations

import click


@click.command()
@click.argument("name", default="car", metavar="[car|session|check|checklist|fault|torque]")
def command(name: str) -> None:
    """Print the JSON Schema of car.toml or another file of the ledger.

    \b
    buildlog schema
    buildlog schema checklist

    An editor that knows the first line `#:schema FILE` completes and checks as you type.
    """
    from buildlog.report.as_json.json_schema import schema_text

    click.echo(schema_text(name), nl=False)

"""`buildlog schema`: the JSON Schema of a file, for editors and other programs."""

from __future__ import annotations

import click


@click.command()
@click.argument("name", default="car", metavar="[car|session|check|checklist|fault|torque]")
@click.option("--output", metavar="COMMAND", help="Of what this command prints with --json.")
def command(name: str, output: str | None) -> None:
    """Print the JSON Schema of car.toml or another file of the ledger.

    \b
    buildlog schema
    buildlog schema checklist
    buildlog schema --output "dyno sheet"

    An editor that knows the first line `#:schema FILE` completes and checks as you type.
    """
    from buildlog.report.as_json.json_schema import output_schema_text, schema_text

    click.echo(output_schema_text(output) if output else schema_text(name), nl=False)

"""`buildlog explain`: what a figure means."""

from __future__ import annotations

import click

from buildlog.cli.common import json_option, say, say_json


@click.command()
@click.argument("name", metavar="[NAME]...", nargs=-1)
@json_option
def command(name: tuple[str, ...], as_json: bool) -> None:
    """What a figure means, its formula, its source, what is typical, what it does not say.

    \b
    buildlog explain clutch torque
    buildlog explain half-width

    Without a name: what can be explained.
    """
    from buildlog.report.as_text import explain_text

    if not name:
        if as_json:
            say_json("explain", {"names": list(explain_text.names())})
        else:
            say(explain_text.list_lines())
        return
    found = explain_text.explained(" ".join(name))
    if as_json:
        say_json("explain", explain_text.explain_json(found))
    else:
        say(explain_text.explain_lines(found))

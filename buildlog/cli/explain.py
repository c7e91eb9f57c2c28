"""`buildlog explain`: what a figure means."""

from __future__ import annotations

import click

from buildlog.cli import names
from buildlog.cli.common import AnswerForm, figures_form


@click.command()
@click.argument("name", metavar="[NAME]...", nargs=-1, shell_complete=names.figure)
@figures_form
def command(form: AnswerForm, name: tuple[str, ...]) -> None:
    """What a figure means, its formula, its source, what is typical, what it does not say.

    \b
    buildlog explain clutch torque
    buildlog explain half-width

    Without a name: what can be explained.
    """
    from buildlog.report.as_text import explain_text

    if name:
        found = explain_text.explained(" ".join(name))
        show = form.display_here()
        form.answer("explain", found, explain_text.explain_json, explain_text.explain_lines, show)
    else:
        known = {"names": list(explain_text.names())}
        form.answer("explain", known, dict, lambda _: explain_text.list_lines())

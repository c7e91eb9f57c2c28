"""`buildlog receive`: take a history over, after checking it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from buildlog.cli.common import PATH, AnswerForm, asking, bare_form


@click.command()
@click.argument("package", metavar="FILE", type=PATH)
@click.argument("folder", metavar="DIR", type=PATH)
@click.option("--sign", is_flag=True, help="Record that you took it over.")
@click.option("--odometer", help='With --sign: the reading, "42310 mi".')
@bare_form
def command(form: AnswerForm, package: Path, folder: Path, **said: Any) -> None:
    """Check a handover (its folder, its zip, or the bundle alone) and go on with it in DIR.

    \b
    buildlog receive tern-2026.zip tern

    Verifies first. Nothing is left behind of a file that is damaged or not what it says.
    The entries keep their ids.
    """
    from buildlog.desk.give.handing_over import receive
    from buildlog.report.as_json.acts_json import received_json
    from buildlog.report.as_text.acts_text import received_lines

    done = receive(package, folder, ask=asking(), **said)
    form.answer("receive", done, received_json, received_lines)

"""`buildlog shop copy`: the shop's own things, beside its ledgers, copied to another place."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import PATH, AnswerForm, bare_form


@click.command()
@click.argument("folder", type=PATH)
@bare_form
def command(form: AnswerForm, folder: Path) -> None:
    """Copy settings, staff codes, the customers' file and public keys to FOLDER.

    \b
    buildlog shop copy /media/stick

    The settings name the files of the shop's own: staff = "~/shop/staff.toml" and
    customers = "~/shop/customers.csv". Private keys are never copied; each car has its own
    copies by buildlog sync.
    """
    from buildlog.desk.acts.own_things import copy_own
    from buildlog.report.as_json.acts_json import own_things_json
    from buildlog.report.as_text.acts_text import own_things_lines

    form.answer("shop-copy", copy_own(folder), own_things_json, own_things_lines)

"""`buildlog key`: whose signature counts in this ledger, from which entry on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from buildlog.cli import common, names
from buildlog.cli.common import PATH, asking, ledger_option, open_ledger, say

key_option = click.option(
    "--key", type=PATH, help="The private key that signs (else signing_key of your settings)."
)
reason_option = click.option("--reason", help="Why, in a few words.")


@click.group()
def command() -> None:
    """The key register: who may sign, told by the place in the history and not by dates.

    \b
    buildlog key add "bench 1"
    buildlog key rotate "bench 2" --to ~/.ssh/new
    buildlog key compromised "bench 1" --last-good 12

    A key counts from the entry after the one that enters it. Keys are ordinary SSH keys of
    the kind ed25519: ssh-keygen -t ed25519 -f FILE makes one.
    """


@command.command("add")
@click.argument("name")
@click.option("--public", type=PATH, help="A colleague's .pub file; you vouch for it.")
@click.option(
    "--restart",
    is_flag=True,
    help="All earlier keys are lost and out of use. The break stays visible.",
)
@reason_option
@key_option
@ledger_option
def add(
    name: str,
    public: Path | None,
    restart: bool,
    reason: str | None,
    key: Path | None,
    ledger_folder: Path | None,
) -> None:
    """Enter a key under a name: a bench or a shop, no person.

    \b
    buildlog key add "bench 1"
    """
    from buildlog.desk.acts.key_register import add_key, restart_keys
    from buildlog.errors import UsageError
    from buildlog.report.as_text.acts_text import entered_lines

    if restart and public:
        raise UsageError("a restart enters your own key", hint="leave out --public")
    with open_ledger(ledger_folder) as ledger:
        if restart:
            done = restart_keys(ledger, name, reason=reason, key=key, ask=asking())
        else:
            done = add_key(ledger, name, public=public, key=key, ask=asking())
    say(entered_lines(done, key))


@command.command("rotate")
@click.argument("name")
@click.option("--to", "new", required=True, type=PATH, help="The new private key.")
@key_option
@ledger_option
def rotate(name: str, new: Path, key: Path | None, ledger_folder: Path | None) -> None:
    """Replace your key by a new one, entered under NAME; both sign.

    \b
    buildlog key rotate "bench 2" --to ~/.ssh/new
    """
    from buildlog.desk.acts.key_register import replace_key
    from buildlog.report.as_text.acts_text import register_lines

    with open_ledger(ledger_folder) as ledger:
        done = replace_key(ledger, name, new, key=key, ask=asking())
    say(register_lines(done, f'write signing_key = "{new}" in your settings file'))


@command.command("retire")
@click.argument("named", metavar="KEY", shell_complete=names.key)
@reason_option
@key_option
@ledger_option
def retire(named: str, ledger_folder: Path | None, **said: Any) -> None:
    """Take KEY (its name or fingerprint) out of use; what it signed stays good.

    \b
    buildlog key retire "bench 1"
    """
    from buildlog.desk.acts.key_register import retire_key
    from buildlog.report.as_text.acts_text import register_lines

    with open_ledger(ledger_folder) as ledger:
        done = retire_key(ledger, named, ask=asking(), **said)
    say(register_lines(done, "buildlog key list"))


@command.command("compromised")
@click.argument("named", metavar="KEY")
@click.option(
    "--last-good",
    required=True,
    metavar="ENTRY",
    help="The last entry it is good for.",
    shell_complete=names.version,
)
@reason_option
@key_option
@ledger_option
def compromised(named: str, last_good: str, ledger_folder: Path | None, **said: Any) -> None:
    """Say that KEY is in wrong hands. Another key in use must sign this.

    \b
    buildlog key compromised "bench 1" --last-good 12
    """
    from buildlog.desk.acts.key_register import give_key_up
    from buildlog.report.as_text.acts_text import register_lines

    with open_ledger(ledger_folder) as ledger:
        done = give_key_up(ledger, named, last_good, ask=asking(), **said)
    say(register_lines(done, "buildlog verify"))


@command.command("list")
@common.json_form
def list_(form: common.AnswerForm) -> None:
    """The keys that there are, and what became of each.

    \b
    buildlog key list
    """
    from buildlog.desk.questions.verifying import keys
    from buildlog.report.as_json.acts_json import keys_json
    from buildlog.report.as_text.acts_text import key_lines

    with open_ledger(form.ledger) as ledger:
        found = keys(ledger)
    form.answer("key-list", found, keys_json, key_lines)

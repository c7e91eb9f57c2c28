"""`buildlog key`: whose signature counts in this ledger, from which entry on."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import json_option, ledger_option, open_ledger, say, say_json

if TYPE_CHECKING:
    from buildlog.store.ledger.append import Recorder
    from buildlog.store.ledger.entries import Entry

key_option = click.option(
    "--key", "file", type=click.Path(path_type=Path),
    help="The private key that signs (else signing_key of your settings).",
)  # fmt: skip
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
@click.option(
    "--public", type=click.Path(path_type=Path), help="A colleague's .pub file; you vouch for it."
)
@click.option("--restart", is_flag=True, help="All earlier keys are lost. The break stays visible.")
@reason_option
@key_option
@ledger_option
def add(
    name: str,
    public: Path | None,
    restart: bool,
    reason: str | None,
    file: Path | None,
    ledger_folder: Path | None,
) -> None:
    """Enter a key under a name: a bench or a shop, no person.

    \b
    buildlog key add "bench 1"
    """
    from buildlog.cli.signing import signer
    from buildlog.desk.snapshot import settings
    from buildlog.errors import NotFound, UsageError
    from buildlog.store.ledger import key_events
    from buildlog.store.trust.sshsig import public_key

    if public is not None and not public.is_file():
        raise NotFound("there is no such file", where=str(public))
    with open_ledger(ledger_folder) as ledger:
        by = signer(file)
        if restart and public:
            raise UsageError("a restart enters your own key", hint="leave out --public")
        if restart:
            entry = key_events.restart(
                ledger, _recorder(), by, name, reason or "earlier keys are lost"
            )
        else:
            other = public_key(public.read_text("utf-8", "replace")) if public else None
            entry = key_events.add(ledger, _recorder(), by, name, other)
        shown = other.fingerprint if not restart and other else by.key.fingerprint
    _done(entry)
    say(f"  {name} is {shown}")
    say("  give this fingerprint to whoever is to check the history, on paper or by phone")
    if settings.load().signing_key is None:
        say(f'  to sign with it: signing_key = "{file}" in {settings.path()}')
    say("next: buildlog key list")


@command.command("rotate")
@click.argument("name")
@click.option(
    "--to", "new", required=True, type=click.Path(path_type=Path), help="The new private key."
)
@key_option
@ledger_option
def rotate(name: str, new: Path, file: Path | None, ledger_folder: Path | None) -> None:
    """Replace your key by a new one, entered under NAME; both sign.

    \b
    buildlog key rotate "bench 2" --to ~/.ssh/new
    """
    from buildlog.cli.signing import signer
    from buildlog.store.ledger import key_events

    with open_ledger(ledger_folder) as ledger:
        entry = key_events.rotate(ledger, _recorder(), signer(file), signer(new), name)
    _done(entry)
    say(f'next: write signing_key = "{new}" in your settings file')


@command.command("retire")
@click.argument("key")
@reason_option
@key_option
@ledger_option
def retire(key: str, reason: str | None, file: Path | None, ledger_folder: Path | None) -> None:
    """Take KEY (its name or fingerprint) out of use; what it signed stays good.

    \b
    buildlog key retire "bench 1"
    """
    from buildlog.cli.signing import signer
    from buildlog.store.ledger import key_events

    with open_ledger(ledger_folder) as ledger:
        gone = key_events.named(key_events.judged(ledger).ring, key)
        entry = key_events.retire(ledger, _recorder(), signer(file), gone, reason)
    _done(entry)
    say("next: buildlog key list")


@command.command("compromised")
@click.argument("key")
@click.option("--last-good", required=True, metavar="ENTRY", help="The last entry it is good for.")
@reason_option
@key_option
@ledger_option
def compromised(
    key: str, last_good: str, reason: str | None, file: Path | None, ledger_folder: Path | None
) -> None:
    """Say that KEY is in wrong hands. Another key in use must sign this.

    \b
    buildlog key compromised "bench 1" --last-good 12
    """
    from buildlog.cli.signing import signer
    from buildlog.errors import UsageError
    from buildlog.store.ledger import key_events

    with open_ledger(ledger_folder) as ledger:
        gone = key_events.named(key_events.judged(ledger).ring, key)
        last = ledger.resolve(last_good).entry
        if last is None:
            raise UsageError(f"{last_good} is not an entry", hint="buildlog history lists them")
        entry = key_events.compromised(ledger, _recorder(), signer(file), gone, last, reason)
    _done(entry)
    say("next: buildlog verify")


@command.command("list")
@ledger_option
@json_option
def list_(ledger_folder: Path | None, as_json: bool) -> None:
    """The keys that there are, and what became of each.

    \b
    buildlog key list
    """
    from buildlog.report.lines import table
    from buildlog.store.ledger import key_events
    from buildlog.store.trust.sshsig import PublicKey

    with open_ledger(ledger_folder) as ledger:
        found = key_events.judged(ledger)
    ring = found.ring
    rows: list[dict[str, Any]] = [
        {
            "name": name,
            "fingerprint": PublicKey(*key.split()).fingerprint,
            "state": ring.gone.get(key, "in use"),
            "signed": sum(1 for s in found.commits.values() if s.key and s.key.text == key),
        }
        for key, name in ring.names.items()
    ]
    if as_json:
        say_json("key-list", {"keys": rows})
        return
    if not rows:
        say(
            [
                "no key is entered: entries of this ledger are not signed",
                'next: buildlog key add "bench 1"',
            ]
        )
        return
    in_use = len(ring.active)
    say(f"{in_use} of {len(rows)} keys in use")
    body = [[row["name"], f"{row['signed']} signed", row["state"]] for row in rows]
    lines = table(body, right=(1,))
    for line, row in zip(lines, rows, strict=True):
        say([line, f"    {row['fingerprint']}"])
    say("next: buildlog verify")


def _recorder() -> Recorder:
    from buildlog.desk.snapshot import settings
    from buildlog.store.ledger.append import Recorder

    shop = settings.load().shop or "shop without a name"
    return Recorder(shop, dt.datetime.now(dt.UTC))


def _done(entry: Entry) -> None:
    say(f"recorded: entry {entry.number}, {entry.short}: {entry.subject}")

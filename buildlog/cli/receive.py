"""`buildlog receive`: take a history over, after checking it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import json_option, say, say_json

if TYPE_CHECKING:
    from buildlog.findings import Finding
    from buildlog.store.ledger.ledger import Ledger


@click.command()
@click.argument("package", metavar="FILE", type=click.Path(path_type=Path))
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--sign", "sign", is_flag=True, help="Record that you took it over.")
@click.option("--odometer", help='With --sign: the reading, "42310 mi".')
@json_option
def command(package: Path, folder: Path, sign: bool, odometer: str | None, as_json: bool) -> None:
    """Check a handover (its folder, its zip, or the bundle alone) and go on with it in DIR.

    \b
    buildlog receive tern-2026.zip tern

    Verifies first. Nothing is left behind of a file that is damaged or not what it says.
    The entries keep their ids.
    """
    from buildlog.cli.signing import signer
    from buildlog.desk.give.handing_over import take
    from buildlog.desk.snapshot import settings
    from buildlog.errors import DamagedLedger, NotFound
    from buildlog.report.as_json.json_parts import finding_json
    from buildlog.report.lines import finding_lines, wrap
    from buildlog.store.exchange import passing_on
    from buildlog.store.ledger.append import Recorder
    from buildlog.store.ledger.fingerprint import fingerprint
    from buildlog.store.ledger.ledger import Ledger
    from buildlog.store.verify.verdict import verify

    if not package.exists():
        raise NotFound(f"{package} does not exist", hint="name the folder, the zip or the bundle")
    sign_by = signer() if sign else None  # refuses before anything is made
    found = passing_on.read(package)
    told: list[Finding] = list(found.findings)

    def judge(ledger: Ledger) -> None:
        told.extend(passing_on.beside(found, ledger))
        result = verify(ledger)
        # the index is written with the files, after this
        told.extend(one for one in result.findings if one.code != "index")
        # a bundle's head has no checksum: a stage's name that moved is a fault here
        bad = [f for f in told if f.severity == "error" or f.code == "stage-tag"]
        if bad or result.verdict in ("altered", "cannot-tell"):
            raise DamagedLedger(
                bad[0].text if bad else "it holds no history",
                where=package.name,
                why=f"{len(bad) - 1} more faults" if len(bad) > 1 else None,
                hint="ask for it again; nothing was made of this one",
            )

    passing_on.receive(found, folder, judge)
    with Ledger.open(folder) as ledger:
        received = fingerprint(ledger)
        if sign_by is not None:
            shop = settings.load().shop or "owner without a name"
            take(ledger, Recorder(shop, dt.datetime.now(dt.UTC), sign=sign_by), sign_by, odometer)
        entries = ledger.entries()
    if as_json:
        say_json("receive", {"folder": str(folder), "entries": len(entries), "id": entries[0].id,
                             "fingerprint": received, "taken_over": sign,
                             "findings": [finding_json(one) for one in told]})  # fmt: skip
        return
    lines = wrap(f"received: {len(entries)} entries, unbroken; the ledger is in {folder}", 2, 0)
    lines += wrap(f"fingerprint {received}: compare it with the one on paper", 2, 0)
    lines += ["  recorded and signed that it was taken over"] if sign else []
    say([*lines, *finding_lines(told), f"next: cd {folder} && buildlog next"])

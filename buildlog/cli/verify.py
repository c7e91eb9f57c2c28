"""`buildlog verify`: is the history complete and unaltered."""

from __future__ import annotations

import dataclasses
import shlex
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import json_option, ledger_option, say, say_json

if TYPE_CHECKING:
    from buildlog.store.ledger.ledger import Ledger
    from buildlog.store.verify.verdict import Outside, Verdict, Verification


@click.command()
@click.argument("target", metavar="[LEDGER|HANDOVER]", required=False,
                type=click.Path(path_type=Path))  # fmt: skip
@click.option("--paper", metavar="FINGERPRINT", help="The fingerprint printed at a handover.")
@click.option(
    "--signers",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Public keys you got from the shop itself: a .pub or allowed_signers file.",
)
@ledger_option
@json_option
def command(
    target: Path | None,
    paper: str | None,
    signers: tuple[Path, ...],
    ledger_folder: Path | None,
    as_json: bool,
) -> None:
    """Check a ledger, or a handover as it came: its folder, its zip, or the bundle alone.

    \b
    buildlog verify
    buildlog verify tern.zip --paper 7KQ4-M2ZX-90DT-HC3V-81RA-5W
    buildlog verify tern.zip --signers shop.pub

    Every object is read, the chain of digests, the rules, signatures, files named by
    SHA-256. Says in plain words what is proved and what is not: without a key you know or
    a fingerprint on paper, a history rewritten as a whole cannot be told from the true one.
    """
    from buildlog.desk.snapshot.signing import known_signers
    from buildlog.report.as_json.json_parts import finding_json
    from buildlog.report.as_text.verify_text import verify_lines
    from buildlog.store.verify.verdict import Outside

    outside = Outside(known_signers(signers), bool(signers), paper)
    result = _result(target or ledger_folder, outside)
    checks = [(check.name, check.looked_at, check.held) for check in result.checks]
    good = result.last_good
    last_good = f"entry {good.number} ({good.short})" if good else None
    if as_json:
        body = {
            "verdict": result.verdict,
            "checks": [{"name": n, "looked_at": c, "held": h} for n, c, h in checks],
            "last_good": last_good,
            "signatures": dict(result.signed),
            "findings": [finding_json(finding) for finding in result.findings],
            "proves": list(result.proves),
            "does_not_prove": list(result.does_not_prove),
        }
        say_json("verify", body)
    else:
        say(
            verify_lines(
                result.verdict,
                checks,
                result.findings,
                last_good,
                result.proves,
                result.does_not_prove,
                list(result.signed.values()),
            )
        )
        say(["", f"next: {_next(result, target or ledger_folder)}"])
    if _is_empty(result):
        sys.exit(3)
    if result.verdict in ("altered", "cannot-tell"):
        sys.exit(5)
    if any(finding.severity != "note" for finding in result.findings):
        sys.exit(1)


def _is_empty(result: Verification) -> bool:
    return any(finding.code == "empty" for finding in result.findings)


def _next(result: Verification, target: Path | None) -> str:
    """The command that follows, as it can be pasted; in words where a copy is asked for."""
    at = f" --ledger {shlex.quote(str(target))}" if target else ""
    if _is_empty(result):
        return f'buildlog record -m "as it came" --kind found{at}'
    if result.verdict in ("altered", "cannot-tell"):
        return "verify a copy or the last handover, and go on with what is whole"
    if target is not None and (target.is_file() or _is_package(target)):
        return f"buildlog receive {shlex.quote(str(target))} {_free_name()}"
    return f"buildlog history{at}"


def _free_name() -> str:
    """A folder's name that is not taken here."""
    names = ("my-car", *(f"my-car-{number}" for number in range(2, 1000)))
    return next(name for name in names if not Path(name).exists())


def _result(target: Path | None, outside: Outside) -> Verification:
    from buildlog.errors import NotFound
    from buildlog.store.verify.verdict import verify_folder

    if target is not None and not target.exists():
        raise NotFound(f"{target} does not exist", hint="name a ledger's folder or a handover")
    here = (target or Path.cwd()).absolute()
    if target is not None and here.is_file() and not _may_be_package(here):
        raise NotFound(f"{target} is no ledger and no handover", hint="name a folder or a bundle")
    if target is not None and (here.is_file() or _is_package(here)):
        return _package(here, outside)
    for folder in (here, *here.parents):
        if (folder / ".git").exists():
            return verify_folder(folder, outside)
    raise NotFound(
        f"{target or 'this folder'} is not in a ledger", hint="name its folder, or a handover"
    )


def _may_be_package(file: Path) -> bool:
    with file.open("rb") as opened:
        return opened.read(3).startswith((b"PK", b"# v"))


def _is_package(folder: Path) -> bool:
    return (folder / "bagit.txt").exists() and not (folder / ".git").exists()


def _package(path: Path, outside: Outside) -> Verification:
    """A handover, unpacked for the time of the check; nothing of it stays."""
    from buildlog.errors import BuildlogError
    from buildlog.store.exchange import passing_on
    from buildlog.store.git.size_limits import TooLarge
    from buildlog.store.verify.damage_words import fault
    from buildlog.store.verify.verdict import Verification, verify

    found: list[Verification] = []

    def judge(ledger: Ledger) -> None:
        result = verify(ledger, outside)
        told = [*package.findings, *passing_on.beside(package, ledger)]
        kept = [one for one in result.findings if one.code != "index"]  # written after this
        large = result.verdict == "cannot-tell" and bool(result.findings)
        bad = not large and any(one.severity == "error" for one in told)
        result = dataclasses.replace(result, findings=(*told, *kept))
        found.append(dataclasses.replace(result, verdict="altered", proves=()) if bad else result)

    try:
        package = passing_on.read(path)
        with tempfile.TemporaryDirectory() as place:
            passing_on.open_draft(package.bundle, Path(place, "ledger"), judge)
    except BuildlogError as error:
        if not found:
            told = fault("package", error, path.name)
            nothing = ("anything: the history in it cannot be read",)
            verdict: Verdict = "cannot-tell" if isinstance(error, TooLarge) else "altered"
            return Verification(verdict, (), (told,), None, (), nothing)
    return found[0]

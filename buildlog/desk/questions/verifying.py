"""Is a ledger, or a handover as it came, complete and unaltered; whose keys vouch for it."""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from buildlog.analysis.car.written import KeyState
from buildlog.desk.snapshot.settings import known_signers
from buildlog.desk.snapshot.snapshot import today
from buildlog.errors import BuildlogError, DamagedLedger, NotFound
from buildlog.findings import Finding
from buildlog.store.exchange import passing_on
from buildlog.store.git.size_limits import TooLarge
from buildlog.store.ledger import copies, key_events
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.reader import Reader
from buildlog.store.trust.sshsig import PublicKey
from buildlog.store.verify.damage_words import fault
from buildlog.store.verify.verdict import Outside, Verdict, Verification, verify, verify_folder


def verified(
    target: Path | None = None, *, signers: Sequence[Path] = (), paper: str | None = None
) -> Verification:
    """What is proved of a ledger's folder, or of a handover: its folder, its zip, the bundle.

    `signers` are files of public keys from the shop itself, `paper` a fingerprint as printed.
    NotFound where there is neither; damage is in the result.
    """
    outside = Outside(known_signers(tuple(signers)), bool(signers), paper)
    if target is not None and not target.exists():
        raise NotFound(f"{target} does not exist", hint="name a ledger's folder or a handover")
    here = (target or Path.cwd()).absolute()
    if target is not None and is_handover(target):
        with tempfile.TemporaryDirectory() as place:  # nothing of it stays
            return unpack(here, Path(place, "ledger"), outside)
    for folder in (here, *here.parents):
        if (folder / ".git").exists():
            return _noted(folder, verify_folder(folder, outside))
    raise NotFound(
        f"{target or 'this folder'} is not in a ledger", hint="name its folder, or a handover"
    )


def _noted(folder: Path, found: Verification) -> Verification:
    """The same, with days that lie ahead; `next` says when it ran here last."""
    with suppress(BuildlogError, OSError), Ledger.open(folder) as ledger:
        if tip := ledger.repo.tip():
            copies.note_verified(ledger.repo, tip, today(), found.verdict)
            found = replace(found, findings=(*found.findings, *_ahead(ledger)))
    return found


def _ahead(ledger: Reader) -> Iterator[Finding]:
    """Entries of a day that is not yet anywhere: once it is recorded, every later day is asked
    about."""
    now = today()
    for entry in ledger.entries():
        if entry.work_date > now + dt.timedelta(days=1):
            text = (
                f"entry {entry.number} is dated {entry.work_date}, which lies ahead: today is {now}"
            )
            hint = "a clock was wrong: record says the day by --date, and why by --odometer-note"
            yield Finding("date-ahead", "note", text, where=entry.id, hint=hint)


def keys(ledger: Reader) -> list[KeyState]:
    """Every key there ever was, first to last."""
    found = key_events.judged(ledger)
    signers = [signed.key.text for signed in found.commits.values() if signed.key]
    return [
        KeyState(
            name,
            PublicKey(*key.split()).fingerprint,
            found.ring.gone.get(key),
            signers.count(key),
        )
        for key, name in found.ring.names.items()
    ]


def free_folder() -> str:
    """A name for a ledger that is not taken in the present folder."""
    names = ("my-car", *(f"my-car-{number}" for number in range(2, 1000)))
    return next(name for name in names if not Path(name).exists())


def is_handover(place: Path) -> bool:
    """Whether it came from somebody else: a bundle, a package's zip or folder. NotFound for a
    file that is neither."""
    if not place.is_file():
        return (place / "bagit.txt").exists() and not (place / ".git").exists()
    with place.open("rb") as opened:
        if opened.read(3).startswith((b"PK", b"# v")):
            return True
    raise NotFound(f"{place} is no ledger and no handover", hint="name a folder or a bundle")


def unpack(path: Path, folder: Path, outside: Outside | None = None) -> Verification:
    """A handover as a ledger in a new folder, and what is proved of it.

    Where nothing can be read there is no folder; else it is the caller's to remove.
    """
    found: list[Verification] = []
    known = outside or Outside(known_signers(()))

    def judge(ledger: Ledger) -> None:
        result = replace(verify(ledger, known), handover=True)
        told = [*package.findings, *passing_on.beside(package, ledger), *_ahead(ledger)]
        kept = [one for one in result.findings if one.code != "index"]  # written after this
        large = result.verdict == "cannot-tell" and bool(result.findings)
        bad = not large and any(one.severity == "error" for one in told)
        result = replace(result, findings=(*told, *kept))
        found.append(replace(result, verdict="altered", proves=()) if bad else result)

    try:
        package = passing_on.read(path)
        passing_on.open_draft(package.bundle, folder, judge)
    except BuildlogError as error:
        if not found:
            shutil.rmtree(folder, ignore_errors=True)
            told = fault("package", error, path.name)
            nothing = ("anything: the history in it cannot be read",)
            verdict: Verdict = "cannot-tell" if isinstance(error, TooLarge) else "altered"
            return Verification(verdict, (), (told,), None, (), nothing, handover=True)
    return found[0]


class Unpacked:
    """A handover as a ledger in a temporary folder, and what is proved of it.

    DamagedLedger where nothing of it can be read; then nothing is left, either.
    """

    def __init__(self, path: Path) -> None:
        self._holder = tempfile.TemporaryDirectory(prefix="buildlog-")
        self.folder = Path(self._holder.name, "ledger")
        try:
            self.result = unpack(path, self.folder)
            if not self.folder.exists():
                why = self.result.findings[0]
                raise DamagedLedger(why.text, where=str(path), hint=why.hint)
        except BaseException:
            self.remove()
            raise

    def remove(self) -> None:
        """Take the folder away."""
        self._holder.cleanup()

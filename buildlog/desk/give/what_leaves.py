"""What leaves with a handover and what stays, and a search for what should not leave.

The search covers everything that a bundle would carry: every recorded text, every entry's
message, every author. It asks a person to look; what is recorded cannot be taken out again.
"""

from __future__ import annotations

import contextlib
import getpass
import platform
import re
from collections.abc import Iterator
from pathlib import Path

from buildlog.analysis.workshop import privacy
from buildlog.analysis.workshop.leaving import Leaving, Probe
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, InvalidInput
from buildlog.records.checked_paths import field_paths, value_at
from buildlog.store.exchange import bundle, photo
from buildlog.store.exchange.told_places import tells_place
from buildlog.store.git.ledger_files import OUTSIDE, kind_of
from buildlog.store.ledger.names import PLANS
from buildlog.store.ledger.proposal import from_folder

_IDENTIFYING = field_paths("car.vin", "car.chassis_number")
_SHORTEST = 4  # of a name: a shorter one is found in any text
_COMMON = {"root", "user", "admin", "localhost", "home", "main"}


def leaving(book: Snapshot, *, plans: bool) -> Leaving:
    """Look at everything that would leave; nothing is written."""
    ledger = book.ledger
    newest = book.entries[-1]
    paths = list(ledger.files(newest))
    attachments = [path for path in paths if kind_of(path) in ("attachment", "outside")]
    pictures = [path for path in attachments if photo.is_photo(ledger.read(newest, path))]
    named = bundle.references(ledger.repo, plans=plans)
    texts = list(_texts(book, named))
    held = {path for path, _ in _recorded(book)}
    return Leaving(
        len(book.entries),
        sum(path.endswith("/session.toml") for path in paths),
        len(attachments),
        len(pictures),
        tuple(paths),
        tuple(name for name in named if name != "HEAD"),
        len(set(_recorded(book))) - len(paths),
        tuple(sorted(held - set(paths))),
        tuple(path for path in _IDENTIFYING if value_at(book.history[-1].configuration, path)),
        tuple(sorted({where for where, data in texts if not _is_text(data)})),
        tuple(_stays(book, plans)),
        tuple(_probes(book, texts)),
    )


def _stays(book: Snapshot, plans: bool) -> Iterator[str]:
    ledger = book.ledger
    change = from_folder(ledger).change
    if change:
        yield f"unrecorded edits in this folder: {', '.join(change.all[:4])}"
    others = ledger.working().left_alone
    if others:
        yield f"other files of this folder: {', '.join(sorted(others)[:4])}"
    kept = ledger.repo.references(PLANS)
    if kept and not plans:
        yield f"plans, with their prices: {', '.join(kept)}"
    away = [path for path in ledger.files(book.entries[-1]) if path.endswith(OUTSIDE)]
    away += _large(book)
    if away:
        more = f", and {len(away) - 4} more" if len(away) > 4 else ""
        yield f"files kept outside, by their digests alone: {', '.join(away[:4])}{more}"
    yield "your settings, git's own settings, logs and anything no entry refers to"
    yield "the customer's data, which you keep outside the ledger"


def _large(book: Snapshot) -> list[str]:
    """Raw files of which the ledger holds a part: the whole ones lie outside."""
    found: dict[str, None] = {}
    for name in (name for name, place in book.session_places.items() if place.number):
        with contextlib.suppress(BuildlogError):  # one that cannot be read is told by verify
            session = book.session(name)
            large = [one.file for one in session.pull if one.outside_sha256]
            large += [one.file for one in session.log if one.outside_sha256]
            found |= dict.fromkeys(f"the whole of dyno/{name}/{file}" for file in large)
    return list(found)


def _recorded(book: Snapshot) -> Iterator[tuple[str, str]]:
    """Every file of every entry, with the id of its content."""
    for entry in book.entries:
        yield from book.ledger.files(entry).items()


def _probes(book: Snapshot, texts: list[tuple[str, bytes]]) -> Iterator[Probe]:
    yield from _patterns(texts)
    for name, word in _machine(book.ledger.folder):
        found = [where for where, data in texts if _holds(data, word)]
        yield Probe(f"{name} is in the history", tuple(found))
    yield Probe("photos that tell where they were taken, or may", tuple(_positions(texts)))
    signed = [where for where, data in texts if privacy.names_author(data)]
    yield Probe("documents that name their author", tuple(signed))
    yield Probe("authors with an e-mail address of their own", tuple(_authors(book)))


def _texts(book: Snapshot, named: dict[str, str]) -> Iterator[tuple[str, bytes]]:
    """Every object that leaves, by the name under which it is found."""
    names = {blob: path for path, blob in _recorded(book)}
    for item in bundle.reachable(book.ledger.repo.objects, named.values()):
        name = item.id.decode()
        kind = item.type_name.decode()
        if kind == "blob":
            yield names.get(name, f"file {name[:8]}"), item.as_raw_string()
        elif kind != "tree":
            yield f"{kind} {name[:8]}", item.as_raw_string()


def _patterns(texts: list[tuple[str, bytes]]) -> Iterator[Probe]:
    person = "a line that names a person"
    kinds: dict[str, list[str]] = {kind: [] for kind in (*privacy.KINDS, person)}
    for where, data in texts:
        if not _is_text(data):
            continue
        raw = where.startswith("dyno/") and not where.endswith("session.toml")
        body = data.split(b"\n\n", 1)[-1] if where.startswith(("commit ", "tag ")) else data
        text = body.decode("utf-8", "replace")
        in_raw = ((line, person) for line in privacy.places_in_raw(text))
        for line, kind in in_raw if raw else privacy.places(text):
            kinds[kind].append(f"{where}, line {line}")
    for kind, places in kinds.items():
        yield Probe(f"what looks like {kind}", tuple(places))


def _machine(folder: Path) -> Iterator[tuple[str, str]]:
    """Names of this computer and its user, as far as they can be told apart from any word."""
    yield "the path of this folder", str(folder)
    yield "the path of your home folder", str(Path.home())
    yield "this computer's name", platform.node()
    with contextlib.suppress(KeyError, OSError):
        yield "your account's name", getpass.getuser()
    yield from _git_identity(folder)


def _git_identity(folder: Path) -> Iterator[tuple[str, str]]:
    """Name and address in git's own settings, which plain git would have written."""
    for path in (folder / ".git" / "config", Path.home() / ".gitconfig"):
        try:
            text = path.read_text("utf-8", "replace")
        except OSError:
            continue
        for key, value in re.findall(r"^\s*(name|email)\s*=\s*(.+?)\s*$", text, re.MULTILINE):
            yield f"the {key} in git's settings", value


def _holds(data: bytes, word: str) -> bool:
    if len(word) < _SHORTEST or word.casefold() in _COMMON:
        return False
    pattern = rb"(?<!\w)" + re.escape(word.encode()) + rb"(?!\w)"
    return re.search(pattern, data, re.IGNORECASE) is not None


def _is_text(data: bytes) -> bool:
    return b"\0" not in data and not data.startswith((b"%PDF", b"PK\3\4"))


def _positions(texts: list[tuple[str, bytes]]) -> Iterator[str]:
    for where, data in texts:
        if where.startswith("attachments/"):
            try:
                told = tells_place(data)
            except InvalidInput:  # nobody can say what it tells
                told = True
            if told:
                yield where


def _authors(book: Snapshot) -> Iterator[str]:
    for entry in book.entries:
        commit = book.ledger.repo.commit(entry.id)
        for line in {commit.author, commit.committer}:
            if not line.rstrip(b">").endswith(b".invalid"):
                yield f"entry {entry.number}"

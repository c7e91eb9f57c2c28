"""All ledgers of a shop: those below folders, and those on git servers, through local mirrors."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import socket
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

from buildlog.errors import BuildlogError, InvalidInput, NotFound
from buildlog.store.disk.index_db import folder as cache

if TYPE_CHECKING:
    from buildlog.store.exchange.remote import OtherSide

_DEEPEST = 8  # folders below the one that was named
_AT_ONCE = 8  # remotes that are fetched in parallel
_SEPARATE = re.compile(r"(?:(?P<name>[^\s=]+)\s*=\s*)?(?P<url>\S+)")
_URL = re.compile(r"(?:https?|ssh|git|file)://[^\s-]\S*|[\w.-]+@[\w.-]+:\S+")


@dataclass(frozen=True)
class FleetRemote:
    """A ledger on a git server, as a line of the file names it."""

    name: str
    url: str


@dataclass(frozen=True)
class Fetched:
    """What became of a remote: where its mirror lies, and why it could not be reached."""

    remote: FleetRemote
    mirror: Path | None
    problem: str | None


def below(folders: Iterable[Path]) -> list[Path]:
    """Every ledger in or below folders, by path; NotFound for a folder that is not there.

    Links are not followed, and nothing is looked for inside a ledger.
    """
    found: dict[Path, None] = {}
    for folder in folders:
        if not folder.is_dir():
            raise NotFound(f"the folder {folder} does not exist", hint="name one that holds cars")
        found |= dict.fromkeys(_ledgers(os.path.abspath(folder), 0))
    return sorted(found)


def _ledgers(folder: str, depth: int) -> Iterator[Path]:
    try:
        with os.scandir(folder) as listing:
            items = {item.name: item for item in listing}
    except OSError:
        return
    if ".git" in items and "car.toml" in items:
        yield Path(folder)
        return
    for name, item in items.items():
        if depth < _DEEPEST and not name.startswith(".") and item.is_dir(follow_symlinks=False):
            yield from _ledgers(item.path, depth + 1)


def tip(folder: Path) -> str | None:
    """The head of a ledger's `main`, read without opening the repository where that will do."""
    try:
        text = (folder / ".git" / "refs" / "heads" / "main").read_text("ascii").strip()
        if re.fullmatch("[0-9a-f]{40}", text):
            return text
    except (OSError, UnicodeDecodeError):
        pass
    from buildlog.store.git.repo import Repo

    with Repo(folder) as repo:
        return repo.tip()


def remotes(text: str, where: str) -> list[FleetRemote]:
    """The remotes of a file: one a line, `url` or `name = url`, # for a remark."""
    found = []
    for number, line in enumerate(text.splitlines(), start=1):
        plain = line.split("#", 1)[0].strip() if not line.strip().startswith("#") else ""
        if not plain:
            continue
        match = _SEPARATE.fullmatch(plain)
        if match is None or not (_URL.fullmatch(match["url"]) or os.path.isabs(match["url"])):
            raise InvalidInput(
                f"{plain!r} names no git server or folder",
                where=f"{where}, line {number}",
                hint="write name = https://host/car.git, ssh://..., or a whole path",
            )
        url = match["url"]
        found.append(FleetRemote(match["name"] or url.rstrip("/").rsplit("/", 1)[-1], url))
    return found


def fetch_all(
    wanted: Sequence[FleetRemote], patience: float, told: Callable[[Fetched], None] | None = None
) -> list[Fetched]:
    """Fetch every remote into its mirror, several at once; each has `patience` seconds.

    One that does not answer keeps what was fetched before, and the reason is said.
    """
    each = list(dict.fromkeys(wanted))
    found: dict[FleetRemote, Fetched] = {}
    came: SimpleQueue[Fetched] = SimpleQueue()
    gate = threading.Semaphore(_AT_ONCE)

    def one(remote: FleetRemote) -> None:
        with gate:
            came.put(_patiently(remote, patience))

    before = socket.getdefaulttimeout()
    socket.setdefaulttimeout(patience)
    try:
        for remote in each:  # daemons: one that hangs must not keep the program alive
            threading.Thread(target=one, args=(remote,), daemon=True).start()
        while len(found) < len(each):
            fetched = came.get()
            found[fetched.remote] = fetched
            if told:
                told(fetched)
    finally:
        socket.setdefaulttimeout(before)
    return [found[remote] for remote in each]


def _patiently(remote: FleetRemote, patience: float) -> Fetched:
    said: SimpleQueue[str | None] = SimpleQueue()
    threading.Thread(target=lambda: said.put(_fetched(remote)), daemon=True).start()
    try:
        problem = said.get(timeout=patience)
    except Empty:
        problem = f"no answer in {patience:.0f} s"
    place = mirror(remote)
    return Fetched(remote, place if fetched_before(place) else None, problem)


def fetched_before(place: Path) -> bool:
    """Whether a mirror holds anything."""
    return (place / ".git" / "refs" / "heads" / "main").exists()


def mirror(remote: FleetRemote) -> Path:
    """Where the mirror of a remote lies."""
    return cache() / "mirrors" / hashlib.sha256(remote.url.encode()).hexdigest()[:24]


def is_mirror(place: Path) -> bool:
    """Whether a ledger is the mirror of one on a git server."""
    return place.parent == cache() / "mirrors"


def _fetched(remote: FleetRemote) -> str | None:
    """Bring a mirror up to date; why not, in a few words, where that fails."""
    try:
        return _fetch(remote)
    except BuildlogError as error:
        return error.what
    except Exception as error:  # whatever a server or its library answers with
        return f"{type(error).__name__}: {error}"[:200].replace("\n", " ")


def _fetch(remote: FleetRemote) -> str | None:
    from filelock import FileLock

    from buildlog.store.git.repo import MAIN
    from buildlog.store.ledger.ledger import Ledger

    side, place = _side(remote.url), mirror(remote)
    place.parent.mkdir(parents=True, exist_ok=True)
    with FileLock(f"{place}.lock"):  # the same mirror may be asked for twice, here or elsewhere
        if not (place / ".git" / "HEAD").exists():
            Ledger.create(place, nonce="mirror").close()
        with Ledger.open(place) as ledger:
            offer, old = side.fetch(ledger.repo, ()), ledger.repo.tip()
            if offer.tip is None:
                return "it has no branch main"
            if offer.objects:
                ledger.repo.objects.add_objects([(one, None) for one in offer.objects])
            if offer.tip != old:
                ledger.repo.move(MAIN, old, offer.tip)
    return None


def _side(url: str) -> OtherSide:
    """What a listed address leads to: read only, so over ways that `sync` does not take, too."""
    from buildlog.store.exchange.remote import Server, remote
    from buildlog.store.git.transport import ServerLine

    class Plain(ServerLine):
        """Plain http and git's own way: dulwich needs to be told nothing more."""

        def _more(self) -> dict[str, Any]:
            return {}

    if url.startswith(("http://", "git://")):
        server = Server(url)
        server.line = Plain(url)
        return server
    folder = Path(url.removeprefix("file://"))
    if folder.is_absolute() and not folder.is_dir():
        raise NotFound(f"the folder {folder} does not exist", hint="is it on this computer?")
    return remote(url)


def forget(place: Path) -> None:
    """Delete a mirror that cannot be read; it is fetched anew the next time."""
    if is_mirror(place):
        shutil.rmtree(place, ignore_errors=True)

"""What a shop has of its own beside its ledgers, copied to a place of the user's choice.

Settings, the halves of keys that others may see, and the files that the settings name as the
shop's own (staff codes, customers). A private key is never copied: who finds the copy would sign.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from buildlog.analysis.car.written import OwnThings
from buildlog.desk.snapshot import settings
from buildlog.desk.snapshot.snapshot import today
from buildlog.errors import InvalidInput, NotFound
from buildlog.findings import how_many
from buildlog.store.disk import atomic
from buildlog.store.disk.user_folders import outside_folder

_PRIVATE = b"PRIVATE KEY"


def copy_own(target: Path) -> OwnThings:
    """Copy them below a folder, in one named by the day; what is there of that day is replaced."""
    if target.exists() and not target.is_dir():
        raise InvalidInput(
            f"{target} is no folder", hint="name a folder, on another disk if you can"
        )
    found = dict(_own())
    if not found:
        raise NotFound(
            "there is nothing of the shop's own yet",
            hint='buildlog new --shop "..." makes settings',
        )
    folder = target / f"buildlog-{today()}"
    with atomic.disk_errors("copying the shop's own things"):
        for name, source in found.items():
            _refuse_private(source)
            atomic.copy(source, folder / name)
    return OwnThings(folder, tuple(sorted(found)), tuple(_left_out()))


def _own() -> Iterator[tuple[str, Path]]:
    """The files that there are, by the names of their copies."""
    place, held = settings.path(), settings.load()
    if place.is_file():
        yield "settings.toml", place
    for name in ("staff", "customers"):
        file = _named(getattr(held, name))
        if file is not None:
            yield f"{name}{file.suffix}", file
    key = _named(_public(held.signing_key))
    if key is not None:
        yield f"keys/{key.name}", key


def _named(text: str | None) -> Path | None:
    """The file that a setting names; NotFound where it is not there."""
    if text is None:
        return None
    file = Path(text).expanduser()
    if not file.is_file():
        raise NotFound("the settings name a file that is not there", where=str(file))
    return file


def _public(key: str | None) -> str | None:
    """The public half of a signing key, where it lies beside the private one."""
    if key is None:
        return None
    public = key if key.endswith(".pub") else f"{key}.pub"
    return public if Path(public).expanduser().is_file() else None


def _refuse_private(file: Path) -> None:
    with file.open("rb") as opened:
        if _PRIVATE in opened.read(4096):
            raise InvalidInput("this is a private key, which is never copied", where=str(file))


def _left_out() -> Iterator[str]:
    held = settings.load()
    if held.signing_key and not held.signing_key.endswith(".pub"):
        yield f"{held.signing_key}: a private key; keep it where only you can read it"
    if held.cars:
        yield f"{held.cars}: the cars themselves; buildlog sync makes copies of each"
    if any(outside_folder().glob("*/*")):
        files = how_many(sum(1 for _ in outside_folder().glob("*/*")), "file")
        yield f"{outside_folder()}: {files} kept outside the ledgers; copy the whole folder"

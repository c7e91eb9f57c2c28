"""What an entry would record, shown before it is recorded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from dulwich.objects import Blob

from buildlog.errors import ChangedUnderYou, InvalidInput, NotFound
from buildlog.store import working
from buildlog.store.repo import Files, Repo
from buildlog.store.rules import Change


@dataclass(frozen=True)
class Proposal:
    """The files before (`old`) and with (`new`) an entry that would follow `tip`."""

    tip: str | None
    old: Files
    new: Files
    change: Change
    refused: Mapping[str, str]  # path -> why it cannot be recorded
    left_alone: tuple[str, ...]
    repo: Repo
    folder: Path
    given: Mapping[str, bytes]  # content that comes from the caller and not from the folder

    def paths(self) -> list[str]:
        """The recorded paths, with this entry."""
        return [name.decode("utf-8", "surrogateescape") for name in sorted(self.new)]

    def read_old(self, path: str) -> bytes:
        """A file's bytes before this entry."""
        return self.repo.blob(_id(self.old, path))

    def read(self, path: str) -> bytes:
        """A file's bytes with this entry. ChangedUnderYou if it changed since it was looked at."""
        wanted = _id(self.new, path)
        if self.old.get(path.encode("utf-8", "surrogateescape"), (0, ""))[1] == wanted:
            return self.repo.blob(wanted)
        data = self.given.get(path)
        if data is None:
            data = working.read(self.folder, path)
        if Blob.from_string(data).id.decode() != wanted:
            raise ChangedUnderYou("the file changed while it was being recorded", where=path)
        return data

    def refuse_unrecordable(self) -> None:
        """InvalidInput if something in the recorded folders cannot be recorded."""
        for path, reason in self.refused.items():
            raise InvalidInput(
                f"the file {path!r} {reason}",
                why=f"{len(self.refused) - 1} more cannot be recorded"
                if len(self.refused) > 1
                else None,
                hint="rename it, or move it out of the recorded folders",
            )


def _id(files: Files, path: str) -> str:
    try:
        return files[path.encode("utf-8", "surrogateescape")][1]
    except KeyError:
        raise NotFound(f"{path} is not recorded") from None

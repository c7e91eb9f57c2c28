"""Files beside the car's history: calibrations, photos without what they give away, scans."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from buildlog.analysis.car.written import Attached, RecordWith
from buildlog.desk.acts import working_files
from buildlog.errors import InvalidInput, UsageError
from buildlog.store.ledger.ledger import Ledger


def attach(
    ledger: Ledger, files: Sequence[Path], folder: str = "", *, cover: bool = False,
    caption: str | None = None,
) -> Attached:  # fmt: skip
    """Copy files below attachments, each under its own name; the originals stay as they are.
    A `cover` is named so that the booklet shows it on its first page, a file with a `caption` by
    the caption's words."""
    if caption is not None and len(files) != 1:
        raise UsageError("a caption is that of one file", hint="attach them one by one")
    before = "cover-" if cover else ""
    done = [
        attach_one(ledger, f"{before}{_name(file, caption)}", file.read_bytes(), folder, f"{file}")
        for file in files
    ]
    return Attached(
        tuple(path for path, _ in done), RecordWith("..."), tuple(out for _, out in done)
    )


def _name(file: Path, caption: str | None) -> str:
    """The file's own name, or the caption's words and figures joined by "-"."""
    if caption is None:
        return file.name
    name = "-".join(re.findall(r"[^\W_]+(?:\.\d+)?", caption))
    if not name:
        raise UsageError("the caption holds no word", hint='write --caption "header flange, gap"')
    return f"{name[:80]}{file.suffix}"


def attach_one(
    ledger: Ledger, name: str, data: bytes, folder: str = "", where: str = ""
) -> tuple[str, tuple[str, ...]]:
    """One file: the path of its copy, and what was left out. `where` names it in an error."""
    data, left_out = _without_traces(data, where or name)
    path = "/".join(part for part in ("attachments", folder.strip("/"), name) if part)
    if (ledger.folder / path).exists() or path in ledger.working().files:
        raise InvalidInput(f"{path} is there already", hint="rename the file")
    working_files.create(ledger, path, data)
    return path, left_out


def _without_traces(data: bytes, where: str) -> tuple[bytes, tuple[str, ...]]:
    from buildlog.store.exchange import photo

    if photo.is_photo(data):
        copy = photo.strip(data)
        return copy.data, copy.removed
    if photo.tells_place(data):
        raise InvalidInput(
            "this picture tells where it was taken, and can only be cleaned as a JPEG",
            where=where,
            hint="save it as a JPEG and attach that",
        )
    return data, ()

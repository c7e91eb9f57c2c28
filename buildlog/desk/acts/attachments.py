"""Files beside the car's history: calibrations, photos without what they give away, scans."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from pathlib import Path

from buildlog.analysis.car.written import Attached, RecordWith
from buildlog.desk.acts import filing, working_files
from buildlog.errors import InvalidInput, UsageError, refused_at
from buildlog.records.caption import PhotoCaption
from buildlog.records.toml import toml_edit
from buildlog.store.git.ledger_files import CAPTION, LARGEST_FILE
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING

_PICTURES = {b"\xff\xd8\xff": "jpg", b"\x89PNG\r\n\x1a\n": "png"}


def attach(
    ledger: Ledger, files: Sequence[Path], folder: str = "", *, cover: bool = False,
    caption: str | None = None,
) -> Attached:  # fmt: skip
    """Copy files below attachments, each under its own name; the originals stay as they are.
    A `cover` is named so that the booklet shows it on its first page, a file with a `caption` by
    the caption's words; the caption itself stands in a file beside it."""
    if caption is not None and len(files) != 1:
        raise UsageError("a caption is that of one file", hint="attach them one by one")
    before = "cover-" if cover else ""
    if caption is not None:
        one = files[0]
        name = f"{before}{_name(one, caption)}"
        return _with_caption(ledger, name, _read(one), folder, caption, f"{one}")
    done = [
        attach_one(ledger, f"{before}{file.name}", _read(file), folder, f"{file}") for file in files
    ]
    return Attached(
        tuple(path for path, _ in done), RecordWith("..."), tuple(out for _, out in done)
    )


def _with_caption(
    ledger: Ledger, name: str, data: bytes, folder: str, caption: str, where: str
) -> Attached:
    """A file, and behind it the one that says what is seen: that is the act."""
    copy, left_out = _without_traces(data, where)
    path = "/".join(part for part in ("attachments", folder.strip("/"), name) if part)
    told = f"{path}{CAPTION}"
    text = toml_edit.set_values(b"format = 1\n", {"caption": caption.strip()})
    filing.refuse_invalid(PhotoCaption, text, told)
    refuse_there(ledger, told)
    if path in ledger.working().files and ledger.read(WORKING, path) != copy:
        refuse_there(ledger, path)
    working_files.lay(ledger, path, copy)
    working_files.create(ledger, told, text)
    return Attached((path,), RecordWith(caption.strip()), (left_out,), told)


def _name(file: Path, caption: str) -> str:
    """The caption's words and figures joined by "-", with the file's ending."""
    name = "-".join(re.findall(r"[^\W_]+(?:\.\d+)?", caption))
    if not name:
        raise UsageError("the caption holds no word", hint='write --caption "header flange, gap"')
    return f"{name[:80]}{file.suffix}"


def _read(file: Path) -> bytes:
    size = file.stat().st_size
    if size > LARGEST_FILE:
        raise InvalidInput(
            f"it has {size / 2**20:.0f} MB; {LARGEST_FILE // 2**20} MB is the largest that enters",
            where=str(file),
            hint="buildlog attach --outside keeps it beside, by its digest",
        )
    return file.read_bytes()


def refuse_there(ledger: Ledger, path: str) -> None:
    """InvalidInput where a file of this name is there."""
    if (ledger.folder / path).exists() or path in ledger.working().files:
        raise InvalidInput(f"{path} is there already", hint="rename the file")


def attach_one(
    ledger: Ledger, name: str, data: bytes, folder: str = "", where: str = ""
) -> tuple[str, tuple[str, ...]]:
    """One file: the path of its copy, and what was left out. `where` names it in an error."""
    data, left_out = _without_traces(data, where or name)
    path = "/".join(part for part in ("attachments", folder.strip("/"), name) if part)
    refuse_there(ledger, path)
    working_files.create(ledger, path, data)
    return path, left_out


def lay_photo(ledger: Ledger, name: str, data: bytes, folder: str) -> str:
    """A photo that another file will name: the path of its copy, named by what it holds."""
    path, data = _photo(name, data, folder)
    working_files.lay(ledger, path, data)
    return path


def attach_photos(
    ledger: Ledger, given: Sequence[tuple[str, bytes]], folder: str = "", caption: str = ""
) -> Attached:
    """Photos by name and bytes. One with a caption is named as `attach` names it; others, whose
    names a camera gave, by what they hold, so that the same photo again is the same file."""
    if not given:
        raise InvalidInput("no photo was sent", hint="take one, or choose one of the gallery")
    copies = [_photo(name, data, folder) for name, data in given]
    if caption and len(given) == 1:
        path, data = copies[0]
        return _with_caption(ledger, _name(Path(path), caption), data, folder, caption, given[0][0])
    for path, data in copies[:-1]:
        working_files.lay(ledger, path, data)
    path, data = copies[-1]
    known = path in ledger.working().files
    (working_files.lay if known else working_files.create)(ledger, path, data)
    paths = tuple(path for path, _ in copies)
    return Attached(paths, RecordWith(caption or "..."), tuple(() for _ in paths))


def _photo(name: str, data: bytes, folder: str) -> tuple[str, bytes]:
    """The path and the bytes of a photo's copy; InvalidInput for what is no picture."""
    ending = next((end for start, end in _PICTURES.items() if data.startswith(start)), None)
    if ending is None:
        raise InvalidInput("this is no JPEG and no PNG", where=name, hint="send a photo as JPEG")
    copy, _ = _without_traces(data, name)
    stem = filing.slug(name.rsplit(".", 1)[0] if "." in name else name, 30)
    place = "/".join(filing.slug(part, 30) for part in folder.split("/") if part)
    digest = hashlib.sha256(copy).hexdigest()[:8]
    return "/".join(filter(None, ("attachments", place, f"{stem}-{digest}.{ending}"))), copy


def _without_traces(data: bytes, where: str) -> tuple[bytes, tuple[str, ...]]:
    from buildlog.store.exchange.pictures import cleaned

    with refused_at(where):
        copy = cleaned(data)
    return copy.data, copy.removed

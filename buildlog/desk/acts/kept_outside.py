"""Files that are kept outside the ledger, because they are large or personal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from buildlog.analysis.car.written import Attached, RecordWith
from buildlog.desk.acts import filing, working_files
from buildlog.desk.acts.attachments import refuse_there
from buildlog.errors import InvalidInput
from buildlog.records.outside import OutsideFile
from buildlog.records.toml import toml_write
from buildlog.store.disk import outside_files
from buildlog.store.git.ledger_files import OUTSIDE
from buildlog.store.ledger.ledger import Ledger


def keep_outside(
    ledger: Ledger, files: Sequence[Path], folder: str = "", *, personal: bool = False,
    note: str | None = None,
) -> Attached:  # fmt: skip
    """Copy files to their place outside, and write down beside the history what they are."""
    paths = [_keep_one(ledger, file, folder, personal, note) for file in files]
    return Attached(tuple(paths), RecordWith("..."), ((),) * len(paths))


def _keep_one(ledger: Ledger, file: Path, folder: str, personal: bool, note: str | None) -> str:
    path = "/".join(
        part for part in ("attachments", folder.strip("/"), f"{file.name}{OUTSIDE}") if part
    )
    refuse_there(ledger, path)
    if not file.stat().st_size:
        raise InvalidInput("the file is empty", where=str(file))
    kept = outside_files.put(file)
    values = {"format": 1, "file": file.name, "sha256": kept.sha256, "size": kept.size,
              "date": filing.day(None), **({"personal": True} if personal else {}),
              **({"note": note} if note else {})}  # fmt: skip
    data = toml_write.write(values)
    filing.refuse_invalid(OutsideFile, data, path)
    working_files.create(ledger, path, data)
    return path

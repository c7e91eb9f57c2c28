"""Files that were read before: a record that passed its rules once is not judged again."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from buildlog.records.fields.base import Record, WholeFile
from buildlog.records.reading import read
from buildlog.records.record_bytes import plain, put_together, rules
from buildlog.store.disk.index_db import Kept, folder

R = TypeVar("R", bound=Record)


@lru_cache(maxsize=1)
def shared(_: Path) -> Kept:
    """One connection for the process, however many ledgers it looks at."""
    return Kept()


class Known:
    """Records by the bytes they were read from. The answers are the same with and without."""

    def __init__(self) -> None:
        self._kept = shared(folder())

    def read(self, model: type[R], data: bytes, name: str) -> R:
        """As `records.reading.read`, with the same errors.

        What carries fields of a newer buildlog is judged each time: only its ledger proves them.
        """
        kind = f"{model.__name__}/{rules()}"
        key = hashlib.sha256(data).hexdigest()
        values = self._kept.get(kind, [key]).get(key)
        if isinstance(values, dict):
            return put_together(model, values)
        record = read(model, data, name)
        if not (isinstance(record, WholeFile) and record.newer):
            self._kept.put(kind, {key: plain(record)})
        return record

"""`attachments/….outside.toml`: a file that is kept outside the ledger, by its digest and size."""

import datetime as dt
from typing import Annotated

from pydantic import Field

from buildlog.records.car.calibration import SHA256
from buildlog.records.fields.base import FileFormat, Note, Text, WholeFile


class OutsideFile(WholeFile):
    """What tells that the file is the one that was meant, whoever keeps it and wherever."""

    format: FileFormat
    """The format of this file."""
    file: Text
    """The name it had."""
    sha256: SHA256
    """The SHA-256 of its bytes."""
    size: Annotated[int, Field(gt=0)]
    """How many bytes it has."""
    date: dt.date
    """The day it was put there."""
    personal: bool = False
    """Whether it shows a person or a license plate: it never leaves, and can be deleted later."""
    note: Note | None = None
    """Anything else; nothing about persons."""

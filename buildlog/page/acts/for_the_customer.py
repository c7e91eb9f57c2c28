"""The one file that a customer gets: the stage's sheet, with the photos that were chosen."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.give.customers_file import customers_sheet
from buildlog.page.came_of import ActAnswer

if TYPE_CHECKING:
    from buildlog.page.asked import Asked
    from buildlog.page.sent import Sent


def customer_file(asked: Asked, sent: Sent) -> ActAnswer:
    """The sheet as a file; nothing is written in the ledger."""
    stage = sent.needed("stage", "the stage")
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "sheet.html"
        customers_sheet(asked.car, stage, sent.all("photo"), out)
        data = out.read_bytes()
    return ActAnswer("done", f"made: {stage}", file=(f"{asked.slug}-{stage}.html", data))

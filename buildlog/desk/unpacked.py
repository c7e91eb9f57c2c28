"""A handover, unpacked to be read for a while."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.errors import DamagedLedger

if TYPE_CHECKING:
    from buildlog.store.verify.verdict import Verification


class Unpacked:
    """A handover as a ledger in a temporary folder, and what is proved of it.

    DamagedLedger where nothing of it can be read; then nothing is left, either.
    """

    def __init__(self, path: Path) -> None:
        from buildlog.desk.questions.verifying import unpack

        self._holder = tempfile.TemporaryDirectory(prefix="buildlog-")
        self.folder = Path(self._holder.name, "ledger")
        try:
            self.result: Verification = unpack(path, self.folder)
            if not self.folder.exists():
                why = self.result.findings[0]
                raise DamagedLedger(why.text, where=str(path), hint=why.hint)
        except BaseException:
            self.remove()
            raise

    def remove(self) -> None:
        """Take the folder away."""
        self._holder.cleanup()

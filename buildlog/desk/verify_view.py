"""Whether a history is complete and unaltered: `buildlog verify`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.view import View
from buildlog.findings import Finding

if TYPE_CHECKING:
    from pathlib import Path

    from buildlog.desk.give.views import Views
    from buildlog.store.verify.verdict import Verification


class VerifyView(View):
    """What is proved of a ledger or a handover, and what is not."""

    def __init__(self, found: Verification, place: Path) -> None:
        self._found, self._place = found, place
        self.verdict: str = found.verdict
        """ "intact", "consistent", "altered" or "cannot-tell"."""
        self.proves = found.proves
        """What is proved, in a sentence each."""
        self.does_not_prove = found.does_not_prove
        """What is not."""
        self.findings: tuple[Finding, ...] = found.findings
        """What is wrong or doubtful, worst first."""

    @property
    def exit_status(self) -> int:
        """What the command ends with: 0, 1 with a caution, 3 where nothing is recorded, 5 where it
        is altered or cannot be told."""
        if self._found.empty:
            return 3
        if self.verdict in ("altered", "cannot-tell"):
            return 5
        return int(any(finding.severity != "note" for finding in self.findings))

    def _views(self) -> Views:
        from buildlog.desk.give import views

        return views.of_verification(self._found, self._place)

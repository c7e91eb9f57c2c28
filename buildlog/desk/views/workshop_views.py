"""What is in the car and what is to be done, what is wrong, and what a whole shop answers."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from buildlog.analysis.answers.shop_tables import ShopAnswer, ShopStanding
from buildlog.desk.views.view import Forms, ListView, View
from buildlog.findings import Finding, how_many

if TYPE_CHECKING:
    from pathlib import Path

    from buildlog.analysis.answers.look_answers import CheckReading
    from buildlog.analysis.answers.next_steps import Next
    from buildlog.analysis.car.changes import Change
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.car.written import Outlook
    from buildlog.analysis.workshop.partlife import PartLife
    from buildlog.store.verify.verdict import Verification
    from buildlog.units import System


class FittedPart:
    """One part in the car. Distances in metres, None with the reason in `why_unknown`."""

    def __init__(self, life: PartLife) -> None:
        self.path = life.path
        """Where it sits: "induction.turbocharger"."""
        self.words = life.identity.words
        """Maker, number and serial; "" where nothing is known."""
        self.serial = life.identity.serial
        self.since = life.since
        """The version that brought it, "before ..." where it was there already."""
        self.fitted_on: dt.date | None = life.fitted_on
        self.done_by = life.by
        self.distance_m = life.distance
        """What it has run in all [m]."""
        self.why_unknown = life.why_unknown
        self.break_in_left_m = life.break_in_left
        """What is left of its break-in [m]; None where none is asked for or it is unknown."""

    def __repr__(self) -> str:
        run = "" if self.distance_m is None else f", {self.distance_m / 1e3:,.0f} km"
        return (
            f"<part {self.path}{f' ({self.words})' if self.words else ''} since {self.since}{run}>"
        )


class PartsView(ListView[FittedPart]):
    """The parts in the car at a version: `buildlog show --parts`."""

    def __init__(self, found: Sequence[PartLife], version: Version, units: System) -> None:
        self._found, self._version, self._units = found, version, units
        self._rows = tuple(map(FittedPart, found))

    def _forms(self) -> Forms:
        from buildlog.report.as_json.show_json import parts_json
        from buildlog.report.as_text.show_text import parts_lines

        found, version = self._found, self._version
        return Forms(
            lambda: parts_lines(found, version, self._show),
            lambda: parts_json(version, found),
            lambda: f"{how_many(len(found), 'part')} at {version.name}",
        )


@dataclass(frozen=True)
class StepToDo:
    """One thing to do or held up: in words, why, by whom; what is left to drive for it [m]."""

    step: str
    why: str
    who: str
    distance_left_m: float | None


class NextView(View):
    """What to do now, and what must not be started before: `buildlog next`."""

    def __init__(self, found: Next, units: System) -> None:
        self._found, self._units = found, units
        self.actions = tuple(StepToDo(a.step, a.why, a.who, a.distance) for a in found.actions)
        """What to do, in order."""
        self.blocked = tuple(StepToDo(b.step, b.why, b.who, b.distance) for b in found.blocked)
        """What must not be started yet, and why."""
        self.findings: tuple[Finding, ...] = found.findings

    def _forms(self) -> Forms:
        from buildlog.report.as_json.steps_json import next_json
        from buildlog.report.as_text.steps_text import next_lines

        first = self.actions[0].step if self.actions else "nothing to do"
        return Forms(
            lambda: next_lines(self._found, self._show),
            lambda: next_json(self._found),
            lambda: f"next: {first}; {how_many(len(self.blocked), 'step')} held up",
        )


class CheckView(View):
    """What is wrong or doubtful in the working files: `buildlog check`."""

    def __init__(self, found: CheckReading, units: System) -> None:
        self._found, self._units = found, units
        self.files = found.read
        """How many files were read."""
        self.findings: tuple[Finding, ...] = found.findings
        """What is wrong or doubtful, worst first."""
        self.exit_status = _status(found.findings)
        """What the command ends with: 1 with a caution or an error, else 0."""

    def _forms(self) -> Forms:
        from buildlog.report.as_json.steps_json import check_json
        from buildlog.report.as_text.steps_text import check_lines

        counts = Counter(finding.severity for finding in self.findings)
        said = ", ".join(f"{count} {word}" for word, count in counts.items())
        return Forms(
            lambda: check_lines(self._found, self._show),
            lambda: check_json(self._found),
            lambda: f"check of {how_many(self.files, 'file')}: {said or 'nothing to say'}",
        )


class VerifyView(View):
    """What is proved of a ledger or a handover, and what is not: `buildlog verify`."""

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
        bad = 5 if found.verdict in ("altered", "cannot-tell") else _status(found.findings)
        self.exit_status = 3 if found.empty else bad
        """What the command ends with: 0, 1 with a caution, 3 where nothing is recorded, 5 where it
        is altered or cannot be told."""

    def _forms(self) -> Forms:
        from buildlog.report.as_json.verify_json import verify_json
        from buildlog.report.as_text.verify_text import verify_lines

        return Forms(
            lambda: verify_lines(self._found, self._place, "my-car"),
            lambda: verify_json(self._found),
            lambda: (
                f"verify {self._place.name}: {self.verdict}, "
                f"{how_many(len(self.findings), 'finding')}"
            ),
        )


class PreviewView(View):
    """What an entry would hold."""

    def __init__(self, found: Outlook) -> None:
        self._found = found
        self.kind = found.kind
        """The kind of the entry."""
        self.changes: tuple[Change, ...] = found.changes
        """Fields of car.toml that differ physically."""
        self.added = found.added
        """Files that are new."""
        self.findings: tuple[Finding, ...] = found.findings
        """What to look at."""

    def _forms(self) -> Forms:
        from buildlog.report.as_json.json_parts import change_json, finding_json
        from buildlog.report.as_text.acts_text import outlook_lines

        found = self._found
        return Forms(
            lambda: outlook_lines(found),
            lambda: {
                "kind": found.kind,
                "changes": [change_json(change) for change in found.changes],
                "added": list(found.added),
                "findings": [finding_json(finding) for finding in found.findings],
            },
            lambda: (
                f"would record: {found.kind}, {how_many(len(found.changes), 'change')}, "
                f"{how_many(len(found.added), 'new file')}"
            ),
        )


class ShopView(View):
    """What the shop's cars say to one question, as text, tables and rows."""

    def __init__(self, found: ShopAnswer, units: System) -> None:
        self._found, self._units = found, units
        self.unread = found.unread
        """Ledgers that could not be read, each with the reason."""

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The rows of `--csv`, for a frame or a spreadsheet."""
        from buildlog.report.as_json.shop_json import shop_rows

        return shop_rows(self._found)

    def _forms(self) -> Forms:
        from buildlog.report.as_json.shop_json import shop_json
        from buildlog.report.as_text.shop_text import shop_lines

        found, tables = self._found, None
        if type(found) is ShopStanding:
            tables = found
        return Forms(
            lambda: shop_lines(found, self._show),
            lambda: shop_json(found)[1],
            lambda: f"{shop_json(found)[0]}: {how_many(len(self.rows), 'row')}",
            (lambda: self._tables.shop_html(tables, self._show)) if tables else None,
        )


def _status(findings: Sequence[Finding]) -> int:
    return int(any(finding.severity != "note" for finding in findings))

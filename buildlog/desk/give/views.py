"""How an answer shows itself: as the command prints it, as its JSON, in a line, as tables.

One function for each kind of answer; what a form needs is loaded when it is asked for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from buildlog.report.lines import clean
from buildlog.report.numbers import Display

if TYPE_CHECKING:
    from pathlib import Path

    from buildlog.analysis.answers.comparison import Diff
    from buildlog.analysis.answers.limit_answers import HeadroomAnswer, MarginsAnswer
    from buildlog.analysis.answers.next_steps import Next
    from buildlog.analysis.answers.shop_answers import ShopStanding
    from buildlog.analysis.car.recorded import Outlook
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.prediction.predicted import Predicted
    from buildlog.analysis.pulls.sheet_report import SheetReport
    from buildlog.analysis.workshop.check_reading import CheckReading
    from buildlog.analysis.workshop.partlife import PartLife
    from buildlog.store.ledger.entries import Entry
    from buildlog.store.verify.verdict import Verification
    from buildlog.units import System


@dataclass(frozen=True)
class Views:
    """The forms of one answer; `table` is None where the text stands for it."""

    lines: Callable[[], list[str]]
    body: Callable[[], dict[str, Any]]
    short: Callable[[], str]
    table: Callable[[], str] | None = None

    def text(self) -> str:
        """What the command prints, with nothing in it that a terminal would obey."""
        return "\n".join(map(clean, self.lines()))

    def html(self) -> str:
        """Tables, or the text as it is."""
        from buildlog.report.notebook.notebook_tables import pre_html

        return self.table() if self.table else pre_html(self.lines())


def of_diff(found: Diff, units: System) -> Views:
    """Two versions compared."""
    from buildlog.report.as_json.diff_json import diff_json
    from buildlog.report.as_text.diff_text import answer, diff_lines

    show, sides = Display(units), f"{found.before.name} to {found.after.name}"
    return Views(
        lambda: diff_lines(found, show),
        lambda: diff_json(found),
        lambda: f"diff {sides}: {len(found.changes)} changes; {answer(found, show)}",
        lambda: _tables().diff_html(found, show),
    )


def of_sheet(found: SheetReport, units: System) -> Views:
    """One session."""
    from buildlog.report.as_json.sheet_json import sheet_json
    from buildlog.report.as_text.sheet_text import headline, sheet_lines

    show = Display(units)
    return Views(
        lambda: sheet_lines(found, show),
        lambda: sheet_json(found),
        lambda: f"sheet {headline(found.sheet, show)}",
        lambda: _tables().sheet_html(found, show),
    )


def of_margins(found: MarginsAnswer, units: System) -> Views:
    """Every limit of a version."""
    from buildlog.report.as_json.margins_json import margins_json
    from buildlog.report.as_text.margins_text import margins_lines

    show = Display(units)
    states = Counter(row.state.value for row in found.rows if not row.kind.information)
    said = ", ".join(f"{count} {state}" for state, count in states.items())
    return Views(
        lambda: margins_lines(found, show),
        lambda: margins_json(found),
        lambda: f"margins of {found.version.name}: {said or 'none'}",
        lambda: _tables().margins_html(found, show),
    )


def of_headroom(found: HeadroomAnswer, units: System) -> Views:
    """What runs out first."""
    from buildlog.report.as_json.margins_json import headroom_json
    from buildlog.report.as_text.headroom_text import headline, headroom_lines

    show = Display(units)
    return Views(
        lambda: headroom_lines(found, show),
        lambda: headroom_json(found),
        lambda: f"headroom of {found.version.name}: {headline(found.room, show)}",
    )


def of_prediction(found: Predicted, units: System) -> Views:
    """What another version would give."""
    from buildlog.report.as_json.prediction_json import prediction_json
    from buildlog.report.as_text.prediction_text import prediction_lines

    show = Display(units)

    def short() -> str:
        band = found.peak_power_delta
        low, high = (show.change(end, None, "power") for end in (band.p10, band.p90))
        return f"prediction {found.before.name} to {found.after.name}: {low} to {high} (P10 to P90)"

    return Views(lambda: prediction_lines(found, show), lambda: prediction_json(found), short)


def of_history(entries: Sequence[Entry], units: System) -> Views:
    """The entries, first to last."""
    from buildlog.report.as_json.history_json import history_json
    from buildlog.report.as_text.history_text import headline, history_lines

    show = Display(units)
    return Views(
        lambda: history_lines(entries, show),
        lambda: history_json(entries),
        lambda: f"history: {headline(entries, show) if entries else 'nothing is recorded yet'}",
        lambda: _tables().history_html(entries, show),
    )


def of_parts(found: Sequence[PartLife], version: Version, units: System) -> Views:
    """The parts in the car at a version."""
    from buildlog.report.as_json.show_json import parts_json
    from buildlog.report.as_text.parts_text import parts_lines

    return Views(
        lambda: parts_lines(found, version, Display(units)),
        lambda: parts_json(version, found),
        lambda: f"{len(found)} parts at {version.name}",
    )


def of_next(found: Next, units: System) -> Views:
    """What to do now."""
    from buildlog.report.as_json.steps_json import next_json
    from buildlog.report.as_text.next_text import next_lines

    first = found.actions[0].step if found.actions else "nothing to do"
    return Views(
        lambda: next_lines(found, Display(units)),
        lambda: next_json(found),
        lambda: f"next: {first}; {len(found.blocked)} steps held up",
    )


def of_check(found: CheckReading, units: System) -> Views:
    """A look at the working files."""
    from buildlog.report.as_json.steps_json import check_json
    from buildlog.report.as_text.check_text import check_lines

    counts = Counter(finding.severity for finding in found.findings)
    said = ", ".join(f"{count} {word}" for word, count in counts.items())
    return Views(
        lambda: check_lines(found, Display(units)),
        lambda: check_json(found),
        lambda: f"check of {found.read} files: {said or 'nothing to say'}",
    )


def of_verification(found: Verification, place: Path) -> Views:
    """What is proved of a history."""
    from buildlog.report.as_json.verify_json import verify_json
    from buildlog.report.as_text.verify_text import verify_lines

    return Views(
        lambda: verify_lines(found, place, "my-car"),
        lambda: verify_json(found),
        lambda: f"verify {place.name}: {found.verdict}, {len(found.findings)} findings",
    )


def of_outlook(found: Outlook) -> Views:
    """What an entry would hold."""
    from buildlog.report.as_json.json_parts import change_json, finding_json
    from buildlog.report.as_text.record_text import outlook_lines

    said = f"{len(found.changes)} changes, {len(found.added)} new files"
    return Views(
        lambda: outlook_lines(found),
        lambda: {
            "kind": found.kind,
            "changes": [change_json(change) for change in found.changes],
            "added": list(found.added),
            "findings": [finding_json(finding) for finding in found.findings],
        },
        lambda: f"would record: {found.kind}, {said}",
    )


def of_shop(found: ShopStanding, units: System) -> Views:
    """All the cars of a shop."""
    from buildlog.report.as_json.shop_json import shop_json
    from buildlog.report.as_text.shop_text import shop_lines

    show = Display(units)
    return Views(
        lambda: shop_lines(found, show),
        lambda: shop_json(found)[1],
        lambda: f"shop of {len(found.cars)} cars",
        lambda: _tables().shop_html(found, show),
    )


def _tables() -> Any:
    from buildlog.report.notebook import notebook_tables

    return notebook_tables

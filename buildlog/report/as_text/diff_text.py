"""A diff as text: the answer first, then what changed, what was measured, what to look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from buildlog.analysis.answers.comparison import Diff, Replaced
from buildlog.analysis.car.legal import DECIDE, LegalFact
from buildlog.analysis.car.version import Version
from buildlog.findings import Finding, how_many, worst_first
from buildlog.report.as_text.built_plan_text import built_answer, built_lines
from buildlog.report.as_text.changes_text import brief_lines, change_lines
from buildlog.report.as_text.margin_changes_text import margin_block
from buildlog.report.as_text.measured_text import headline, measured_lines
from buildlog.report.as_text.prediction_text import block_lines
from buildlog.report.in_units import in_units
from buildlog.report.lines import PAGE, clean, finding_lines, shorten, wrap
from buildlog.report.numbers import Display

_LOUD, _LEAST = 4, 3  # cautions on the screen without --full; findings, notes filling up


def diff_lines(result: Diff, show: Display, full: bool = False) -> list[str]:
    """The whole screen."""
    first = [f for f in result.findings if f.code == "calibration-mismatch"]
    rest = [f for f in result.findings if f not in first]
    lines = finding_lines(first, 0)
    lines += wrap(f"{label(result.before, show)} → {label(result.after, show)}", 2, 0)
    lines += wrap(answer(result, show), 2, 0)
    if result.why_these:
        lines += wrap(f"({result.why_these})", 1, 0)
    lines.append("")
    if result.built is not None:
        lines += built_lines(result.built, show, full)
    elif result.changes:
        lines += change_lines(result.changes, full) if full else brief_lines(result.changes)
    else:
        lines.append("changed: nothing that is physically different")
    if result.replaced:
        lines += ["", *_part_lines(result.replaced, show)] if full else _part_count(result)
    if result.measured is not None:
        lines += ["", *measured_lines(result.measured, show, full)]
    if result.predicted is not None:
        lines += ["", *block_lines(result.predicted, show)]
    elif result.predicted_reason is not None:
        lines += ["", *wrap(f"not predicted: {result.predicted_reason}", 2, 0)]
    if result.margins is not None:
        lines += ["", *margin_block(result.margins, show, full)]
    if rest:
        lines += ["", "to look at", *(finding_lines(rest) if full else _cut(rest))]
    lines += ["", _next(result)]
    return lines


def answer(result: Diff, show: Display) -> str:
    """The sentence that answers: what was gained, else how much changed and why no more is said; of
    a plan that is in the car whether it kept its word."""
    if result.built is not None:
        return built_answer(result.built, show)
    if result.measured is not None:
        text = headline(result.measured, show)
        found = [change for change in result.changes if not change.made]
        return (
            f"{text}; includes {how_many(len(found), 'change')} found, not made" if found else text
        )
    count = len(result.changes)
    changed = f"{count} field{'s' if count != 1 else ''} changed" if count else _nothing(result)
    return f"{changed}; not measured: {result.measured_reason}"


def _nothing(result: Diff) -> str:
    plans = [one.plan for one in (result.before, result.after) if one.plan]
    return f"all that plan {plans[0]} changes is in the car" if plans else "nothing changed"


def label(version: Version, show: Display) -> str:
    """A version with all that tells it from others."""
    if version.working:
        return "working (not recorded)"
    if version.plan:
        return f"plan:{version.plan}"
    parts = [f"entry {version.number}", version.id[:8]]
    if version.date:
        parts.append(version.date.isoformat())
    if version.odometer is not None:
        parts.append(show.distance(version.odometer))
    parts.append(version.kind)
    name = version.stage or f"entry {version.number}"
    if not version.stage:
        parts = parts[1:]
    return f"{name} ({', '.join(parts)})"


def _part_lines(replaced: Sequence[Replaced], show: Display) -> list[str]:
    """Parts that came and went, those with the same past named together."""
    lines = ["parts"]
    for came, word in ((False, "out"), (True, "in")):
        lots: dict[str, list[str]] = {}
        for part in replaced:
            if part.came is came:
                lots.setdefault(_past(part, show), []).append(part.path)
        for past, paths in lots.items():
            lines += wrap(f"{word:<5}{past}: {', '.join(paths)}", 9, 2)
    return lines


def _past(part: Replaced, show: Display) -> str:
    run = "distance unknown" if part.distance is None else f"{show.distance(part.distance)} on it"
    return f"{'from' if part.there_before else 'since'} {part.since}, {run}"


def _part_count(result: Diff) -> list[str]:
    came = sum(part.came for part in result.replaced)
    return [f"  parts: {len(result.replaced) - came} out, {came} in; which, and how far: --full"]


def _cut(findings: Sequence[Finding]) -> list[str]:
    """Errors and cautions in their words, and what local codes decide; then notes of a line each,
    then how many more."""
    quiet = [f for f in findings if f.severity == "note"]
    lawful = [f for f in quiet if isinstance(f, LegalFact)]
    notes = [f for f in quiet if f not in lawful]
    loud = [f for f in worst_first(findings) if f.severity != "note"]
    room = max(_LEAST - len(loud) - len(lawful), 0)
    lines = finding_lines([*loud[:_LOUD], *_together(lawful)])
    for note in notes[:room]:
        where = f"{note.where}: " if note.where else ""
        lines.append(shorten(f"  {'note':<8}{clean(where + in_units(note.text))}", PAGE.width))
    more = len(loud[_LOUD:]) + len(notes[room:])
    return [*lines, f"  and {more} more: --full"] if more else lines


def _together(lawful: Sequence[LegalFact]) -> list[Finding]:
    """What local codes and licensed practice decide, in one sentence."""
    text = "; ".join([*(one.fact for one in lawful), DECIDE])
    return [replace(lawful[0], text=text)] if lawful else []


def _next(result: Diff) -> str:
    if result.built is not None:
        return f"next: buildlog report {_name(result.built.end)}"
    if result.after.working:
        return 'next: buildlog record -m "what was done"'
    if result.measured is not None:
        a, b = result.before, result.after
        return f"next: buildlog plot {_name(a)} {_name(b)} --out history.png"
    return "next: buildlog dyno add FILE... --session NAME"


def _name(version: Version) -> str:
    return version.stage or (str(version.number) if version.number else version.name)

"""What `dyno add` understood and wrote, in short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from buildlog.analysis.pulls.logs_added import LogsAdded
from buildlog.analysis.pulls.session_added import SessionAdded
from buildlog.analysis.pulls.session_draft import Found, RawFile
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.records.session import Stated
from buildlog.report.lines import finding_lines, table, wrap
from buildlog.report.numbers import Display, axis_value, declared, digits_for, plain

_STANDARDS = {"none": "observed, no correction", "unknown": "correction unknown"}


def added_lines(done: SessionAdded, show: Display) -> list[str]:
    """The answer, what was taken from the files and why, the pulls, what is odd, where it is."""
    lines = [*wrap(headline(done.sheet, show), 2, 0), ""]
    if done.files:
        lines += taken_lines(done.files, done.given)
    for one in done.taken:
        lines += wrap(f"condition {one.field}: {_stated_value(one)} ({one.where})", 4, 2)
    lines += [*([""] if lines[-1] else []), *pull_lines(done.sheet, show)]
    return [*lines, *written_lines(done, done.sheet.name)]


def written_lines(done: SessionAdded | LogsAdded, session: str) -> list[str]:
    """What is odd, where it was written and what to do next."""
    lines = ["", *finding_lines(done.findings)] if done.findings else []
    lines.append("")
    if done.entry:
        words = "its session.toml changes only in a correction"
        lines.append(f"  the session is recorded in entry {done.entry}: {words}")
    lines.append(f"written to dyno/{session}, not yet recorded")
    return [*lines, f"next: {done.record.line}"]


def condition_lines(found: Sequence[Found]) -> list[str]:
    """The conditions that files state, to be agreed to."""
    return [f"  {one.field:<24} {_stated_value(one)}   ({one.where})" for one in found]


def _stated_value(one: Found) -> str:
    return one.value or ", ".join(f"{text} ({name})" for name, text in one.by_file.items())


def headline(sheet: Sheet, show: Display) -> str:
    """The session's name, how many pulls it has, and the peak of the group that stays."""
    count = len(sheet.curves)
    said = f"{sheet.name}: {count} pull{'' if count == 1 else 's'}"
    group = sheet.kept
    if group is None:
        return f"{said}, {len(sheet.session.stated)} stated (declared, scatter not known)"
    top = group.peak_power
    edge = ", still rising at the end of the range" if top.at_edge else ""
    return (
        f"{said}, peak power {show.value(top.value, 'power')} at {axis_value(top.at, sheet.axis)} "
        f"({sheet.at}, {_STANDARDS.get(sheet.standard, sheet.standard)}{edge})"
    )


def taken_lines(files: Sequence[RawFile], given: Mapping[str, str]) -> list[str]:
    """Columns with their reasons, once for files that are alike; then runs."""
    lines = []
    for alike in _alike(files):
        lines += wrap("taken from " + ", ".join(_entered(one, given) for one in alike), 2, 0)
        lines += _column_lines(alike[0])
    return lines


def _alike(files: Sequence[RawFile]) -> list[list[RawFile]]:
    """Files whose columns were understood in one way, together."""
    groups: dict[object, list[RawFile]] = {}
    for one in files:
        columns = tuple((c.name, c.channel, c.unit, c.why) for c in one.proposal.columns)
        runs = tuple(run.label for run in one.proposal.runs)
        groups.setdefault((columns, runs, one.outside), []).append(one)
    return list(groups.values())


def _entered(one: RawFile, given: Mapping[str, str]) -> str:
    """A file's name, with the one it was given under where that differs."""
    before = given.get(one.name, one.name)
    if one.outside:
        return f"{before} (too large: {one.part} enter as {one.name}, the whole stays outside)"
    return one.name if before == one.name else f"{before} (as {one.name})"


def _column_lines(one: RawFile) -> list[str]:
    read = [c for c in one.proposal.columns if c.spec]
    rows = [(f'"{c.name}"', c.channel or "", "" if c.unit == "1" else c.unit or "") for c in read]
    lines = []
    for column, line in zip(read, table(rows), strict=True):
        why = ("assumed: " if column.assumed else "") + column.why
        lines += wrap(f"{line.strip()}  ({why})", 6, 2)
    unread = [c for c in one.proposal.columns if not c.spec]
    if unread:
        words = "; ".join(f'"{c.name}" ({c.why})' for c in unread)
        lines += wrap(f"not read: {words}", 4, 2)
    if one.runs and len(one.proposal.runs) > 1:
        labels = ", ".join(run.label for run in one.proposal.runs)
        why = one.proposal.runs[0].why
        lines += wrap(f"split into {labels}: {why} (--one-run if it is one pull)", 4, 2)
    return lines


def pull_lines(sheet: Sheet, show: Display) -> list[str]:
    """Each pull's peak and each group's mean; then what is only stated."""
    rows = [row for group in sheet.groups for row in _group_rows(sheet, group, show)]
    head = [("pull", "group", "peak power", "at", "")] if rows else []
    body = [*head, *rows]
    right = (2, 3)
    if not any(group.key for group in sheet.groups):
        body, right = [(row[0], *row[2:]) for row in body], (1, 2)
    return table(body, right=right) + [_stated_line(one) for one in sheet.session.stated]


def _group_rows(sheet: Sheet, group: PullGroup, show: Display) -> list[tuple[str, ...]]:
    peaks = [(curve, curve.peak(sheet.axis)) for curve in group.curves]
    rows: list[tuple[str, ...]] = [
        (
            curve.name,
            group.key,
            show.value(peak.value, "power"),
            axis_value(peak.location, sheet.axis),
            f"{sheet.turning} {curve.speed.state}",
        )
        for curve, peak in peaks
    ]
    if group.pulls < 2:
        return rows
    top = group.peak_power
    share = 100 * sheet.peak_half_width(group) / top.value
    words = f"± {plain(share, digits_for(share))} % (95 %)" if share else ""
    value, at = show.value(top.value, "power"), axis_value(top.at, sheet.axis)
    return [*rows, (f"mean of {group.pulls}", group.key, value, at, words)]


def _stated_line(one: Stated) -> str:
    parts = [
        f"  stated {one.quantity} {declared(one.value)}"
        + (f" at {declared(one.at)}" if one.at else ""),
        f"at the {one.measured_at}" if one.measured_at else "",
        one.standard or "",
        one.source or "",
    ]
    return ", ".join(part for part in parts if part)

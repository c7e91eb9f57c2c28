"""What `dyno log` found and wrote, in short."""

from __future__ import annotations

from buildlog.analysis.pulls.logs_added import LogsAdded
from buildlog.report.as_text.dyno_add_text import taken_lines, written_lines
from buildlog.report.as_text.sheet_text import logger_lines, two_source_lines
from buildlog.report.lines import wrap
from buildlog.report.numbers import Display, count


def logs_lines(done: LogsAdded, show: Display) -> list[str]:
    """How each log was laid over its pull, what was taken from it, what is odd, what to type."""
    pulls = len({one.pull for one in done.logs})
    head = f"{done.session}: {count(len(done.files), 'log')} beside {count(pulls, 'pull')}"
    lines = wrap(head, 2, 0)
    lines += ["", *logger_lines(done.logs)]
    if done.paired:
        lines += wrap(done.paired, 4, 2)
    lines += two_source_lines(done.doubled, done.axis, show)
    lines += ["", *taken_lines(done.files, done.given)]
    return [*lines, *written_lines(done, done.session)]

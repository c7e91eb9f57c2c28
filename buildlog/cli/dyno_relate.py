"""`buildlog dyno relate`: how two machines read the same car."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import (
    json_option,
    ledger_option,
    read_ledger,
    say,
    say_json,
    standard_option,
)

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot


@click.command()
@click.argument("first", metavar="A")
@click.argument("second", metavar="B")
@standard_option
@ledger_option
@json_option
def command(
    first: str, second: str, standard: str | None, ledger_folder: Path | None, as_json: bool
) -> None:
    """How dyno B reads this car against dyno A, from sessions of one configuration on both.

    \b
    buildlog dyno relate R1 R2

    A and B are the shop's own names for the machines (dyno.id). The ratio is worked out anew
    from the ledger whenever sessions on these two are compared; no number is converted by it.
    """
    from buildlog.desk.questions.visits import relation
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.as_text.compare_text import relation_json, relation_lines

    with read_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        _refuse_unknown(book, first, second)
        found = relation(book, first, second, standard)
    if found is None:
        from buildlog.errors import NotFound

        raise NotFound(
            f"no configuration of this car was measured on both {first} and {second}",
            why="a part that moves power changed between every two of their sessions, so "
            "comparisons keep the default of 5 % (common practice)",
            hint="measure the car as it stands on both, or name with configuration = in "
            "session.toml what was measured",
        )
    if as_json:
        say_json("dyno-relate", relation_json(found))
    else:
        a, b = found.pairs[0]
        say([*relation_lines(found), "", f"next: buildlog dyno compare {a} {b}"])


def _refuse_unknown(book: Snapshot, *names: str) -> None:
    """NotFound for a machine that no session names, UsageError for one with itself."""
    from buildlog.analysis.pulls.relate import dyno_id
    from buildlog.errors import NotFound, UsageError

    known = sorted({one for visit in book.visits if (one := dyno_id(visit)) is not None})
    for name in names:
        if name not in known:
            raise NotFound(
                f'no session was on a dyno called "{name}"',
                hint=f"known: {', '.join(known) or 'none: write id in [dyno]'}",
            )
    if names[0] == names[1]:
        raise UsageError("a machine is not related to itself", hint="name two machines")

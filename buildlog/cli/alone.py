"""`buildlog` alone in a ledger: where the car stands, above the commands."""

from __future__ import annotations

import click

from buildlog.cli.common import say


def where_it_stands() -> None:
    """Nothing outside a ledger; a ledger that cannot be read says why."""
    from buildlog.desk.questions.check_all import what_next
    from buildlog.desk.snapshot import opening
    from buildlog.errors import BuildlogError, NotFound
    from buildlog.report.as_text.history_text import headline
    from buildlog.report.as_text.steps_text import next_lines
    from buildlog.report.lines import wrap
    from buildlog.report.numbers import speaking

    try:
        with opening.snapshot() as book:
            show = speaking(opening.units_of(book.ledger))
            told = headline(book.entries, show) if book.entries else "nothing is recorded yet"
            name = book.newest.configuration.car.name
            say([*wrap(f"{name}: {told}", 2, 0), *next_lines(what_next(book), show), ""])
    except NotFound:
        return
    except BuildlogError as error:
        click.echo(f"{error}\n", err=True)

"""A maker's sheet of joints read in, and tapped through bolt by bolt, stage by stage."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.acts.torque_sheets import SheetSaid, StageWritten, add_sheet, tighten
from buildlog.errors import InvalidInput
from buildlog.page.acts import doing

if TYPE_CHECKING:
    from buildlog.analysis.car.written import Written
    from buildlog.desk.snapshot.opening import Ledger
    from buildlog.page.asked import Asked
    from buildlog.page.came_of import ActAnswer
    from buildlog.page.sent import Sent


def turn(asked: Asked, sent: Sent) -> ActAnswer:
    """One bolt at one stage; without a value it got what the stage asks for."""
    sheet, _, rest = sent.needed("what", "the bolt").partition("/")
    named = rest.rsplit("/", 2)  # a joint's own name may hold a stroke
    if len(named) != 3 or not (named[1].isdecimal() and named[2].isdecimal()):
        raise InvalidInput("this form names no bolt of a sheet", hint="load the page again")
    joint, number, stage = named
    how = sent.one("how")
    if how not in ("tool setting", "reading"):
        raise InvalidInput(f'"{how}" does not say what the value is', hint="tool setting, reading")

    value = doing.number(sent.one("value")) or None

    def do(ledger: Ledger) -> StageWritten:
        return tighten(
            ledger, sheet, joint, int(stage), value, number=int(number),
            how="reading" if how == "reading" else "tool setting", by=asked.person,
        )  # fmt: skip

    return doing.did(asked, sent, do, lambda _: f"bolt {number} of {joint}", changes=True)


def read_sheet(asked: Asked, sent: Sent) -> ActAnswer:
    """A maker's sheet as a file."""
    files = sent.files("files")
    if not files:
        raise InvalidInput("no file was sent", hint="choose the table of joints")
    said = SheetSaid(title=sent.given("title"), source=sent.given("source"), by=asked.person)

    def do(ledger: Ledger) -> Written:
        return add_sheet(ledger, files[0].path, said)

    return doing.did(asked, sent, do, lambda written: f"read in: {written.paths[0]}")

"""Files of a dyno session dropped, their columns corrected, a pull left out with a reason."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.analysis.car.written import Written
from buildlog.desk.acts.dyno import pulls_used
from buildlog.desk.acts.dyno.session_addition import SessionSaid, add_session
from buildlog.errors import InvalidInput
from buildlog.page.acts import doing
from buildlog.page.asked import Asked
from buildlog.page.came_of import ActAnswer
from buildlog.page.sent import Sent

if TYPE_CHECKING:
    from buildlog.desk.snapshot.opening import Ledger

_CONDITIONS = {
    "date": "date", "dyno": "dyno.id", "dyno_kind": "dyno.kind", "gear": "gear", "place": "place",
    "standard": "standard_applied", "temperature": "air.temperature",
    "pressure": "air.pressure", "humidity": "air.humidity", "altitude": "altitude",
    "note": "note",
}  # fmt: skip


def add_files(asked: Asked, sent: Sent) -> ActAnswer:
    """Raw files into a session, byte for byte, all of them or none."""
    files = sent.files("files")
    if not files:
        raise InvalidInput("no file was sent", hint="choose the files of the pulls")
    typed = {field: doing.measured(sent, name, f"unit:{name}")
             for name, field in _CONDITIONS.items()}  # fmt: skip
    stated = {field: text for field, text in typed.items() if text}
    if reading := doing.odometer(sent):
        stated["odometer"] = reading
    said = SessionSaid(
        stated, sent.all("map"), sent.all("leave_out"),
        take_conditions=sent.one("take_conditions") != "no",
    )  # fmt: skip

    def do(ledger: Ledger) -> Written:
        return add_session(ledger, [one.path for one in files], sent.one("session"), said)

    done = doing.did(asked, sent, do, lambda written: f"added as {written.paths[-1].split('/')[1]}")
    found = re.fullmatch(r"added as (.*)", done.said) if done.stands else None
    return replace(done, path=asked.at(f"dyno/{quote(found[1])}")) if found else done


def add_log(asked: Asked, sent: Sent) -> ActAnswer:
    """Files of other loggers laid over the pulls of a session."""
    from buildlog.desk.acts.dyno.log_addition import LogsSaid, add_logs

    files = sent.files("files")
    if not files:
        raise InvalidInput("no file was sent", hint="choose the logger's files")
    said = LogsSaid(sent.given("what"), sent.given("pull"), sent.given("shift"))

    def do(ledger: Ledger) -> Written:
        return add_logs(ledger, [one.path for one in files], said)

    told = "one file is" if len(files) == 1 else f"{len(files)} files are"
    return doing.did(asked, sent, do, lambda _: f"{told} laid over the pulls")


def map_columns(asked: Asked, sent: Sent) -> ActAnswer:
    """What the columns of a session hold, set right."""
    session = sent.needed("what", "the session")
    channels = {int(key): name for key, name in sent.below("column:").items() if key.isdecimal()}
    units = {int(key): unit for key, unit in sent.below("unit:").items() if key.isdecimal()}

    def do(ledger: Ledger) -> Written:
        return pulls_used.map_columns(ledger, session, channels, units)

    return doing.did(asked, sent, do, lambda _: f"columns of {session} set")


def pull_unused(asked: Asked, sent: Sent) -> ActAnswer:
    """A pull that does not count, with the reason; without one it counts again."""
    session, slash, pull = sent.needed("what", "the pull").partition("/")
    if not slash:
        raise InvalidInput("this form names no pull", hint="load the page again")
    if sent.one("leave_out"):
        sent.needed("why", "why it is left out")

    def do(ledger: Ledger) -> Written:
        return pulls_used.use_pull(ledger, session, pull, sent.given("why"))

    counts = "does not count" if sent.one("why") else "counts again"
    shown = "old" in sent.fields
    return doing.did(asked, sent, do, lambda _: f"{pull} {counts}", changes=shown)

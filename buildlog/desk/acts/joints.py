"""Joints: how they were tightened, against what was asked for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from buildlog.analysis.car.written import RecordWith
from buildlog.analysis.workshop.fastener_book import JointWritten, judged
from buildlog.desk.acts import filing
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import InvalidInput
from buildlog.records.fasteners import Joint
from buildlog.store.ledger.ledger import Ledger


@dataclass(frozen=True)
class Tightening:
    """What is said of a joint besides its fasteners, each quantity with its unit."""

    part: str | None = None
    thread: str | None = None
    grade: str | None = None
    condition: str | None = None
    spec_low: str | None = None
    spec_high: str | None = None
    spec_angle: str | None = None
    spec_source: str | None = None
    single_use: bool | None = None
    retorque_after: str | None = None
    retorque_of: str | None = None
    tool: str | None = None
    note: str | None = None


def add_joint(
    ledger: Ledger,
    joint: str,
    torques: Sequence[tuple[str, str | None]],
    said: Tightening,
    *,
    angle: str | None = None,
    new: bool = False,
    odometer: str | None = None,
    by: str | None = None,
    on: dt.date | None = None,
) -> JointWritten:
    """Write down how a joint was tightened: each fastener's place and torque, the rest of all."""
    if said.part:
        filing.refuse_no_part(said.part)
    book, day = Snapshot(ledger), filing.day(on)
    if said.retorque_of:
        _refuse_unknown(book, said.retorque_of)
    head = {
        "joint": joint, "date": day, "odometer": filing.odometer(book, odometer), **asdict(said),
        "single_use": said.single_use or None, "by": filing.who(by),
    }  # fmt: skip
    fields = {name: head[name] for name in Joint.model_fields if name in head}
    items = [
        {"position": place, "torque": torque, "angle": angle, "new": True if new else None}
        for place, torque in torques
    ]
    stem = f"{day}-{filing.slug(joint)}"
    path, written = filing.add(ledger, ("torque", stem), Joint, fields, "fastener", items)
    found, usual, _ = judged(path.split("/")[1].removesuffix(".toml"), written)
    meant = RecordWith(f"{joint} tightened")
    return JointWritten((path,), meant, written, usual, findings=tuple(found))


def _refuse_unknown(book: Snapshot, again: str) -> None:
    """InvalidInput if the tightening that is repeated is not on record."""
    known = {name for version in book.until_now for name in version.joints}
    if again not in known:
        some = f"known: {', '.join(sorted(known)[-8:])}" if known else "there is none yet"
        raise InvalidInput(f'there is no record "{again}"', hint=some)

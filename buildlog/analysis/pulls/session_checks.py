"""What a new session says against the car's history: date, odometer, gear, calibration."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from buildlog.analysis.car.version import Version
from buildlog.findings import Finding, Severity, how_many
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import of_session
from buildlog.records.session import Session

_DATE, _ODOMETER, _GEAR = of_session("date"), of_session("odometer"), of_session("gear")
_STANDARD, _DYNO = of_session("standard_applied"), of_session("dyno.id")
_KEEP, _CALIBRATION = of_session("pull[].keep"), of_session("pull[].calibration")
FAR = 100_000e3  # metres between two entries beyond which a unit or a digit is more likely wrong


def check_session(
    session: Session, history: Sequence[Version], configuration: Configuration, today: dt.date
) -> Iterator[Finding]:
    """All findings about a session that is not yet recorded; `history` holds entries only."""
    line = [version for version in history if version.kind != "earlier"]
    yield from _date(session, line, today)
    yield from _odometer(session, line)
    yield from _gear(session, configuration)
    yield from _standard(session)
    yield from _dyno(session)
    yield from _calibration(session, configuration)


def _date(session: Session, line: Sequence[Version], today: dt.date) -> Iterator[Finding]:
    if session.date > today:
        yield _finding("date-ahead", f"the date {session.date} is still to come", _DATE)
    last = line[-1] if line else None
    if last and last.date and session.date < last.date:
        yield _finding(
            "date-order",
            f"the date {session.date} is before that of entry {last.number} ({last.date})",
            _DATE,
            "if the file came late: name the entry that was measured with --configuration ENTRY, "
            "and record it with --odometer-note",
        )


def _odometer(session: Session, line: Sequence[Version]) -> Iterator[Finding]:
    reading = session.odometer
    if reading is None:
        yield _finding(
            "odometer-missing",
            "the odometer is not given: parts' distances cannot be counted to this visit",
            _ODOMETER,
            'odometer = "88412 mi" in session.toml',
            "note",
        )
        return
    last = next((v for v in reversed(line) if v.odometer is not None), None)
    if last is None or last.odometer is None:
        return
    there = f"entry {last.number} ({last.odometer_text})"
    if reading.si < last.odometer - reading.half_step:
        text = f"the odometer {reading.text} is below that of {there}"
        yield _finding("odometer-order", text, "odometer", "look at the digits and the unit")
    elif reading.si - last.odometer > FAR:
        text = f"the odometer {reading.text} is far above that of {there}"
        yield _finding("odometer-far", text, "odometer", "look at the digits and the unit")


def _gear(session: Session, configuration: Configuration) -> Iterator[Finding]:
    box = configuration.gearbox
    count = len(box.ratios) if box and box.ratios else None
    gears = {pull.gear or session.gear for pull in session.pull} - {None}
    for gear in sorted(gear for gear in gears if gear is not None):
        if count is not None and gear > count:
            text = (
                f"gear {gear} is beyond the gearbox: car.toml gives it {how_many(count, 'ratio')}"
            )
            yield _finding("gear-beyond", text, _GEAR, "look at the gear, or at gearbox.ratios")
    single = configuration.car.power_source == "electric" and not count
    if session.pull and not gears and not single:
        text = (
            "the gear is not given: engine speed cannot be recovered and pulls cannot be compared"
        )
        yield _finding("gear-missing", text, _GEAR, "gear = 4 in session.toml", "note")


def _standard(session: Session) -> Iterator[Finding]:
    if not session.pull or session.standard_applied not in {None, "unknown"}:
        return
    yield _finding(
        "standard-unknown",
        "it is not known whether the file's power is corrected already, so it is shown as it is "
        "and compared with no other session's",
        _STANDARD,
        'standard_applied = "none" in session.toml if the numbers are as measured, else the '
        "name of the standard",
    )


def _dyno(session: Session) -> Iterator[Finding]:
    if session.pull and not (session.dyno and session.dyno.id):
        text = "the dyno is not named, so every other session counts as one on another dyno"
        yield _finding("dyno-missing", text, _DYNO, '[dyno] id = "R1"', "note")


def _calibration(session: Session, configuration: Configuration) -> Iterator[Finding]:
    fitted = configuration.calibration.id if configuration.calibration else None
    named = list(dict.fromkeys(pull.calibration for pull in session.pull if pull.calibration))
    kept = list(dict.fromkeys(p.calibration for p in session.pull if p.keep and p.calibration))
    if len(named) > 1 and not kept:
        yield _finding(
            "group-not-kept",
            f"calibrations {' and '.join(named)} and none is marked as the one that stays: "
            f"{named[-1]}, the last, counts",
            _KEEP,
            "keep = true at the pulls of the one that stays in the car",
            "note",
        )
    stays = (kept or named)[-1:]
    if fitted and stays and stays[0] != fitted:
        yield _finding(
            "calibration-differs",
            f"calibration {stays[0]} stays in the car, but car.toml says {fitted}",
            _CALIBRATION,
            f"buildlog set calibration.id={stays[0]}, or keep = true at the pulls with {fitted}",
        )


def _finding(
    code: str, text: str, path: str, hint: str | None = None, severity: Severity = "caution"
) -> Finding:
    return Finding(code, severity, text, (path,), hint=hint)

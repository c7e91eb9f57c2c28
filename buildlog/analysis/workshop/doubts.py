"""What can be read and is still doubtful: slips of the pen, impossible numbers, loose ends.

Bounds beyond which a field is refused are the model's; here stand the softer ones, which a
person may know better. Limits without a source are common practice.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from math import pi

from buildlog.analysis.car.changes import newer_fields
from buildlog.analysis.car.gearing import gearing
from buildlog.analysis.car.history_files import HistoryFiles, index_of
from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop import session_doubts
from buildlog.errors import InvalidInput
from buildlog.findings import Finding, Severity
from buildlog.physics.engines import crank
from buildlog.physics.parts import trouble_codes, tyres, vin
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.driveline import TyreSet
from buildlog.records.checked_paths import TablePath, field, field_paths, table, value_at
from buildlog.records.checks import Check
from buildlog.records.fasteners import Joint, JointSheet, place_of
from buildlog.records.faults import Fault
from buildlog.records.paths import field_at, fields, nearest
from buildlog.records.stated import read_stated

_VIN, _YEAR = field("car.vin"), field("car.year")
_BORE, _DISPLACEMENT = field("engine.bore"), field("engine.displacement")
_COMPRESSION, _REV_LIMIT = field("engine.compression_ratio"), field("engine.rev_limit")
_RATIOS, _MASS = field("gearbox.ratios"), field("chassis.mass")
_FILE, _WRITTEN_FOR = field("calibration.file"), field("calibration.written_for")
_TYRES, _FRONT, _REAR = table("tyres"), table("tyres.front"), table("tyres.rear")
# What an electric car has none of.
_BURNS = field_paths("engine.cylinders", "engine.bore", "engine.stroke", "engine.compression_ratio")
_OLD_TYRE = 6 * 365.25  # days (common practice)
_PISTON_SPEED = 28.0  # m/s at the limiter; beyond it only racing engines go (common practice)
_CYLINDER = (40e-6, 1500e-6)  # m^3 of one cylinder of a road car or motorcycle
_TOP_SPEED = 450 / 3.6  # m/s; beyond it no road car or motorcycle goes (common practice)
_STROKES = (0.6, 1.7)  # bore over stroke
_HEAVY = 3500.0  # kg; above it a road car needs another licence in most countries
_SPARK_RATIO, _DIESEL_RATIO = 15.0, 13.0  # compression ratio, at most and at least


def configuration(now: Configuration, today: dt.date) -> list[Finding]:
    """What is doubtful in the configuration alone."""
    newer = newer_fields(now)
    found: list[Finding] = [newer] if newer else []
    for one in (_vin, _cylinders, _compression, _piston_speed, _gears, _top_speed, _statements):
        found += one(now)
    return [*found, *_car(now, today), *_tyre_marks(now, today)]


def papers(history: Sequence[Version], held: HistoryFiles) -> list[Finding]:
    """What is doubtful in sessions, faults, checks and tightening records, and in their order."""
    return [
        *_codes(held),
        *_parts_named(history, held),
        *_odometers(history, held),
        *session_doubts.sessions(held.visits),
    ]


def calibration_file(now: Configuration, digests: Mapping[str, str]) -> list[Finding]:
    """The calibration's file against the SHA-256 on record. `digests`: path -> SHA-256."""
    table = now.calibration
    if table is None or table.file is None:
        return []
    actual = digests.get(table.file)
    if actual is None:
        text = f"calibration.file names {table.file}, which is not in the folder"
        return [_doubt("calibration-file", text, _FILE, "copy it under attachments")]
    if table.file_sha256 is None:
        hint = f'buildlog set calibration.file_sha256="{actual}"'
        text = f"the SHA-256 of {table.file} is not on record"
        return [_doubt("calibration-file", text, _FILE, hint, "note")]
    if table.file_sha256 != actual:
        text = f"{table.file} is not the file on record: its SHA-256 is {actual[:12]}..."
        hint = "put the right file there, or give the changed one an id of its own"
        return [_doubt("calibration-file", text, _FILE, hint, "error")]
    return []


# The configuration


def _vin(now: Configuration) -> Iterator[Finding]:
    if now.car.vin is None:
        return
    wrong = vin.fault(now.car.vin)
    if wrong:
        yield _doubt("vin", wrong.rstrip("."), _VIN,
                     "an older car's number goes into car.chassis_number", "error")  # fmt: skip
        return
    plain = vin.normalise(now.car.vin)
    due = vin.check_digit(plain)
    if plain[8] != due:
        american = now.car.market == "north-america"
        rule = "" if american else " (a North American rule: others need not follow it)"
        text = f"the VIN's check digit is {plain[8]}, by the rest of it {due}{rule}"
        if american or now.car.market is None:
            yield _doubt("vin-check-digit", text, _VIN, "read it again, letter by letter",
                         "caution" if american else "note")  # fmt: skip
        return
    year = vin.model_year(plain) if now.car.market == "north-america" else None
    if year and now.car.year and year != now.car.year:
        text = f"the VIN tells model year {year}, car.year says {now.car.year}"
        yield _doubt("vin-year", text, _YEAR)


def _car(now: Configuration, today: dt.date) -> Iterator[Finding]:
    """A model year that has not come yet, and a mass that no road car has."""
    year, mass = now.car.year, now.chassis.mass if now.chassis else None
    if year is not None and year > today.year + 1:
        text = f"the model year {year} lies ahead: this is {today.year}"
        yield _doubt("model-year", text, _YEAR, "look at the digits")
    if now.car.power_source == "electric":
        for path in _BURNS:
            if value_at(now, path) is not None:
                text = f"{path} is stated, and car.power_source is electric"
                yield _doubt("electric", text, path, "take one of the two away")
    if mass is not None and mass.si > _HEAVY:
        text = f"a mass of {mass.text} is more than a road car has"
        yield _doubt("car-mass", text, _MASS, "look at the digits and the unit")


def _cylinders(now: Configuration) -> Iterator[Finding]:
    table = now.engine
    if table is None or table.bore is None or table.stroke is None or table.layout == "rotary":
        return
    ratio = table.bore.si / table.stroke.si
    one = crank.displacement(table.bore.si, table.stroke.si, 1)
    if not _STROKES[0] <= ratio <= _STROKES[1] or not _CYLINDER[0] <= one <= _CYLINDER[1]:
        text = (
            f"a bore of {table.bore} with a stroke of {table.stroke} makes a cylinder of "
            f"{one * 1e6:.0f} cc, unusual for its kind"
        )
        yield _doubt("cylinder", text, _BORE, "look at the units")
    if table.displacement and table.cylinders:
        whole = one * table.cylinders
        if abs(whole / table.displacement.si - 1) > 0.02:
            text = (
                f"bore, stroke and cylinders give {whole * 1e6:.0f} cc, engine.displacement says "
                f"{table.displacement}"
            )
            yield _doubt("displacement", text, _DISPLACEMENT)


def _compression(now: Configuration) -> Iterator[Finding]:
    ratio = now.engine.compression_ratio if now.engine else None
    if ratio is None:
        return
    source = now.car.power_source
    if source in ("spark-ignition", "hybrid", None) and ratio > _SPARK_RATIO:
        text = f"a compression ratio of {ratio:g} is high for spark ignition"
        yield _doubt("compression-ratio", text, _COMPRESSION, "9.8 typed as 98?")
    if source == "compression-ignition" and ratio < _DIESEL_RATIO:
        text = f"a compression ratio of {ratio:g} is low for compression ignition"
        yield _doubt("compression-ratio", text, _COMPRESSION)


def _piston_speed(now: Configuration) -> Iterator[Finding]:
    table = now.engine
    if table is None or table.stroke is None or table.rev_limit is None:
        return
    speed = crank.mean_piston_speed(table.stroke.si, table.rev_limit.si)
    if speed > _PISTON_SPEED:
        text = (
            f"{table.rev_limit} with a stroke of {table.stroke} is a mean piston speed of "
            f"{speed:.0f} m/s"
        )
        yield _doubt("piston-speed", text, _REV_LIMIT, "look at stroke and limit")


def _gears(now: Configuration) -> Iterator[Finding]:
    ratios = now.gearbox.ratios if now.gearbox else None
    if ratios and list(ratios) != sorted(ratios, reverse=True):
        yield _doubt("gear-ratios", "the gear ratios do not fall from gear to gear",
                     _RATIOS, "first gear first, without reverse")  # fmt: skip


def _top_speed(now: Configuration) -> Iterator[Finding]:
    """No road car does it, and a motorcycle whose primary drive was left out seems to."""
    limits = [table.rev_limit for table in (now.calibration, now.engine) if table]
    limit = next((one for one in limits if one is not None), None)
    ratios = now.gearbox.ratios if now.gearbox else None
    if limit is None or not ratios:
        return
    turns = gearing(now, len(ratios)).turns_per_metre
    speed = limit.si / (2 * pi) / turns if turns else 0.0
    if speed > _TOP_SPEED:
        text = f"the gearing gives {speed * 3.6:.0f} km/h in top gear at the limiter of {limit}"
        yield _doubt("top-speed", text, _RATIOS,
                     "is a reduction missing? gearbox.primary_ratio holds a motorcycle's; "
                     "else look at final_drive.ratio")  # fmt: skip


def _statements(now: Configuration) -> Iterator[Finding]:
    """written_for names fields of car.toml and values that they could have."""
    said = now.calibration.written_for if now.calibration else None
    for path, value in (said or {}).items():
        where = f'{_WRITTEN_FOR}."{path}"'
        try:
            field_at(Configuration, path)
        except InvalidInput as error:
            yield _doubt("written-for", f"{where}: {error.what}", where, error.hint, "error")
            continue
        if read_stated(path, value) is None:
            yield _doubt("written-for", f'{where}: "{value}" does not fit the field', where,
                         "write it as car.toml would have it", "error")  # fmt: skip


def _tyre_marks(now: Configuration, today: dt.date) -> Iterator[Finding]:
    sets: dict[TablePath, TyreSet | None] = {_TYRES: now.tyres}
    if now.tyres:
        sets |= {_FRONT: now.tyres.front, _REAR: now.tyres.rear}
    for path, one in sets.items():
        if one is not None:
            yield from _size(path, one)
            yield from _age(path, one, today)


def _size(path: TablePath, one: TyreSet) -> Iterator[Finding]:
    if one.size is not None:
        try:
            marked = tyres.parse_size(one.size)
        except ValueError as error:
            yield _doubt("tyre-size", str(error).rstrip("."), path.field("size"))
        else:
            for name, own, there in (
                ("speed symbol", one.speed_symbol, marked.speed_symbol),
                ("load index", one.load_index, marked.load_index),
            ):
                if own and there and there != "ZR" and own != there:
                    text = f"the size says {name} {there}, the field {own}"
                    yield _doubt("tyre-marks", text, path.field("size"))
    if one.speed_symbol and one.speed_symbol not in tyres.SPEED_SYMBOLS:
        text = f'"{one.speed_symbol}" is no speed symbol of a road tire'
        yield _doubt("tyre-marks", text, path.field("speed_symbol"))


def _age(path: TablePath, one: TyreSet, today: dt.date) -> Iterator[Finding]:
    if one.made is None:
        return
    week, year = int(one.made[:2]), 2000 + int(one.made[2:])
    try:
        made = dt.date.fromisocalendar(year, week, 1)
    except ValueError:
        yield _doubt("tyre-made", f'"{one.made}" is no week and year', path.field("made"),
                     "2319 is week 23 of 2019")  # fmt: skip
        return
    days = (today - made).days
    if days < 0:
        yield _doubt("tyre-made", f"the tires' {one.made} lies in the future", path.field("made"))
    elif days > _OLD_TYRE:
        text = f"the tires were made in week {week} of {year}, {days / 365.25:.0f} years ago"
        yield _doubt("tyre-age", text, path.field("made"), "look for cracks before any fast drive")


# What is filed beside it


def _codes(held: HistoryFiles) -> Iterator[Finding]:
    stated = [(f"faults/{name}.toml", fault.codes) for name, fault in held.faults.items()]
    for name, check in held.checks.items():
        stated += [(f"checks/{name}.toml, {item.key}", item.codes) for item in check.item]
    for where, codes in stated:
        for code in codes:
            try:
                trouble_codes.parse(code)
            except ValueError as error:
                yield Finding("trouble-code", "caution", str(error).rstrip("."), where=where)


def _parts_named(history: Sequence[Version], held: HistoryFiles) -> Iterator[Finding]:
    """Faults and tightening records name parts that some version had."""
    named = {f"faults/{name}.toml": fault.part for name, fault in held.faults.items()}
    named |= {place_of(name): joint.part for name, joint in held.joints.items()}
    for where, path in named.items():
        if path and not is_part(path):
            yield Finding("part-path", "caution", f'"{path}" is no part of the configuration',
                          (path,), where, nearest(path, part_paths()))  # fmt: skip


def is_part(path: str) -> bool:
    """Whether a path names an assembly, a part of one, or an item of work."""
    return path in part_paths() or (path.startswith("work[") and path.endswith("]"))


def part_paths() -> list[str]:
    """Every assembly and sub-assembly that a configuration can have."""
    tables = {path.rpartition(".part.")[0] for path in fields(Configuration) if ".part." in path}
    return [path for path in fields_order(tables) if not path.startswith("work")]


def fields_order(tables: set[str]) -> list[str]:
    """Tables in the order of car.toml."""
    order = list(Configuration.model_fields)
    return sorted(tables, key=lambda path: (order.index(path.split(".")[0].split("[")[0]), path))


_OfADay = Check | Fault | Joint | JointSheet


def _odometers(history: Sequence[Version], held: HistoryFiles) -> Iterator[Finding]:
    """New sessions, checks, faults and records that show less than the newest entry."""
    recorded = [v for v in history if v.number and v.odometer is not None and v.kind != "earlier"]
    working = history[-1]
    if working.number or not recorded:
        return
    newest = recorded[-1]
    new: dict[str, float | None] = {}
    for index, visit in held.visits_in(history):
        own = visit.session.odometer
        if index_of(history, working) == index:
            new[f"dyno/{visit.name}/session.toml"] = own.si if own else None
    papers: tuple[tuple[str, tuple[str, ...], Mapping[str, _OfADay]], ...] = (
        ("checks", working.checks, held.checks),
        ("faults", working.faults, held.faults),
        ("torque", working.joints, {**held.joints, **held.sheets}),
    )
    for folder, names, book in papers:
        for name in names:
            paper = book.get(name)
            own = paper.odometer if paper else None
            new[f"{folder}/{name}.toml"] = own.si if own else None
    for where, metres in new.items():
        if metres is not None and newest.odometer is not None and metres < newest.odometer - 1.0:
            text = f"the odometer is below that of {newest.name} ({newest.odometer_text})"
            yield Finding("odometer-order", "caution", text, ("odometer",), where)


def _doubt(
    code: str, text: str, path: str, hint: str | None = None, severity: Severity = "caution"
) -> Finding:
    return Finding(code, severity, text, (path,), "car.toml", hint)

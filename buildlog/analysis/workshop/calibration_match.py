"""Whether the calibration in the car belongs to the hardware in the car.

A calibration (its id and its file) belongs to the hardware named in its `written_for`; without
that, to the hardware of the first session or light-load check under it; before any of these,
to the hardware of the entry in which it first appears, "not yet proven on the car".

Returning to an earlier id never moves its hardware: what was proven, or stated, while the id was
first in the car stands. A mismatch clears with a new id, or with a `written_for` that was changed
in an entry that somebody approved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from buildlog.analysis.car.history_files import HistoryFiles
from buildlog.analysis.car.version import Version, place_of
from buildlog.findings import Finding
from buildlog.records.car.calibration import Calibration
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field, field_paths
from buildlog.records.field_traits import moves
from buildlog.records.fields.base import once
from buildlog.records.fields.traits import CALIBRATION, CALIBRATION_BY_ROAD_SPEED
from buildlog.records.key_words import key_words
from buildlog.records.paths import Value, leaves, same_value, words
from buildlog.records.stated import read_all_stated
from buildlog.units import Quantity

CODE = "calibration-mismatch"
CODE_FILE = "calibration-file-changed"

# What to name first, where much differs.
TELLING = field_paths("induction.kind", "fuel.injectors.flow", "induction.boost.target_gauge")
_FILE = field("calibration.file_sha256")

Key = tuple[str | None, str | None]  # id and the file's SHA-256
Hardware = dict[str, Value]
Difference = tuple[str, Value | None, Value | None]


@dataclass(frozen=True)
class Belongs:
    """The hardware a calibration belongs to, and how that is known.

    `at` is the place in the history; `stated` says that `written_for` names it.
    """

    hardware: Hardware
    at: int
    stated: bool
    how: str


def mismatches(history: Sequence[Version], papers: HistoryFiles) -> list[Finding]:
    """What does not fit at the last version of the history; empty where all fits.

    `history` ends with the version that is asked about: the working files, usually.
    """
    now = history[-1].configuration
    if now.calibration is None:
        return []
    found = belongs(history, papers)
    return [*_hardware(history, found), *_file(history)]


def belongs(history: Sequence[Version], papers: HistoryFiles) -> Belongs:
    """The hardware that the calibration of the last version belongs to."""
    key = _key(history[-1])
    if _came_back(history):  # whatever file and written_for the car still carries
        key = (key[0], None)
    first, returned = _came_and_returned(history, key)
    stated = _stated(history, key, first)
    if stated is not None:
        return stated
    proof = _proof(history, papers, key, returned)
    if proof is not None:
        at, hardware, how = proof
        return Belongs(_as_known_now(history, hardware, at), at, False, how)
    how = f"{history[first].name}, where it first appears; it is not yet proven on the car"
    known = _as_known_now(history, hardware_of(history[first]), first)
    return Belongs(known, first, False, how)


def hardware_of(version: Version) -> Hardware:
    """The fields of a version that a calibration depends on."""
    return _hardware_in(version.configuration)


@once
def _hardware_in(configuration: Configuration) -> Hardware:
    given = leaves(configuration)
    return {path: value for path, value in given.items() if is_relevant(path, configuration)}


def is_relevant(path: str, configuration: Configuration) -> bool:
    """Whether a calibration depends on a field of this car."""
    by_speed = _counts_road_speed(configuration)
    wanted = CALIBRATION | CALIBRATION_BY_ROAD_SPEED if by_speed else CALIBRATION
    return bool(moves(path) & wanted)


def differing(history: Sequence[Version], found: Belongs) -> list[Difference]:
    """Fields of the last version that are not what the calibration belongs to: path, was, now."""
    version = history[-1]
    given = leaves(version.configuration)
    now = given if found.stated else hardware_of(version)
    paths = list(found.hardware) if found.stated else list({**found.hardware, **now})
    return [
        (path, found.hardware.get(path), now.get(path))
        for path in paths
        if not same_value(found.hardware.get(path), now.get(path))
        # A datum that was merely missing where the calibration was proven is no change.
        and (path in found.hardware or not had_table(history[found.at], path))
    ]


def _hardware(history: Sequence[Version], found: Belongs) -> Iterator[Finding]:
    changed = differing(history, found)
    if not changed:
        return
    changed.sort(key=lambda one: one[0] not in TELLING)
    name = _name(history[-1])
    pieces = [
        f"{in_words(path)} was {_shown(was)}, now {_shown(now)}" for path, was, now in changed
    ]
    more = f" and {len(pieces) - 3} more" if len(pieces) > 3 else ""
    unsigned = _unsigned_statement(history, found)
    yield Finding(
        CODE,
        "caution",
        f"{name} does not belong to this hardware ({found.how}): {'; '.join(pieces[:3])}{more}",
        tuple(path for path, _, _ in changed),
        hint=unsigned
        or "load the calibration for this hardware and record its id, or record a "
        "calibration.written_for that somebody approves (--approved-by)",
    )


def _unsigned_statement(history: Sequence[Version], found: Belongs) -> str | None:
    """What to do where written_for was changed and nobody has approved it."""
    table = history[-1].configuration.calibration
    said = table.written_for if table else None
    before = history[-2].configuration.calibration if len(history) > 1 else None
    left_over = _came_back(history) and before is not None and said == before.written_for
    if not said or left_over or (found.stated and read_all_stated(said) == found.hardware):
        return None
    return (
        "written_for was changed under the same id: it counts when the entry is approved "
        "(buildlog record --approved-by ...)"
    )


def _file(history: Sequence[Version]) -> Iterator[Finding]:
    name, own = _key(history[-1])
    others = {
        version.name: _key(version)[1]
        for version in history
        if _has_calibration(version) and _key(version)[0] == name
    }
    before = [place for place, digest in others.items() if digest and own and digest != own]
    if name is not None and before:
        yield Finding(
            CODE_FILE,
            "caution",
            f"calibration {name} is another file now than in {before[0]}: one id, two files",
            (_FILE,),
            hint="give the changed file an id of its own",
        )


# What it belongs to


def _stated(history: Sequence[Version], key: Key, first: int) -> Belongs | None:
    """The newest written_for that counts for this id: its first, or a later approved one."""
    found: Belongs | None = None
    before: Mapping[str, object] | None = None
    for index, version in enumerate(history):
        table = version.configuration.calibration
        said = table.written_for if table else None
        anew = said != before and version.approved_by and not version.working
        if said and (index == first or anew) and _matches(_key(version), key):
            how = f"its written_for, {version.name}"
            found = Belongs(read_all_stated(said), index, True, how)
        before = said
    return found


def _proof(
    history: Sequence[Version], papers: HistoryFiles, key: Key, until: int
) -> tuple[int, Hardware, str] | None:
    """The first session or light-load check under a calibration, before it was returned to."""
    proofs = [*_sessions(history, papers, key), *_light_load(history, papers, key)]
    proofs = [one for one in proofs if one[0] < until]
    return min(proofs, key=lambda one: one[0]) if proofs else None


def _sessions(
    history: Sequence[Version], papers: HistoryFiles, key: Key
) -> Iterator[tuple[int, Hardware, str]]:
    for index, visit in papers.visits_in(history):
        owner = _key(visit.owner)
        for pull in visit.session.pull:
            own: Key = owner if pull.calibration in (None, owner[0]) else (pull.calibration, None)
            if pull.use and _matches(own, key):
                hardware = hardware_of(visit.owner) | _relevant_change(pull.change, visit.owner)
                yield index, hardware, f"proven in the session of {visit.session.date}"
                break


def _light_load(
    history: Sequence[Version], papers: HistoryFiles, key: Key
) -> Iterator[tuple[int, Hardware, str]]:
    for index, _, check in papers.checks_in(history):
        done = any(item.result in ("pass", "fail") for item in check.item)
        owner = _key(history[index])
        own: Key = owner if check.calibration in (None, owner[0]) else (check.calibration, None)
        if check.list == "light-load-check" and done and _matches(own, key):
            how = f"proven in the light-load check of {check.date}"
            yield index, hardware_of(history[index]), how


def _came_back(history: Sequence[Version]) -> bool:
    """Whether the id of the last version was in the car before another one was."""
    ids = [_key(version)[0] for version in history if _has_calibration(version)]
    stints = [name for name, _ in groupby(ids)]
    return stints[-1] is not None and stints[-1] in stints[:-1]


def _came_and_returned(history: Sequence[Version], key: Key) -> tuple[int, int]:
    """The place at which a calibration first appears, and the one at which it came back after it
    had left; beyond the end if it never did."""
    has = [_has_calibration(v) and _matches(_key(v), key) for v in history]
    first = has.index(True)
    left = [i for i in range(first, len(has)) if not has[i]] or [len(has)]
    back = [i for i in range(left[0], len(has)) if has[i]]
    return first, back[0] if back else len(has)


def _as_known_now(history: Sequence[Version], hardware: Hardware, at: int) -> Hardware:
    """Hardware of an earlier version, with what was set right or filled in since."""
    known = dict(hardware)
    before = hardware_of(history[at])
    for last, version in pairwise(history[at:]):
        if version.configuration is last.configuration:
            continue
        now = hardware_of(version)
        corrected = _corrects_back_to(history, version, at)
        for path in now.keys() | before.keys():
            old, new = before.get(path), now.get(path)
            if same_value(old, new):
                continue
            if corrected and same_value(known.get(path), old):
                known.pop(path, None)
                known |= {} if new is None else {path: new}
            elif path not in known and new is not None and had_table(history[at], path):
                known[path] = new
        before = now
    return known


def _corrects_back_to(history: Sequence[Version], version: Version, at: int) -> bool:
    """Whether an entry sets right, or tells of the past, what was so at an earlier place."""
    if version.kind == "earlier":
        return True
    corrected = place_of(history, version.corrects)
    return version.kind == "correction" and corrected is not None and corrected <= at


def had_table(version: Version, path: str) -> bool:
    """Whether a version says anything of the table that a field belongs to."""
    table = path.rpartition(".")[0]
    return any(one.startswith(f"{table}.") for one in leaves(version.configuration))


# Small questions


def _counts_road_speed(configuration: Configuration) -> bool:
    table, box = configuration.calibration, configuration.gearbox
    shifts = box is not None and box.kind in ("automatic", "dual-clutch")
    return shifts or (table is not None and table.speed_limit is not None)


def _has_calibration(version: Version) -> bool:
    return version.configuration.calibration is not None


def _key(version: Version) -> Key:
    table = version.configuration.calibration or Calibration.blank()
    return table.id, table.file_sha256


def _matches(one: Key, other: Key) -> bool:
    """Equal ids; a file's digest that is not given fits any."""
    return one[0] == other[0] and (one[1] == other[1] or None in (one[1], other[1]))


def _name(version: Version) -> str:
    name = _key(version)[0]
    return f"calibration {name}" if name else "the calibration (it has no id)"


def _relevant_change(change: Mapping[str, object] | None, owner: Version) -> Hardware:
    given = read_all_stated(change or {})
    return {p: value for p, value in given.items() if is_relevant(p, owner.configuration)}


def in_words(path: str) -> str:
    """A field in words: "fuel injectors flow"."""
    return f"{key_words(path.split('.')[0])} {words(path)}"


def _shown(value: Value | None) -> str:
    if value is None:
        return "not stated"
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, tuple):
        return ", ".join(_shown(one) for one in value)
    return {"True": "yes", "False": "no"}.get(str(value), str(value))

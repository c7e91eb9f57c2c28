"""The trailer `Changed`: what an entry changed, in few words, as it was when it was recorded.

Written and read here alone. An entry's id hangs on it, so the words follow the names of fields and
folders, which format 1 freezes, and no label that somebody can polish later.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

_LONGEST = 60
# A file of a folder by one word, where car.toml stayed as it was.
_FILES = {"dyno": "session", "checks": "check", "faults": "fault", "torque": "tightening",
          "readings": "odometer", "waiting": "waiting", "due": "service"}  # fmt: skip
_KEYS = ("key ", "keys ")  # how an entry of the key register begins; no assembly is called so


def changed_fields(paths: Sequence[str], longest: int = _LONGEST) -> str:
    """The fields that changed, as the history shows them.

    >>> changed_fields(["clutch.rated_torque", "fuel.ron", "fuel.mon"])
    'clutch rated torque; fuel'
    """
    from buildlog.records.paths import assembly, parts  # loads the models: who reads has no need

    tables: dict[str, list[str]] = {}
    for path in paths:
        tables.setdefault(assembly(path), []).append(_names(parts(path)))
    pieces = [
        f"{name.replace('_', ' ')} {inner[0]}" if len(inner) == 1 else name.replace("_", " ")
        for name, inner in tables.items()
    ]
    text = ""
    for index, piece in enumerate(pieces):
        left = len(pieces) - index
        addition = f"; {piece}" if text else piece
        room = len(f" and {left - 1} more") if left > 1 else 0
        if len(text) + len(addition) > longest - room:
            many = f"{len(pieces)} assemblies" if left > 1 else piece[: longest - 3] + "..."
            return f"{text} and {left} more" if text else many
        text += addition
    return text


def _names(parts: Sequence[str]) -> str:
    """The names below the assembly as the files write them; what screens say of them may change."""
    return " ".join(part if "." in part else part.replace("_", " ") for part in parts[1:] or parts)


def added_files(paths: Iterable[str]) -> str:
    """The files that came where no field changed.

    >>> added_files(["dyno/2026-03-07-stage-1/session.toml", "faults/misfire.toml"])
    'session 2026-03-07-stage-1; fault misfire'
    """
    found = []
    for path in paths:
        folder, _, rest = path.partition("/")
        if folder in _FILES and (folder != "dyno" or rest.endswith("session.toml")):
            name = rest.split("/")[0].removesuffix(".toml").removesuffix(".sheet")
            found.append(f"{_FILES[folder]} {name}")
    return "; ".join(found[:3]) + (f" and {len(found) - 3} more" if len(found) > 3 else "")


def changed_in_car(trailer: str | None) -> str | None:
    """The trailer where it tells of fields; None where files or keys alone came, and without one.

    >>> changed_in_car("clutch rated torque"), changed_in_car("session 2026-03-07-stage-1")
    ('clutch rated torque', None)
    """
    files = tuple(f"{word} " for word in _FILES.values())
    return trailer if trailer and not trailer.startswith((*files, *_KEYS)) else None


def is_of_keys(trailer: str | None) -> bool:
    """Whether an entry changed the key register alone: nobody stood at the car for that.

    >>> is_of_keys("key retired: bench 1"), is_of_keys("clutch rated torque"), is_of_keys(None)
    (True, False, False)
    """
    return trailer is not None and trailer.startswith(_KEYS)

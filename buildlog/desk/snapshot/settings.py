"""The user's settings: the shop's name, display units, who usually signs.

They lie in the user's own configuration folder and never enter a ledger by themselves.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from buildlog.errors import InvalidInput
from buildlog.records.toml.plain_text import clean
from buildlog.store.disk.user_folders import config_file
from buildlog.units import System, system_of

UNITS: tuple[System, ...] = ("us", "metric")


@dataclass(frozen=True)
class Settings:
    """What a user set once; None where nothing was set."""

    shop: str | None = None
    units: str | None = None
    done_by: str | None = None
    signing_key: str | None = None  # a private key file, or the .pub of one that an agent holds


def path() -> Path:
    """The settings file: $BUILDLOG_CONFIG, else in the user's configuration folder."""
    named = os.environ.get("BUILDLOG_CONFIG")
    if named:
        return Path(named)
    return config_file("settings.toml")


def load() -> Settings:
    """The settings; all None when there is no file. InvalidInput names the file and the field."""
    where = path()
    try:
        data = tomllib.loads(where.read_text("utf-8"))
    except FileNotFoundError:
        return Settings()
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InvalidInput(
            f"the settings cannot be read: {error}",
            where=str(where),
            hint="mend or delete the file",
        ) from error
    return _settings(data, where)


def shown_in(asked: str | None, odometers: Iterable[str | None]) -> System:
    """The units of results: as asked for, as the user set, else as odometers were written."""
    chosen = asked or load().units
    return next((known for known in UNITS if known == chosen), None) or system_of(odometers)


def save(settings: Settings) -> Path:
    """Write the settings, keeping comments; fields that are None are left as they are."""
    from buildlog.records.toml import toml_edit
    from buildlog.store.disk import atomic

    where = path()
    values = {key: value for key, value in asdict(settings).items() if value is not None}
    _settings(values, where)
    with atomic.disk_errors("writing the settings"):
        before = where.read_bytes() if where.exists() else b"# settings of buildlog\n"
        atomic.replace(where, toml_edit.set_values(before, values))
    return where


def _settings(data: dict[str, object], where: Path) -> Settings:
    found = Settings()
    for key, value in data.items():
        if key not in asdict(found) or not isinstance(value, str):
            raise InvalidInput(
                f"{key} = {value!r} is no setting",
                where=str(where),
                hint=f"texts named {', '.join(asdict(found))}",
            )
        found = replace(found, **{key: clean(value, key, longest=1000)})
    if found.units not in (None, *UNITS):
        raise InvalidInput(
            f'units = "{found.units}" is not known', where=str(where), hint='"us" or "metric"'
        )
    return found

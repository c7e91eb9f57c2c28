"""The user's settings, and what follows of them: display units, who records, the key that signs.

They lie in the user's own configuration folder and never enter a ledger by themselves.
"""

from __future__ import annotations

import datetime as dt
import os
import tomllib
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.errors import InvalidInput, NotFound, TrustError, in_words
from buildlog.records.toml.plain_text import clean
from buildlog.store.disk.user_folders import config_file
from buildlog.units import System, system_of

if TYPE_CHECKING:
    from buildlog.store.ledger.append import Recorder
    from buildlog.store.ledger.ledger import Ledger
    from buildlog.store.trust.sshsig import Signer

UNITS: tuple[System, ...] = ("us", "metric")
NAMELESS = "shop without a name"
Ask = Callable[[Path], str]  # the passphrase of a key file, from whoever knows it


@dataclass(frozen=True)
class Settings:
    """What a user set once; None where nothing was set."""

    shop: str | None = None
    units: str | None = None
    done_by: str | None = None
    signing_key: str | None = None  # a private key file, or the .pub of one that an agent holds
    staff: str | None = None  # the shop's own file of staff codes; no ledger holds it
    customers: str | None = None  # the shop's own file of customers, by ledger id
    cars: str | None = None  # the folder of the shop's cars: every prediction learns from them


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
            f"the settings cannot be read: {in_words(error)}",
            where=str(where),
            hint="fix or delete the file",
        ) from error
    return _settings(data, where)


def shown_in(asked: str | None, odometers: Iterable[str | None]) -> System:
    """The units of results: as asked for, as the user set, else as odometers were written."""
    chosen = asked or load().units
    return next((known for known in UNITS if known == chosen), None) or system_of(odometers)


def shop_folder() -> Path | None:
    """The folder of the shop's cars, by which every command predicts alike."""
    named = load().cars
    return Path(named).expanduser() if named else None


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


def recorder(sign: Callable[[bytes], bytes] | None = None, *, nameless: str = NAMELESS) -> Recorder:
    """The recorder of an act that happens now; `nameless` stands for a shop that has no name."""
    from buildlog.records.fields.newer import WRITTEN_BY
    from buildlog.store.ledger.append import Recorder

    return Recorder(load().shop or nameless, dt.datetime.now().astimezone(), sign, WRITTEN_BY)


def signer(key: Path | None = None, ask: Ask | None = None) -> Signer:
    """The signer of a key file, else of the user's settings; TrustError where there is none."""
    from buildlog.store.trust import sshsig

    held = load().signing_key
    place = key or (Path(held) if held else None)
    if place is None:
        raise TrustError(
            "no key is set to sign with",
            hint='write signing_key = "~/.ssh/id_ed25519" in your settings file, '
            f"{path()}, or name one with --key",
        )
    return sshsig.signer(place, (lambda: ask(place)) if ask else None)


def signer_of(ledger: Ledger, ask: Ask | None) -> Signer:
    """The signer of the settings; TrustError where its key does not count in this ledger."""
    from buildlog.store.ledger import key_events

    by = signer(ask=ask)
    key_events.may_sign(ledger, by)
    return by


def known_signers(files: tuple[Path, ...]) -> dict[str, str]:
    """Public keys from files got elsewhere, by their text; the user's own where none is named."""
    from buildlog.store.trust.keyring import known_signers as read

    if not files:
        return own_key()
    found: dict[str, str] = {}
    for file in files:
        if not file.is_file():
            raise NotFound("there is no such file of keys", where=str(file))
        found |= read(file.read_bytes()[: 1 << 20].decode("utf-8", "replace"))
    return found


def own_key() -> dict[str, str]:
    """The user's own public key, if it lies beside the private one. Nothing is asked."""
    from buildlog.store.trust.keyring import known_signers as read

    held = load().signing_key
    if held is None:
        return {}
    place = Path(held).expanduser()
    public = place if place.suffix == ".pub" else place.with_name(place.name + ".pub")
    if not public.is_file():
        return {}
    return dict.fromkeys(read(public.read_text("utf-8", "replace")), "your own key")

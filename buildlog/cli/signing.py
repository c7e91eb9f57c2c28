"""The key a user signs with, as the commands ask for it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import at_terminal

if TYPE_CHECKING:
    from buildlog.store.sshsig import Signer


def signer(named: Path | None = None) -> Signer:
    """The signer of a key file, else of the user's settings."""
    from buildlog.errors import TrustError
    from buildlog.store import settings, sshsig

    held = settings.load().signing_key
    place = named or (Path(held) if held else None)
    if place is None:
        raise TrustError(
            "no key is set to sign with",
            hint='write signing_key = "~/.ssh/id_ed25519" in your settings file, '
            f"{settings.path()}, or name one with --key",
        )

    def ask() -> str:
        return str(click.prompt(f"Passphrase of {place}", hide_input=True, err=True))

    return sshsig.signer(place, ask if at_terminal() else None)


def known_signers(files: tuple[Path, ...]) -> dict[str, str]:
    """Public keys from files got elsewhere, by their text; the user's own where none is named."""
    from buildlog.errors import NotFound
    from buildlog.store.keyring import known_signers as read

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
    from buildlog.store import settings
    from buildlog.store.keyring import known_signers as read

    held = settings.load().signing_key
    if held is None:
        return {}
    place = Path(held).expanduser()
    public = place if place.suffix == ".pub" else place.with_name(place.name + ".pub")
    if not public.is_file():
        return {}
    return dict.fromkeys(read(public.read_text("utf-8", "replace")), "your own key")

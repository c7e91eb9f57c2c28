"""The keys of a ledger's user: the one to sign with, and those whose word counts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildlog.store.trust.sshsig import Signer

Ask = Callable[[Path], str]  # the passphrase of a key file, from whoever knows it


def signer(named: Path | None = None, ask: Ask | None = None) -> Signer:
    """The signer of a key file, else of the user's settings; TrustError where there is none."""
    from buildlog.desk.snapshot import settings
    from buildlog.errors import TrustError
    from buildlog.store.trust import sshsig

    held = settings.load().signing_key
    place = named or (Path(held) if held else None)
    if place is None:
        raise TrustError(
            "no key is set to sign with",
            hint='write signing_key = "~/.ssh/id_ed25519" in your settings file, '
            f"{settings.path()}, or name one with --key",
        )
    return sshsig.signer(place, (lambda: ask(place)) if ask else None)


def known_signers(files: tuple[Path, ...]) -> dict[str, str]:
    """Public keys from files got elsewhere, by their text; the user's own where none is named."""
    from buildlog.errors import NotFound
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
    from buildlog.desk.snapshot import settings
    from buildlog.store.trust.keyring import known_signers as read

    held = settings.load().signing_key
    if held is None:
        return {}
    place = Path(held).expanduser()
    public = place if place.suffix == ".pub" else place.with_name(place.name + ".pub")
    if not public.is_file():
        return {}
    return dict.fromkeys(read(public.read_text("utf-8", "replace")), "your own key")

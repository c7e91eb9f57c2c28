"""Keys for tests: made once with `ssh-keygen`, as a shop would make them."""

from __future__ import annotations

import dataclasses
import shutil
import subprocess
from pathlib import Path

import pytest

from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.trust.sshsig import Signer, signer
from tests.histories import next_recorder

needs_ssh_keygen = pytest.mark.skipif(
    shutil.which("ssh-keygen") is None, reason="the reference to compare with is ssh-keygen"
)


def make(folder: Path, name: str, kind: str = "ed25519", passphrase: str = "") -> Path:
    """A key pair in `folder`; the private file's place."""
    place = folder / name
    if not place.exists():
        arguments = ["-q", "-t", kind, "-N", passphrase, "-C", "", "-f", str(place)]
        subprocess.run(["ssh-keygen", *arguments], check=True)
    return place


def key(folder: Path, name: str) -> Signer:
    return signer(make(folder, name))


def signing(ledger: Ledger, by: Signer) -> Recorder:
    """Who records and signs the next entry."""
    return dataclasses.replace(next_recorder(ledger), sign=by)

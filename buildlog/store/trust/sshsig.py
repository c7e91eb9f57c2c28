"""SSH signatures as git keeps them: made and checked in this process for ed25519 keys.

The format is OpenSSH's PROTOCOL.sshsig (version 1): a blob with the public key, a
namespace, a hash's name and the signature of all that, in armour. git uses the namespace
"git", puts the armour into a commit's `gpgsig` header or behind a tag's text, and signs
the object without it. Keys of other kinds, and keys held by an agent, are left to
`ssh-keygen`, which also reads these signatures.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import os
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from buildlog.errors import InvalidInput, NotFound, TrustError
from buildlog.programs import program

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

NAMESPACE = "git"
KIND = "ssh-ed25519"
BEGIN, END = b"-----BEGIN SSH SIGNATURE-----", b"-----END SSH SIGNATURE-----"
_MAGIC = b"SSHSIG"
_LONGEST = 32 * 1024
_SECONDS = 120.0  # a person may have to touch a key or type a passphrase

Answer = Literal["good", "bad", "cannot-check", "none"]
Ask = Callable[[], str]  # asks for a passphrase


@dataclass(frozen=True)
class PublicKey:
    """A public key: its kind and the base 64 of its blob, as in an `.pub` file, no comment."""

    kind: str
    base64: str

    @property
    def text(self) -> str:
        return f"{self.kind} {self.base64}"

    @property
    def fingerprint(self) -> str:
        """As `ssh-keygen -l` prints it.

        >>> PublicKey("ssh-ed25519", base64.b64encode(b"x").decode()).fingerprint
        'SHA256:LXEWQrcmsEQBYnyp+6wy9chTD7GQPMTbAiWHF5IaSIE'
        """
        digest = hashlib.sha256(base64.b64decode(self.base64)).digest()
        return "SHA256:" + base64.b64encode(digest).decode().rstrip("=")

    @property
    def ed25519(self) -> bytes | None:
        """The 32 bytes of an ed25519 key; None for every other kind."""
        try:
            kind, key, rest = _strings(base64.b64decode(self.base64), 2)
        except ValueError:
            return None
        return key if kind == KIND.encode() and len(key) == 32 and not rest else None


def public_key(text: str) -> PublicKey:
    """Read the line of a `.pub` file. InvalidInput if it is none."""
    words = text.split()
    try:
        blob = base64.b64decode(words[1], validate=True)
        kind, _ = _string(blob)
    except (IndexError, ValueError, binascii.Error):
        kind = b""
    if not kind or kind != words[0].encode() or not kind.isascii():
        raise InvalidInput(
            "this is not a public key", hint="give the line of a .pub file: ssh-ed25519 AAAA…"
        )
    return PublicKey(words[0], base64.b64encode(blob).decode())


@dataclass(frozen=True)
class Signature:
    """A signature taken apart."""

    key: PublicKey
    namespace: bytes
    hash_name: bytes
    kind: bytes
    value: bytes


def parse(armour: bytes) -> Signature:
    """Read an armoured signature, strictly. ValueError if anything about it is odd."""
    lines = armour.strip().split(b"\n")
    if len(armour) > _LONGEST or len(lines) < 3 or (lines[0], lines[-1]) != (BEGIN, END):
        raise ValueError("no armor")
    blob = base64.b64decode(b"".join(lines[1:-1]), validate=True)
    if blob[:10] != _MAGIC + b"\0\0\0\1":
        raise ValueError("unknown version")
    key, namespace, reserved, hash_name, signed, rest = _strings(blob[10:], 5)
    kind, value, inner = _strings(signed, 2)
    if rest or reserved or (inner and not kind.startswith(b"sk-")):
        raise ValueError("something stands behind it")
    name, _ = _string(key)
    held = PublicKey(name.decode("ascii"), base64.b64encode(key).decode())
    return Signature(held, namespace, hash_name, kind, value)


def check(
    armour: bytes | None, data: bytes, namespace: str = NAMESPACE
) -> tuple[Answer, PublicKey | None]:
    """Whether `armour` signs `data`, and by which key; who that is, is another question."""
    if armour is None:
        return "none", None
    try:
        found = parse(armour)
    except (ValueError, UnicodeDecodeError, binascii.Error):
        return "bad", None
    if found.namespace != namespace.encode() or found.hash_name not in (b"sha512", b"sha256"):
        return "bad", found.key
    raw = found.key.ed25519
    if raw is None:
        return _check_elsewhere(armour, data, namespace), found.key
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    meant = _meant(data, namespace, found.hash_name.decode())
    try:
        if found.kind != KIND.encode():
            return "bad", found.key
        Ed25519PublicKey.from_public_bytes(raw).verify(found.value, meant)
    except (InvalidSignature, ValueError):
        return "bad", found.key
    return "good", found.key


def armoured(key: bytes, namespace: str, value: bytes) -> bytes:
    """The armour of an ed25519 signature: `key` and `value` are the raw 32 and 64 bytes."""
    blob = _MAGIC + b"\0\0\0\1" + _packed(_packed(KIND.encode()) + _packed(key))
    blob += _packed(namespace.encode()) + _packed(b"") + _packed(b"sha512")
    blob += _packed(_packed(KIND.encode()) + _packed(value))
    return wrapped(base64.b64encode(blob))


def bare(armour: bytes) -> str:
    """The signature on one line, without its armour."""
    return b"".join(armour.split(b"\n")).removeprefix(BEGIN).removesuffix(END).decode("ascii")


def wrapped(text: bytes) -> bytes:
    """The armour of a signature on one line."""
    lines = [text[at : at + 70] for at in range(0, len(text), 70)]
    return b"\n".join([BEGIN, *lines, END]) + b"\n"


@dataclass(frozen=True)
class Signer:
    """A private key that can sign. What it holds is never printed."""

    key: PublicKey
    _sign: Callable[[bytes, str], bytes]

    def __repr__(self) -> str:
        return f"Signer({self.key.fingerprint})"

    def __call__(self, data: bytes, namespace: str = NAMESPACE) -> bytes:
        """The armoured signature of `data`."""
        made = self._sign(data, namespace)
        if check(made, data, namespace)[1] != self.key:
            raise TrustError("the signature that was made is not by the key that was asked for")
        return made


def signer(path: Path, ask: Ask | None = None) -> Signer:
    """The signer of a key file. A `.pub` file means a key that an agent holds."""
    place = path.expanduser()
    try:
        text = place.read_bytes()[: 2 * _LONGEST]
    except FileNotFoundError:
        raise NotFound("there is no such key file", where=str(path), hint=_MAKE) from None
    except OSError as error:
        raise TrustError(f"the key cannot be read: {error.strerror}", where=str(path)) from error
    if text.startswith((b"ssh-", b"sk-", b"ecdsa-")):
        held = public_key(text.decode("utf-8", "replace").split("\n")[0])
        return Signer(held, lambda data, space: _sign_elsewhere(place, data, space))
    return _from_private(place, text, ask)


_MAKE = "ssh-keygen -t ed25519 -f FILE makes one; then buildlog key add"


def _from_private(place: Path, text: bytes, ask: Ask | None) -> Signer:
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    _refuse_open_to_all(place)
    try:
        private = serialization.load_ssh_private_key(text, _passphrase(place, text, ask))
    except UnsupportedAlgorithm:
        return _beside(place)
    except (ValueError, TypeError):
        what = "this is no OpenSSH private key, or the passphrase is wrong"
        raise TrustError(what, where=str(place), hint=_MAKE) from None
    return _by_ed25519(private) if isinstance(private, Ed25519PrivateKey) else _beside(place)


def written_down_signer(seed: bytes) -> Signer:
    """The signer whose private key is these 32 bytes: for a ledger that is made the same
    everywhere, and so for no secret."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return _by_ed25519(Ed25519PrivateKey.from_private_bytes(seed))


def _by_ed25519(private: Ed25519PrivateKey) -> Signer:
    from cryptography.hazmat.primitives import serialization

    form = (serialization.Encoding.Raw, serialization.PublicFormat.Raw)
    raw = private.public_key().public_bytes(*form)
    blob = base64.b64encode(_packed(KIND.encode()) + _packed(raw)).decode()
    return Signer(
        PublicKey(KIND, blob),
        lambda data, space: armoured(raw, space, private.sign(_meant(data, space, "sha512"))),
    )


def _refuse_open_to_all(place: Path) -> None:
    if os.name != "nt" and place.stat().st_mode & 0o077:
        raise TrustError(
            "the key file can be read by others", where=str(place), hint=f"chmod 600 {place}"
        )


def _passphrase(place: Path, text: bytes, ask: Ask | None) -> bytes | None:
    """The passphrase, asked for only if the file is locked by one."""
    try:
        body = b"".join(text.strip().split(b"\n")[1:-1])
        cipher, _ = _string(base64.b64decode(body)[len(b"openssh-key-v1\0") :])
    except ValueError:
        return None
    if cipher == b"none":
        return None
    if ask is None:
        raise TrustError(
            "the key is locked by a passphrase, and there is nobody to ask",
            where=str(place),
            hint="load it into ssh-agent and name its .pub file",
        )
    return ask().encode()


def _beside(place: Path) -> Signer:
    """A key that only `ssh-keygen` can use: its public half lies beside it."""
    beside = place.with_name(place.name + ".pub")
    if not beside.exists():
        what = "this key is not of the kind ed25519, and its .pub file is not beside it"
        raise TrustError(what, where=str(place), hint=_MAKE)
    held = public_key(beside.read_text("utf-8").split("\n")[0])
    return Signer(held, lambda data, space: _sign_elsewhere(place, data, space))


def _sign_elsewhere(place: Path, data: bytes, namespace: str) -> bytes:
    arguments = ["-Y", "sign", "-q", "-n", namespace, "-f", str(place)]
    done = _ssh_keygen(arguments, data)
    if done is None or done.returncode:
        said = done.stderr.decode("utf-8", "replace").strip()[:200] if done else "it is not there"
        raise TrustError(
            "ssh-keygen did not sign", where=str(place), why=said, hint="is the key in the agent?"
        )
    return done.stdout


def _check_elsewhere(armour: bytes, data: bytes, namespace: str) -> Answer:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "signature")
        file.write_bytes(armour)
        done = _ssh_keygen(["-Y", "check-novalidate", "-n", namespace, "-s", str(file)], data)
    if done is None:
        return "cannot-check"
    return "bad" if done.returncode else "good"


def _ssh_keygen(arguments: list[str], data: bytes) -> subprocess.CompletedProcess[bytes] | None:
    keygen = program("ssh-keygen")
    if keygen is None:
        return None
    try:
        return subprocess.run(
            [keygen, *arguments], input=data, capture_output=True, timeout=_SECONDS, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return None


def _meant(data: bytes, namespace: str, hash_name: str) -> bytes:
    """What the key itself signs."""
    parts = (namespace.encode(), b"", hash_name.encode(), hashlib.new(hash_name, data).digest())
    return _MAGIC + b"".join(map(_packed, parts))


def _packed(data: bytes) -> bytes:
    return len(data).to_bytes(4, "big") + data


def _string(data: bytes) -> tuple[bytes, bytes]:
    """A string with its length before it, and what follows it."""
    size = int.from_bytes(data[:4], "big")
    if len(data) < 4 + size:
        raise ValueError("cut short")
    return data[4 : 4 + size], data[4 + size :]


def _strings(data: bytes, count: int) -> list[bytes]:
    """As many strings one behind the other, and last what follows them."""
    found = []
    for _ in range(count):
        head, data = _string(data)
        found.append(head)
    return [*found, data]


# git's objects


def split_commit(raw: bytes) -> tuple[bytes, bytes | None]:
    """A commit's bytes without its signature, and the signature. ValueError if it has two."""
    head, gap, message = raw.partition(b"\n\n")
    kept: list[bytes] = []
    armours: list[list[bytes]] = []
    inside = False
    for line in head.split(b"\n"):
        if line.startswith(b"gpgsig "):
            armours.append([line[len(b"gpgsig ") :]])
            inside = True
        elif inside and line.startswith(b" "):
            armours[-1].append(line[1:])
        else:
            inside = False
            kept.append(line)
    if len(armours) > 1:
        raise ValueError("two signatures")
    return b"\n".join(kept) + gap + message, b"\n".join(armours[0]) if armours else None


def split_tag(raw: bytes) -> tuple[bytes, bytes | None]:
    """A tag's bytes without its signature, and the signature."""
    at = raw.rfind(BEGIN)
    if at < 0 or (at and raw[at - 1 : at] != b"\n"):
        return raw, None
    return raw[:at], raw[at:]

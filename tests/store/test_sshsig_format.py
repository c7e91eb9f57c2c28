"""The armour of a signature by its own rules (OpenSSH, PROTOCOL.sshsig, version 1), oddity by
oddity: each is signed well, so that nothing but the rule itself can refuse it."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import serialization as form
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from buildlog.errors import InvalidInput
from buildlog.store.trust import sshsig

PRIVATE = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
RAW = PRIVATE.public_key().public_bytes(form.Encoding.Raw, form.PublicFormat.Raw)
DATA = b"tree 1\n"
BEGIN, END = "-----BEGIN SSH SIGNATURE-----", "-----END SSH SIGNATURE-----"


def packed(data: bytes) -> bytes:
    return len(data).to_bytes(4, "big") + data


def armoured(
    *, magic: bytes = b"SSHSIG", version: int = 1, namespace: bytes = b"git",
    reserved: bytes = b"", hash_name: str = "sha512", kind: bytes = b"ssh-ed25519",
    key_kind: bytes = b"ssh-ed25519", behind: bytes = b"", behind_value: bytes = b"",
    behind_key: bytes = b"", begin: str = BEGIN, end: str = END, width: int = 70,
) -> bytes:  # fmt: skip
    """A signature as the protocol lays it out, of what it says itself."""
    digest = hashlib.new(hash_name, DATA).digest()
    meant = b"SSHSIG" + b"".join(map(packed, (namespace, reserved, hash_name.encode(), digest)))
    key = packed(key_kind) + packed(RAW) + behind_key
    value = packed(kind) + packed(PRIVATE.sign(meant)) + behind_value
    parts = (key, namespace, reserved, hash_name.encode(), value)
    blob = magic + version.to_bytes(4, "big") + b"".join(map(packed, parts)) + behind
    text = base64.b64encode(blob).decode()
    lines = [text[at : at + width] for at in range(0, len(text), width)]
    return "\n".join([begin, *lines, end, ""]).encode()


@pytest.mark.parametrize("how", [{}, {"hash_name": "sha256"}, {"width": 64}, {"width": 4000}])
def test_what_the_protocol_allows_is_good(how: dict[str, Any]) -> None:
    answer, key = sshsig.check(armoured(**how), DATA)
    assert answer == "good"
    assert key is not None
    assert key.ed25519 == RAW
    assert sshsig.check(armoured(**how), DATA + b"x")[0] == "bad"


ODD: dict[str, dict[str, Any]] = {
    "magic": {"magic": b"SSHSIX"}, "version 0": {"version": 0}, "version 2": {"version": 2},
    "another purpose": {"namespace": b"file"}, "no purpose": {"namespace": b""},
    "reserved": {"reserved": b"x"}, "a weak hash": {"hash_name": "sha1"},
    "another kind of signature": {"kind": b"ssh-rsa"}, "behind it": {"behind": b"x"},
    "behind the value": {"behind_value": b"x"}, "begin": {"begin": "-----BEGIN SIGNATURE-----"},
    "end": {"end": "-----END SIGNATURE-----"}, "nothing in it": {"begin": ""},
}  # fmt: skip


@pytest.mark.parametrize("odd", ODD)
def test_whatever_is_odd_is_bad(odd: str) -> None:
    assert sshsig.check(armoured(**ODD[odd]), DATA)[0] == "bad"


@pytest.mark.parametrize("how", [{"key_kind": b"ssh-ed448"}, {"behind_key": b"x"}])
def test_a_key_of_another_kind_is_never_taken_for_ed25519(
    how: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sshsig, "program", lambda *_: None)
    answer, key = sshsig.check(armoured(**how), DATA)
    assert answer == "cannot-check"
    assert key is not None
    assert key.ed25519 is None


@pytest.mark.parametrize("cut", range(0, 200, 7))
def test_one_that_is_cut_off_is_bad(cut: int) -> None:
    text = armoured(width=4000)
    head, blob, tail = text.split(b"\n")[:3]
    shorter = base64.b64encode(base64.b64decode(blob)[:-1][:cut])
    assert sshsig.check(b"\n".join([head, shorter, tail]), DATA) == ("bad", None)


def test_the_longest_armour_that_is_read() -> None:
    """32 kB; blanks around it count, too."""
    good = armoured()
    assert sshsig.check(good + b"\n" * (32 * 1024 - len(good)), DATA)[0] == "good"
    assert sshsig.check(good + b"\n" * (32 * 1024 - len(good) + 1), DATA)[0] == "bad"
    assert sshsig.check(BEGIN.encode() + b"\n" + END.encode(), DATA) == ("bad", None)


def test_an_armour_goes_onto_one_line_and_back() -> None:
    line = sshsig.bare(armoured())
    assert "\n" not in line
    assert sshsig.wrapped(line.encode()) == armoured()
    written = sshsig.armoured(RAW, "git", sshsig.parse(armoured()).value)
    assert written == armoured()


@pytest.mark.parametrize(
    "text",
    ["", "ssh-ed25519", "ssh-ed25519 !!!!", "ssh-rsa " + base64.b64encode(
        packed(b"ssh-ed25519") + packed(RAW)).decode(), "x AAAA", "x AAAAAA=="],
)  # fmt: skip
def test_no_public_key(text: str) -> None:
    with pytest.raises(InvalidInput, match="not a public key"):
        sshsig.public_key(text)


def test_a_public_key_with_and_without_its_comment() -> None:
    blob = base64.b64encode(packed(b"ssh-ed25519") + packed(RAW)).decode()
    for more in ("", " robin@bench 2", "\n"):
        found = sshsig.public_key(f"ssh-ed25519 {blob}{more}")
        assert (found.kind, found.base64, found.ed25519) == ("ssh-ed25519", blob, RAW)
    short = base64.b64encode(packed(b"ssh-ed25519") + packed(RAW[:-1])).decode()
    assert sshsig.public_key(f"ssh-ed25519 {short}").ed25519 is None


HEAD = b"tree 1\nauthor A\n"


@pytest.mark.parametrize(
    ("raw", "payload", "armour"),
    [
        (HEAD + b"\nx\n", HEAD + b"\nx\n", None),
        (HEAD + b"gpgsig a\n b\n c\n\nx\n\ny", HEAD + b"\nx\n\ny", b"a\nb\nc"),
        (b"tree 1\ngpgsig a\n b\nauthor A\n\nx", HEAD + b"\nx", b"a\nb"),
        (HEAD + b"more x\n y\n\nz", HEAD + b"more x\n y\n\nz", None),
        (HEAD + b"\ngpgsig a\n", HEAD + b"\ngpgsig a\n", None),  # in the message: a text
    ],
)
def test_a_commit_without_its_signature(raw: bytes, payload: bytes, armour: bytes | None) -> None:
    """git signs the object without the header gpgsig (its documentation, gitformat-signature)."""
    assert sshsig.split_commit(raw.replace(b"author A\n\n", b"author A\n\n")) == (
        payload, armour,
    )  # fmt: skip


def test_a_commit_with_two_signatures_is_none() -> None:
    with pytest.raises(ValueError, match="two signatures"):
        sshsig.split_commit(b"tree 1\ngpgsig a\ngpgsig b\n\nx")


def test_a_tag_and_its_signature() -> None:
    text = b"object 1\n\nhanded over\n"
    assert sshsig.split_tag(text) == (text, None)
    assert sshsig.split_tag(text + armoured()) == (text, armoured())
    assert sshsig.split_tag(armoured()) == (b"", armoured())
    inside = text + b"it reads " + BEGIN.encode() + b"\n"
    assert sshsig.split_tag(inside) == (inside, None)
    assert sshsig.split_tag(inside + armoured()) == (inside, armoured())


def test_a_key_file_is_read_in_any_of_its_forms(tmp_path: Path) -> None:
    place = tmp_path / "key"
    place.write_bytes(PRIVATE.private_bytes(
        form.Encoding.PEM, form.PrivateFormat.OpenSSH, form.NoEncryption()))  # fmt: skip
    place.chmod(0o600)
    by = sshsig.signer(place)
    assert by.key.ed25519 == RAW
    assert by(DATA) == armoured()
    assert by(DATA, "file") == armoured(namespace=b"file")
    public = tmp_path / "key.pub"
    public.write_text(f"{by.key.text} robin\n")
    assert sshsig.signer(public).key == by.key

"""The key register by itself: who may say what, and what is known after it was said."""

from __future__ import annotations

import base64
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization as form
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from buildlog.errors import InvalidInput
from buildlog.records.keys import KeyEvent
from buildlog.store.trust import keyring, sshsig
from buildlog.store.trust.keyring import PROOF_NAMESPACE, Ring, added, joined, refusal
from buildlog.store.trust.sshsig import Signer

LEDGER, AFTER = "1" * 40, "2" * 40


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Signer]:
    """Keys called "used", "other" (both in use), "gone", "bad", "new" and "stranger"."""
    folder = tmp_path_factory.mktemp("keys")
    return {name: made(folder / name, n) for n, name in enumerate(NAMES, start=1)}


NAMES = ("used", "other", "gone", "bad", "new", "stranger")


def made(place: Path, number: int) -> Signer:
    private = Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32)
    kind = (form.Encoding.PEM, form.PrivateFormat.OpenSSH, form.NoEncryption())
    place.write_bytes(private.private_bytes(*kind))
    place.chmod(0o600)
    return sshsig.signer(place)


def text(keys: dict[str, Signer], name: str) -> str:
    return keys[name].key.text


def ring_of(keys: dict[str, Signer]) -> Ring:
    """Two keys in use, one that was retired and one that was declared compromised."""
    ring = Ring()
    for by, kind, name in (
        ("used", "add", "used"), ("used", "add", "other"), ("used", "add", "gone"),
        ("used", "add", "bad"), ("used", "retire", "gone"), ("used", "compromised", "bad"),
    ):  # fmt: skip
        ring = added(ring, event(keys, kind, name), text(keys, by), "entry 5")
    return ring


def event(
    keys: dict[str, Signer], kind: str, name: str, after: str = "used", proved: str = ""
) -> KeyEvent:
    """An event as a shop would write it; a rotation with the proof of the key `proved`."""
    said: dict[str, str] = {"kind": kind, "key": text(keys, name)}
    if kind in ("add", "rotate", "restart"):
        said["name"] = name
    if kind == "compromised":
        said["last_good"] = "3" * 40
    if kind == "rotate":
        said["after"] = text(keys, after)
        if proved:
            proof = keys[proved](stated(keys, after, name), PROOF_NAMESPACE)
            said["proof"] = sshsig.bare(proof)
    return KeyEvent.model_validate(said)


def stated(keys: dict[str, Signer], old: str, new: str) -> bytes:
    return keyring.statement(LEDGER, AFTER, text(keys, old), text(keys, new))


def answer(keys: dict[str, Signer], one: KeyEvent, by: str | None, ring: Ring) -> bool:
    """Whether an entry signed by `by` may add the event."""
    said = keyring.statement(LEDGER, AFTER, one.after or "", one.key)
    return refusal(one, ring, text(keys, by) if by else None, said) is None


SIGNERS = (*NAMES, None)
# Who may sign what, when two keys are in use: everybody else may not.
MAY = {
    ("add", "new"): {"used", "other"},
    ("add", "used"): set(),  # there already
    ("add", "gone"): set(),
    ("retire", "used"): {"used", "other"},
    ("retire", "gone"): {"used", "other"},
    ("retire", "stranger"): set(),  # never added
    ("compromised", "used"): {"other"},  # not by the key itself: a thief would hold it
    ("compromised", "gone"): {"used", "other"},
    ("compromised", "stranger"): set(),
    ("restart", "new"): {"new"},
    ("restart", "gone"): set(),
}


@pytest.mark.parametrize("by", SIGNERS)
@pytest.mark.parametrize(("kind", "name"), MAY)
def test_who_may_sign_what(keys: dict[str, Signer], kind: str, name: str, by: str | None) -> None:
    assert answer(keys, event(keys, kind, name), by, ring_of(keys)) == (by in MAY[kind, name])


@pytest.mark.parametrize("by", SIGNERS)
@pytest.mark.parametrize("kind", ["add", "restart"])
def test_the_first_key_signs_its_own_addition(
    keys: dict[str, Signer], kind: str, by: str | None
) -> None:
    assert answer(keys, event(keys, kind, "new"), by, Ring()) == (by == "new")


@pytest.mark.parametrize("by", SIGNERS)
@pytest.mark.parametrize("proved", ["", *NAMES])
@pytest.mark.parametrize("after", [*NAMES])
def test_a_rotation_is_of_a_key_in_use_and_of_the_new_one(
    keys: dict[str, Signer], after: str, proved: str, by: str | None
) -> None:
    """A key that was retired or compromised does not put another in its place."""
    one = event(keys, "rotate", "new", after, proved)
    allowed = after == by and by in ("used", "other") and proved == "new"
    assert answer(keys, one, by, ring_of(keys)) == allowed


@pytest.mark.parametrize("new", ["other", "gone", "bad", "used"])
def test_a_rotation_brings_no_key_back(keys: dict[str, Signer], new: str) -> None:
    assert not answer(keys, event(keys, "rotate", new, "used", new), "used", ring_of(keys))


@pytest.mark.parametrize("place", ["namespace", "ledger", "entry before", "old", "new"])
def test_a_proof_serves_at_its_own_place_only(keys: dict[str, Signer], place: str) -> None:
    one = event(keys, "rotate", "new", "used", "new")
    if place == "namespace":
        proof = sshsig.bare(keys["new"](stated(keys, "used", "new"), "git"))
        one = one.model_copy(update={"proof": proof})
    said = keyring.statement(
        "9" * 40 if place == "ledger" else LEDGER,
        "9" * 40 if place == "entry before" else AFTER,
        text(keys, "other" if place == "old" else "used"),
        text(keys, "stranger" if place == "new" else "new"),
    )
    assert refusal(one, ring_of(keys), text(keys, "used"), said) is not None
    assert answer(keys, event(keys, "rotate", "new", "used", "new"), "used", ring_of(keys))


def test_a_compromise_says_up_to_where_the_key_is_good(keys: dict[str, Signer]) -> None:
    one = event(keys, "compromised", "used").model_copy(update={"last_good": None})
    assert not answer(keys, one, "other", ring_of(keys))


def test_what_is_known_after_each_event(keys: dict[str, Signer]) -> None:
    ring = ring_of(keys)
    used, other, gone, bad, new = (text(keys, name) for name in NAMES[:5])
    assert ring.names == {used: "used", other: "other", gone: "gone", bad: "bad"}
    assert ring.active == {used: "used", other: "other"}
    assert ring.origin == {used: None, other: used, gone: used, bad: used}
    assert ring.last_good == {bad: ("3" * 40,)}
    assert set(ring.gone) == {gone, bad}
    after = added(ring, event(keys, "rotate", "new", "used", "new"), used, "entry 6")
    assert after.active == {other: "other", new: "new"}
    assert after.origin[new] == used
    assert "entry 6" in after.gone[used]
    later = added(after, event(keys, "retire", "used"), other, "entry 7")
    assert "entry 6" in later.gone[used]  # the first reason stays
    worse = added(later, event(keys, "compromised", "used"), other, "entry 8")
    assert "compromised" in worse.gone[used]  # but for the worse one
    again = added(worse, event(keys, "compromised", "used").model_copy(
        update={"last_good": "4" * 40}), new, "entry 9")  # fmt: skip
    assert again.last_good[used] == ("3" * 40, "4" * 40)
    start = event(keys, "restart", "stranger")
    begun = added(worse, start, text(keys, "stranger"), "entry 9")
    assert begun.origin[text(keys, "stranger")] is None
    assert begun.gone == worse.gone  # a new holder's beginning takes no key out of use
    lost = start.model_copy(update={"earlier_lost": True})
    alone = added(worse, lost, text(keys, "stranger"), "entry 9")
    assert set(alone.active) == {text(keys, "stranger")}
    assert "compromised" in alone.gone[used]  # the worse reason stays


@pytest.mark.parametrize("kind", ["add", "restart", "retire", "compromised"])
def test_what_an_event_of_another_kind_would_say_counts_for_nothing(
    keys: dict[str, Signer], kind: str
) -> None:
    one = event(keys, kind, "new" if kind in ("add", "restart") else "other")
    more = one.model_copy(update={"after": text(keys, "used"), "last_good": "3" * 40})
    if kind != "restart":
        more = more.model_copy(update={"earlier_lost": True})
    by, ring = text(keys, "used"), ring_of(keys)
    assert added(ring, more, by, "entry 6") == added(ring, one, by, "entry 6")


def test_a_key_without_a_name_is_called_by_its_fingerprint(keys: dict[str, Signer]) -> None:
    one = event(keys, "add", "new").model_copy(update={"name": None})
    ring = added(Ring(), one, text(keys, "new"), "entry 1")
    assert ring.names == {text(keys, "new"): keys["new"].key.fingerprint[:15]}


def test_trust_goes_along_who_vouched_for_whom(keys: dict[str, Signer]) -> None:
    ring = added(ring_of(keys), event(keys, "rotate", "new", "other", "new"),
                 text(keys, "other"), "entry 6")  # fmt: skip
    names = {name: text(keys, name) for name in NAMES}
    for known, trusted in (
        ("used", {"used", "other", "gone", "bad", "new"}), ("other", {"other", "new"}),
        ("new", {"new"}), ("stranger", {"stranger"}),
    ):  # fmt: skip
        found = {name for name, key in names.items() if ring.trusted(key, [names[known]])}
        assert found == trusted
    assert not any(ring.trusted(key, []) for key in names.values())
    circle = Ring(origin={names["used"]: names["other"], names["other"]: names["used"]})
    assert not circle.trusted(names["used"], [names["new"]])


def test_two_lines_know_together_what_each_knows(keys: dict[str, Signer]) -> None:
    ring, (used, bad, new) = ring_of(keys), (text(keys, name) for name in ("used", "bad", "new"))
    one = added(ring, event(keys, "add", "new"), used, "entry 6")
    other = added(ring, event(keys, "compromised", "bad").model_copy(
        update={"last_good": "4" * 40}), used, "entry 6")  # fmt: skip
    both = joined([one, other])
    assert both.names == one.names
    assert both.origin == one.origin
    assert both.active == one.active
    assert both.last_good == {bad: ("3" * 40, "4" * 40)}
    assert set(joined([other, one]).gone) == set(both.gone) == set(one.gone)
    assert new in both.names
    assert joined([]) == Ring()
    assert joined([other, Ring()]) == joined([Ring(), other]) == other
    assert joined([other, ring, other]).last_good == other.last_good


def test_the_register_reads_back_in_any_order(keys: dict[str, Signer]) -> None:
    """Two lines that hold the same events hold the same bytes."""
    held = [event(keys, "add", "used"), event(keys, "rotate", "new", "used", "new"),
            event(keys, "retire", "used"), event(keys, "compromised", "used")]  # fmt: skip
    data = keyring.register_text(held)
    assert data == keyring.register_text(reversed(held))
    assert sorted(map(repr, keyring.events(data))) == sorted(map(repr, held))
    assert keyring.events(None) == ()
    with pytest.raises(InvalidInput) as caught:
        keyring.events(b"format = 2\n")
    assert caught.value.where == keyring.REGISTER


def test_a_key_is_written_in_one_way_only(keys: dict[str, Signer]) -> None:
    """Base 64 forgives bits behind the end (RFC 4648, 3.5): one key would have two names."""
    blob = (11).to_bytes(4, "big") + b"ssh-ed25519" + (31).to_bytes(4, "big") + bytes(31)
    plain = base64.b64encode(blob).decode()
    assert plain.endswith("AA=")
    for written in (plain, plain[:-2] + "B="):
        one = KeyEvent(kind="add", key=f"ssh-ed25519 {written}", name="x")
        data = keyring.register_text([one])
        if written == plain:
            assert keyring.events(data) == (one,)
            continue
        with pytest.raises(InvalidInput, match="not written as it should be") as caught:
            keyring.events(data)
        assert caught.value.where == keyring.REGISTER


def test_the_list_for_git_leaves_out_the_compromised(keys: dict[str, Signer]) -> None:
    """As ssh-keygen reads it (ALLOWED SIGNERS in its manual page): principals without blanks."""
    held = [event(keys, "add", "used").model_copy(update={"name": "bench 1"}),
            event(keys, "add", "gone").model_copy(update={"name": None}),
            event(keys, "restart", "new"), event(keys, "add", "bad"),
            event(keys, "retire", "gone"), event(keys, "compromised", "bad")]  # fmt: skip
    lines = {
        f'bench-1 namespaces="git" {text(keys, "used")}',
        f'key namespaces="git" {text(keys, "gone")}',
        f'new namespaces="git" {text(keys, "new")}',
    }
    written = keyring.signers_text(held).decode()
    assert written.splitlines() == sorted(lines, key=lambda line: line.split(" ", 2)[2])
    assert keyring.known_signers(written) == {
        text(keys, "used"): "bench-1", text(keys, "gone"): "key", text(keys, "new"): "new",
    }  # fmt: skip


def test_known_keys_are_read_from_any_list(keys: dict[str, Signer]) -> None:
    used, new, gone = (keys[name].key for name in ("used", "new", "gone"))
    lines = f"# of the shop\n\n{used.text} robin@bench\n  # {gone.text}\nshop x=1 {new.text} y\n"
    assert keyring.known_signers(lines) == {used.text: used.fingerprint[:15], new.text: "shop"}
    with pytest.raises(InvalidInput, match="no public key"):
        keyring.known_signers("robin@bench\n")


@pytest.mark.parametrize(
    "kind",
    ["ssh-rsa", "ecdsa-sha2-nistp256", "sk-ssh-ed25519@openssh.com",
     "sk-ecdsa-sha2-nistp256@openssh.com"],
)  # fmt: skip
def test_keys_of_every_kind_are_read(kind: str) -> None:
    """The kinds that ssh-keygen makes for signing (its manual page, -t)."""
    blob = base64.b64encode(len(kind).to_bytes(4, "big") + kind.encode() + b"more").decode()
    assert keyring.known_signers(f"bench {kind} {blob}\n") == {f"{kind} {blob}": "bench"}

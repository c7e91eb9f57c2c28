"""Signatures: the same to us and to plain git, and what the key register makes of them."""

from __future__ import annotations

import os
import random
import subprocess
from datetime import timedelta

import pytest

from buildlog.errors import InvalidInput, TrustError
from buildlog.records.keys import KeyEvent
from buildlog.store.exchange import passing_on
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import key_events
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.fingerprint import fingerprint
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.trust import keyring, sshsig
from buildlog.store.verify.verdict import Outside, verify
from tests.histories import CAR, Story, git, next_recorder, put, usual
from tests.signing import key, make, needs_ssh_keygen, signing

pytestmark = needs_ssh_keygen


@pytest.fixture(scope="module")
def ring(tmp_path_factory):
    """A folder of keys."""
    return tmp_path_factory.mktemp("keys")


@pytest.fixture
def ledger(tmp_path):
    with usual(tmp_path / "car") as ledger:
        yield ledger


def edit(ledger, year):
    put("car.toml", CAR.replace("9.2", "9.0").replace("1994", str(year)))(Story(ledger))


def signed_entry(ledger, by, year):
    edit(ledger, year)
    return ledger.record(EntryFacts(f"year {year}"), signing(ledger, by))


def known(*signers):
    return {one.key.text: "known" for one in signers}


def judged(ledger, *signers, must=False, paper=None):
    return verify(ledger, Outside(known(*signers), must, paper))


def codes(found, severity="error"):
    return {finding.code for finding in found.findings if finding.severity == severity}


def ssh_git(folder, *arguments, signers="keys/allowed_signers"):
    """Plain git set up for SSH signatures, as a next owner would; its status and what it said."""
    setup = ["-c", "gpg.format=ssh", "-c", f"gpg.ssh.allowedSignersFile={signers}"]
    environment = {**os.environ, "GIT_CONFIG_GLOBAL": os.devnull}
    for who in ("AUTHOR", "COMMITTER"):
        environment |= {f"GIT_{who}_NAME": "A Friend", f"GIT_{who}_EMAIL": "a@example.invalid"}
    done = subprocess.run(
        ["git", *setup, *arguments], cwd=folder, env=environment, capture_output=True, check=False
    )
    return done.returncode, (done.stdout + done.stderr).decode()


# --- the format, beside OpenSSH itself ----------------------------------------------------


def test_fingerprint_as_ssh_keygen_prints_it(ring):
    place = make(ring, "a")
    said = subprocess.run(["ssh-keygen", "-lf", str(place)], capture_output=True, text=True)
    assert key(ring, "a").key.fingerprint == said.stdout.split()[1]


@pytest.mark.parametrize("size", [0, 1, 1000, 100_000])
def test_ssh_keygen_accepts_ours_and_we_accept_its(ring, tmp_path, size):
    by, data = key(ring, "a"), random.Random(size).randbytes(size)
    (tmp_path / "ours").write_bytes(by(data))
    check = ["ssh-keygen", "-Y", "check-novalidate", "-n", "git", "-s", str(tmp_path / "ours")]
    assert subprocess.run(check, input=data, capture_output=True).returncode == 0
    (tmp_path / "data").write_bytes(data)
    sign = ["ssh-keygen", "-Y", "sign", "-q", "-n", "git", "-f", str(ring / "a")]
    subprocess.run([*sign, str(tmp_path / "data")], check=True, capture_output=True)
    theirs = (tmp_path / "data.sig").read_bytes()
    assert theirs == by(data)  # ed25519 leaves nothing to chance, so the bytes are the same
    assert sshsig.check(theirs, data) == ("good", by.key)
    assert sshsig.check(theirs, data + b"x")[0] == "bad"
    assert sshsig.check(theirs, data, "file")[0] == "bad"


def test_a_locked_key_and_keys_of_other_kinds(ring):
    locked = make(ring, "locked", passphrase="four words")
    assert sshsig.signer(locked, lambda: "four words")(b"x")
    with pytest.raises(TrustError, match="passphrase is wrong") as wrong:
        sshsig.signer(locked, lambda: "other words")
    assert "other words" not in str(wrong.value)
    with pytest.raises(TrustError, match="nobody to ask"):
        sshsig.signer(locked)
    for kind in ("rsa", "ecdsa"):
        by = sshsig.signer(make(ring, kind, kind))
        assert sshsig.check(by(b"x"), b"x") == ("good", by.key)
        assert sshsig.check(by(b"x"), b"y")[0] == "bad"


def test_a_key_that_only_an_agent_holds(ring, tmp_path, monkeypatch):
    make(ring, "held")
    agent = subprocess.Popen(
        ["ssh-agent", "-D", "-a", str(tmp_path / "agent")],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        while not (tmp_path / "agent").exists():
            assert agent.poll() is None
        monkeypatch.setenv("SSH_AUTH_SOCK", str(tmp_path / "agent"))
        subprocess.run(["ssh-add", "-q", str(ring / "held")], check=True)
        public = tmp_path / "held.pub"
        public.write_bytes((ring / "held.pub").read_bytes())
        by = sshsig.signer(public)
        assert sshsig.check(by(b"x"), b"x") == ("good", key(ring, "held").key)
    finally:
        agent.terminate()
        agent.wait()
    with pytest.raises(TrustError, match="ssh-keygen did not sign"):
        by(b"x")


def test_a_key_file_for_all_eyes_is_refused_and_never_shown(tmp_path):
    place = make(tmp_path, "open")
    place.chmod(0o644)
    with pytest.raises(TrustError, match="read by others") as refused:
        sshsig.signer(place)
    assert "chmod 600" in str(refused.value)
    place.chmod(0o600)
    assert "PRIVATE" not in repr(sshsig.signer(place))
    for text, error in (("", TrustError), ("nonsense", TrustError), ("ssh-rsa x", InvalidInput)):
        (tmp_path / "bad").write_text(text)
        (tmp_path / "bad").chmod(0o600)
        with pytest.raises(error):
            sshsig.signer(tmp_path / "bad")


def mutated_signatures(ring, count):
    by, data = key(ring, "a"), b"tree 1\n\nsubject\n"
    good = by(data)
    chance = random.Random(6)
    accepted = 0
    for _ in range(count):
        bad = bytearray(good)
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(bad))
            match chance.randrange(3):
                case 0:
                    bad[at] ^= 1 << chance.randrange(8)
                case 1:
                    del bad[at:]
                    bad += b"\n"
                case 2:
                    bad.insert(at, chance.randrange(256))
        answer, found = sshsig.check(bytes(bad), data)
        if answer == "good":  # only where the armour, not the signature, was touched
            assert found == by.key
            assert sshsig.bare(bytes(bad).strip()) == sshsig.bare(good.strip())
            accepted += 1
    return accepted


def test_no_mutated_signature_is_good(ring):
    assert mutated_signatures(ring, 3000) < 3000 / 10


# --- plain git agrees ---------------------------------------------------------------------


def test_plain_git_accepts_our_entries_and_tags(ledger, ring):
    by = key(ring, "a")
    entry = key_events.add(ledger, next_recorder(ledger), by, "bench 1")
    signed_entry(ledger, by, 1995)
    passing_on.tag(ledger, 1, "handed over\n", next_recorder(ledger), by)
    for what in (("verify-commit", "main"), ("verify-commit", entry.id)):
        status, said = ssh_git(ledger.folder, *what)
        assert status == 0, said
        assert 'Good "git" signature for bench-1' in said
    status, said = ssh_git(ledger.folder, "verify-tag", "handover/1")
    assert status == 0, said
    status, said = ssh_git(ledger.folder, "log", "--format=%G?")
    assert said.split() == ["G", "G", "N", "N", "N"]
    assert git(ledger.folder, "fsck", "--full", "--strict") == ""
    assert judged(ledger, by).verdict == "intact"


def test_we_accept_plain_gits_signatures(ledger, ring):
    by = key(ring, "a")
    key_events.add(ledger, next_recorder(ledger), by, "bench 1")
    edit(ledger, 1996)
    sign = ["-c", f"user.signingkey={ring / 'a'}"]
    assert ssh_git(ledger.folder, *sign, "commit", "-q", "-S", "-a", "-m", "by git")[0] == 0
    assert ssh_git(ledger.folder, *sign, "tag", "-s", "handover/1", "-m", "by git")[0] == 0
    found = key_events.judged(ledger, known(by))
    assert found.commits[ledger.entries()[-1].id].words == "signed by bench 1"
    assert found.tags["handover/1"][1].words == "signed by bench 1"
    assert found.findings == []


def test_git_and_we_call_the_same_change_bad(ledger, ring):
    """One byte of a signed commit changed: both say so (R. git's own verify-commit beside ours)."""
    by = key(ring, "a")
    key_events.add(ledger, next_recorder(ledger), by, "bench 1")
    raw = git(ledger.folder, "cat-file", "commit", "main")
    forged = raw.replace("key added", "key stolen")
    name = git(ledger.folder, "hash-object", "-t", "commit", "-w", "--stdin", given=forged.encode())
    git(ledger.folder, "update-ref", "refs/heads/main", name.strip())
    status, said = ssh_git(ledger.folder, "verify-commit", "main")
    assert status != 0, said
    with Ledger.open(ledger.folder) as again:
        found = judged(again, by)
        assert found.verdict == "altered"
        assert {"signature", "digest"} <= codes(found)
        assert found.signed[again.entries()[-1].id] == "altered"


# --- the register -------------------------------------------------------------------------


def test_ten_rotations_verify_from_first_to_last(ledger, ring):
    first = last = key(ring, "r0")
    key_events.add(ledger, next_recorder(ledger), first, "r0")
    for number in range(1, 11):
        new = key(ring, f"r{number}")
        key_events.rotate(ledger, next_recorder(ledger), last, new, f"r{number}")
        last = new
        signed_entry(ledger, last, 1990 + number)
    found = judged(ledger, first)
    assert found.verdict == "intact", found.findings
    assert list(found.signed.values())[-1] == "signed by r10"
    with pytest.raises(TrustError, match="was replaced in entry"):
        key_events.may_sign(ledger, first)
    key_events.may_sign(ledger, last)
    _, said = ssh_git(ledger.folder, "log", "--format=%G?")
    assert set(said.split()) == {"G", "N"}


def rotation(ledger, old, new, proved_by, ledger_id=None):
    """The files of a rotation that somebody writes by hand."""
    said = keyring.statement(ledger_id or ledger.id, ledger.repo.tip(), old.key.text, new.key.text)
    proof = sshsig.bare(proved_by(said, keyring.PROOF_NAMESPACE))
    event = KeyEvent(kind="rotate", key=new.key.text, after=old.key.text, name="n", proof=proof)
    whole = [*key_events.held(ledger), event]
    return {
        keyring.REGISTER: keyring.register_text(whole),
        keyring.SIGNERS: keyring.signers_text(whole),
    }


@pytest.mark.parametrize("case", ["only new", "only old", "unknown", "another car"])
def test_a_rotation_that_is_not_of_both_is_refused(ledger, ring, case):
    old, new, thief = (key(ring, name) for name in "abc")
    key_events.add(ledger, next_recorder(ledger), old, "bench 1")
    proved_by = {"only old": old, "unknown": thief}.get(case, new)
    signed_by = {"only new": new, "unknown": thief}.get(case, old)
    files = rotation(ledger, old, new, proved_by, "9" * 40 if case == "another car" else None)
    ledger.append(files, EntryFacts("rotate", kind="check"), signing(ledger, signed_by))
    found = judged(ledger, old)
    assert found.verdict == "altered"
    assert "key-event" in codes(found)
    assert found.last_good.number == 4
    with pytest.raises(TrustError):
        key_events.may_sign(ledger, new)


def test_a_stolen_keys_back_dated_entry_is_caught(ledger, ring):
    """Plain git calls it good; the place in the chain says otherwise."""
    stolen, other = key(ring, "a"), key(ring, "b")
    key_events.add(ledger, next_recorder(ledger), stolen, "bench 1")
    key_events.add(ledger, next_recorder(ledger), stolen, "bench 2", other.key)
    good = signed_entry(ledger, stolen, 1995)
    doubtful = signed_entry(ledger, stolen, 1996)
    key_events.compromised(
        ledger, next_recorder(ledger), other, stolen.key.text, good, "laptop stolen"
    )
    edit(ledger, 1997)
    back = Recorder("Thief", good.recorded_at - timedelta(days=1), stolen)
    facts = EntryFacts("years ago", work_date=good.work_date, odometer_note="found in a drawer")
    forged = ledger.record(facts, back)
    found = judged(ledger, other)
    assert found.verdict == "altered"
    assert [f.where for f in found.findings if f.code == "key-gone"] == [forged.id]
    assert found.signed[good.id] == "signed by bench 1"
    assert found.signed[doubtful.id].startswith("signed by an unknown key")
    assert "key-unknown" in codes(found, "caution")
    assert found.last_good.id != forged.id


@pytest.mark.parametrize("later_first", [False, True])
def test_the_earliest_last_good_entry_counts(ledger, ring, later_first):
    """Two people say so: the key is trusted up to where both say that it was good."""
    stolen, other = key(ring, "a"), key(ring, "b")
    key_events.add(ledger, next_recorder(ledger), stolen, "bench 1")
    key_events.add(ledger, next_recorder(ledger), stolen, "bench 2", other.key)
    first, second, third = (signed_entry(ledger, stolen, year) for year in (1995, 1996, 1997))
    passing_on.tag(ledger, 1, "handed over\n", next_recorder(ledger), stolen)
    said = [second, first] if later_first else [first, second]
    files = list(key_events.held(ledger))
    for good in said:
        files.append(KeyEvent(kind="compromised", key=stolen.key.text, last_good=good.id))
        texts = {
            keyring.REGISTER: keyring.register_text(files),
            keyring.SIGNERS: keyring.signers_text(files),
        }
        ledger.append(texts, EntryFacts("stolen", kind="check"), signing(ledger, other))
    found = judged(ledger, other)
    assert found.verdict == "intact", found.findings  # by the word of the other key
    assert found.signed[first.id] == "signed by bench 1"
    for doubtful in (second, third):
        assert found.signed[doubtful.id].startswith("signed by an unknown key")
    tags = key_events.judged(ledger, known(other)).tags
    assert tags["handover/1"][1].state == "unknown"


def test_a_compromise_is_moved_back_only(ledger, ring):
    stolen, other = key(ring, "a"), key(ring, "b")
    key_events.add(ledger, next_recorder(ledger), stolen, "bench 1")
    key_events.add(ledger, next_recorder(ledger), stolen, "bench 2", other.key)
    good = [signed_entry(ledger, stolen, year) for year in (1995, 1996, 1997)]

    def say(last_good):
        key_events.compromised(
            ledger, next_recorder(ledger), other, stolen.key.text, last_good, None
        )

    say(good[1])
    for late in good[1:]:
        with pytest.raises(InvalidInput, match="already, good up to entry 7"):
            say(late)
    say(good[0])
    assert judged(ledger, other).signed[good[1].id].startswith("signed by an unknown key")
    with pytest.raises(InvalidInput, match="already, good up to entry 6"):
        say(good[1])


def test_retired_keys_keep_what_they_signed(ledger, ring):
    one, two = key(ring, "a"), key(ring, "b")
    key_events.add(ledger, next_recorder(ledger), one, "bench 1")
    with pytest.raises(InvalidInput, match="only key in use"):
        key_events.retire(ledger, next_recorder(ledger), one, one.key.text, None)
    key_events.add(ledger, next_recorder(ledger), one, "bench 2", two.key)
    key_events.retire(ledger, next_recorder(ledger), two, one.key.text, "old laptop")
    found = judged(ledger, one)
    assert found.verdict == "intact", found.findings  # the first key vouched for the second
    with pytest.raises(TrustError, match="was retired in entry 6"):
        key_events.may_sign(ledger, one)
    signed_entry(ledger, one, 1999)
    assert "key-gone" in codes(judged(ledger, one))


def test_a_lost_key_is_a_break_that_stays_visible(ledger, ring):
    lost, new = key(ring, "a"), key(ring, "b")
    key_events.add(ledger, next_recorder(ledger), lost, "bench 1")
    with pytest.raises(TrustError, match="not signed by a key in use"):
        key_events.add(ledger, next_recorder(ledger), new, "bench 2")
    entry = key_events.restart(
        ledger, next_recorder(ledger), new, "bench 2", "disk died", lost=True
    )
    found = judged(ledger, lost)
    assert [one.where for one in found.findings if one.code == "key-break"] == [entry.id]
    assert "key-break" in codes(found, "caution")
    assert found.verdict == "consistent"  # the old key's word ends before the break
    assert judged(ledger, new).verdict == "intact"
    with pytest.raises(TrustError, match="said to be lost in entry"):
        key_events.may_sign(ledger, lost)  # whoever finds it
    key_events.may_sign(ledger, new)
    signed_entry(ledger, lost, 1999)
    assert "key-gone" in codes(judged(ledger, new))


def test_a_new_holder_begins_anew_and_the_shops_key_stays_in_use(ledger, ring):
    shop, owner = key(ring, "a"), key(ring, "b")
    key_events.add(ledger, next_recorder(ledger), shop, "bench 1")
    key_events.restart(ledger, next_recorder(ledger), owner, "owner", "taken over", lost=False)
    key_events.may_sign(ledger, shop)
    assert "key-break" in codes(judged(ledger, owner), "caution")


def test_a_tag_under_another_name_is_told_with_its_object(ledger, ring):
    by = key(ring, "a")
    key_events.add(ledger, next_recorder(ledger), by, "bench 1")
    passing_on.tag(ledger, 1, "handed over\n", next_recorder(ledger), by)
    git(ledger.folder, "update-ref", "refs/tags/handover/2", "refs/tags/handover/1")
    name = git(ledger.folder, "rev-parse", "refs/tags/handover/2").strip()
    found = judged(ledger, by)
    assert found.verdict == "altered"
    assert [one.where for one in found.findings if one.code == "tags"] == [name]


def test_nobody_adds_a_key_or_takes_one_out_unseen(ledger, ring):
    one, thief = key(ring, "a"), key(ring, "c")
    key_events.add(ledger, next_recorder(ledger), one, "bench 1")
    event = KeyEvent(kind="add", key=thief.key.text, name="thief")
    for files, code in (
        ([*key_events.held(ledger), event], "key-event"),
        ([], "keys-lost"),
    ):
        with Ledger.open(ledger.folder) as copy:
            tip = copy.repo.tip()
            ours = {
                keyring.REGISTER: keyring.register_text(files),
                keyring.SIGNERS: keyring.signers_text(files),
            }
            copy.append(ours, EntryFacts("keys", kind="check"), signing(copy, thief))
            assert code in codes(judged(copy, one))
            git(copy.folder, "reset", "-q", "--hard", tip)
    lists = {keyring.SIGNERS: keyring.signers_text([*key_events.held(ledger), event])}
    ledger.append(lists, EntryFacts("for git", kind="check"), next_recorder(ledger))
    assert "keys-list" in codes(judged(ledger, one))


# --- verdicts -----------------------------------------------------------------------------


def rewritten(folder, target):
    """The whole history made anew, with another odometer, by somebody without the keys."""
    with Ledger.open(folder) as old, Ledger.create(target, nonce="ab" * 16) as new:
        for entry in old.entries():
            files = {path: old.read(entry, path) for path in old.files(entry)}
            files = {path: data for path, data in files.items() if not path.startswith("keys/")}
            said = {"odometer": "12000 mi"} if entry.odometer else {}
            facts = EntryFacts(entry.subject, kind=entry.kind, stage=entry.stage,
                          work_date=entry.work_date, **said)  # fmt: skip
            new.append(files, facts, Recorder("Quarry Lane Motors", entry.recorded_at))
    return target


def test_a_full_consistent_rewrite(ledger, ring, tmp_path):
    by = key(ring, "a")
    paper_before = fingerprint(ledger)
    with Ledger.open(rewritten(ledger.folder, tmp_path / "w1")) as copy:
        assert judged(copy).verdict == "consistent"
        assert judged(copy, paper=paper_before).verdict == "altered"
    key_events.add(ledger, next_recorder(ledger), by, "bench 1")
    assert judged(ledger, paper=paper_before).verdict == "consistent"
    assert judged(ledger, paper=fingerprint(ledger)).verdict == "intact"
    with Ledger.open(rewritten(ledger.folder, tmp_path / "w2")) as copy:
        assert judged(copy, by).verdict == "consistent"
        assert judged(copy, by, must=True).verdict == "altered"
        thief = key(ring, "c")
        key_events.add(copy, next_recorder(copy), thief, "bench 1")  # the same name, another key
        found = judged(copy, by)
        assert found.verdict == "consistent"
        assert thief.key.fingerprint in " ".join(found.does_not_prove)
        assert judged(copy, by, must=True).verdict == "altered"


def test_intact_only_as_far_as_a_trusted_signature_reaches(ledger, ring):
    by = key(ring, "a")
    assert judged(ledger).verdict == "consistent"
    key_events.add(ledger, next_recorder(ledger), by, "bench 1")
    assert judged(ledger).verdict == "consistent"  # signed, but who knows whose key that is
    assert judged(ledger, by).verdict == "intact"
    edit(ledger, 1995)
    ledger.record(EntryFacts("not signed"), next_recorder(ledger))
    found = judged(ledger, by)
    assert found.verdict == "consistent"
    assert any("after the last signature" in text for text in found.does_not_prove)
    passing_on.tag(ledger, 1, "handed over\n", next_recorder(ledger), by)
    assert judged(ledger, by).verdict == "intact"


def test_the_paper_four_answers(ledger, ring):
    now = fingerprint(ledger)
    assert judged(ledger, paper=now).verdict == "intact"
    assert "paper" in codes(judged(ledger, paper=now[:-1] + "0"), "caution") or now[-1] == "0"
    edit(ledger, 1995)
    ledger.record(EntryFacts("more"), next_recorder(ledger))
    later = judged(ledger, paper=now)
    assert later.verdict == "consistent"
    assert any("still here" in text for text in later.proves)


def test_signing_through_the_command_line(ledger, ring, buildlog, monkeypatch, tmp_path):
    monkeypatch.setenv("BUILDLOG_CONFIG", str(tmp_path / "settings.toml"))
    at = ledger.folder
    assert buildlog("key", "add", "bench 1", at=at).status == 8
    (tmp_path / "settings.toml").write_text(
        f'shop = "Quarry Lane Motors"\nsigning_key = "{make(ring, "a")}"\n'
    )
    assert "no key is entered" in buildlog("key", "list", at=at).out
    edit(ledger, 1995)
    refused = buildlog("record", "--sign", "-m", "x", at=at)
    assert (refused.status, "register" in refused.err) == (8, True)
    assert buildlog("key", "add", "bench 1", at=at).status == 0
    edit(ledger, 1995)
    done = buildlog("record", "--sign", "-m", "year", at=at)
    assert "build, signed" in done.out
    assert "*" in buildlog("history", at=at).out
    assert buildlog("verify", at=at).out.startswith("intact")
    assert buildlog("verify", "--signers", ring / "a.pub", at=at).status == 0
    assert buildlog("verify", "--signers", make(ring, "b").with_suffix(".pub"), at=at).status == 5
    new = make(ring, "b")
    assert buildlog("key", "rotate", "bench 2", "--to", new, at=at).status == 0
    assert "1 of 2 keys in use" in buildlog("key", "list", at=at).out
    listed = buildlog("key", "list", "--json", at=at).out
    assert '"buildlog/key-list/1"' in listed
    assert "PRIVATE" not in listed

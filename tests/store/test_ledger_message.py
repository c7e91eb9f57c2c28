"""Commit messages: round trip, agreement with plain git, and the digest by another route."""

import hashlib
import re
import subprocess
import unicodedata
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.errors import InvalidInput
from buildlog.store.git.message import KINDS, EntryFacts, build, parse, sealed, unsealed
from tests.histories import CAR, git, history, plain, put, record, usual


def composed(text):
    return None if text is None else unicodedata.normalize("NFC", text).strip()


# the categories that the store refuses (tested below) are left out; tricky ASCII comes often
SHOWN = st.characters(exclude_categories=["Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"])
MIXED = st.text(SHOWN | st.sampled_from(":-# >"), max_size=60)
LINE = MIXED.filter(lambda text: composed(text))
OPTIONAL = st.none() | LINE
DAYS = st.dates(date(1950, 1, 1), date(2100, 1, 1))
DIVIDER = re.compile(r"^---(\s|$)|^. -+ >8 -+", re.MULTILINE)
NOTES = st.lists(MIXED | st.sampled_from(["", "Stage: x", "---", "# x", "Conflicts:"]), max_size=6)
FACTS = st.builds(
    EntryFacts,
    subject=LINE, notes=NOTES.map("\n".join), kind=st.sampled_from(KINDS), stage=OPTIONAL,
    odometer=OPTIONAL, odometer_note=OPTIONAL, work_date=DAYS, done_by=OPTIONAL,
    approved_by=OPTIONAL, corrects=OPTIONAL, resolves=OPTIONAL, changed=OPTIONAL,
    measured=OPTIONAL,
)  # fmt: skip


def message_of(facts):
    """The sealed message; None where the notes hold a line that git would take for its own."""
    if DIVIDER.search(composed(facts.notes)):
        with pytest.raises(InvalidInput, match="plain git would take this line"):
            build(facts)
        return None
    return sealed(build(facts, nonce="5e5e"), "ab" * 32)


@given(FACTS)
@settings(max_examples=300)
def test_what_is_written_is_read_back(facts):
    message = message_of(facts)
    if message is None:
        return
    said = parse(message)
    assert said.subject == composed(facts.subject)
    assert said.fact("kind") == facts.kind
    assert said.fact("work_date") == facts.work_date.isoformat()
    for name in ("stage", "odometer", "odometer_note", "done_by", "corrects", "changed"):
        assert said.fact(name) == composed(getattr(facts, name))
    kept = "\n".join(line.rstrip() for line in facts.notes.split("\n")).strip("\n")
    assert said.notes == composed(kept)
    assert unsealed(message) == build(facts, nonce="5e5e")


@given(FACTS)
@settings(max_examples=60)
def test_git_reads_the_same_trailers(facts):
    message = message_of(facts)
    if message is None:
        return
    done = subprocess.run(
        ["git", "-c", "core.commentChar=#", "interpret-trailers", "--parse"],
        input=message, capture_output=True, check=True,
    )  # fmt: skip
    theirs = [line.split(": ", 1) for line in done.stdout.decode().splitlines()]
    assert [[key, value] for key, value in parse(message).trailers.items()] == theirs


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        (EntryFacts("two\nlines"), "U+000A"),
        (EntryFacts("a\x1b[2Jb"), "U+001B"),
        (EntryFacts("a\u202eb"), "U+202E"),
        (EntryFacts(" "), "no subject"),
        (EntryFacts("x" * 201), "201 characters"),
        (EntryFacts("x", kind="guess"), '"guess" is not a kind of entry'),
        (EntryFacts("x", done_by="RK\nStage: x"), "U+000A"),
        (EntryFacts("x", stage=""), "the field is empty"),
        (EntryFacts("x", notes="a\n--- b"), "git would take"),
        (EntryFacts("x", notes="Record-sha256: 00"), "may not begin with Record-sha256"),
        (EntryFacts("x", notes="\x07"), "U+0007"),
    ],
)
def test_what_is_refused(facts, words):
    with pytest.raises(InvalidInput) as caught:
        build(facts)
    assert words in caught.value.what


def test_any_message_of_plain_gits_is_read():
    assert parse(b"").subject == ""
    assert parse(b"one line").trailers == {}
    assert parse(b"subject\nbody without a gap\n").notes == "body without a gap"
    assert parse(b"Stage: not a trailer, a title\n").trailers == {}
    assert parse(b"\xff\xfe\n\nStage: x\n").fact("stage") == "x"
    assert parse(b"s\n\nhello: there is\nno block here\n").trailers == {}


# --- the digest, by a route that shares no code ------------------------------------------


def digest_by_hand(folder, commit, recorded):
    """Record-sha256 of a commit from `git cat-file` and `git ls-tree` alone."""
    raw = git(folder, "cat-file", "commit", commit).encode("utf-8", "surrogateescape")
    head, _, message = raw.partition(b"\n\n")
    headers = [line.split(b" ", 1) for line in head.split(b"\n")]
    said = b"".join(
        line for line in message.splitlines(True) if not line.startswith(b"Record-sha256: ")
    )
    lines = [b"buildlog-record/1"]
    lines += [b"parent " + recorded[value.decode()] for key, value in headers if key == b"parent"]
    lines += [b"author " + value for key, value in headers if key == b"author"]
    lines.append(b"message %s %d" % (sha256(said), len(said)))
    listing = git(folder, "ls-tree", "-r", "-z", commit).encode("utf-8", "surrogateescape")
    files = [line.split(b"\t", 1)[::-1] for line in listing.split(b"\0") if line]
    for path, details in sorted(files):
        mode, _, blob = details.split(b" ")
        data = git(folder, "cat-file", "blob", blob.decode()).encode("utf-8", "surrogateescape")
        lines.append(b"file %s %s %d %s" % (mode, sha256(data), len(data), path))
    return sha256(b"".join(line + b"\n" for line in lines))


def sha256(data):
    return hashlib.sha256(data).hexdigest().encode()


def test_the_digest_can_be_recomputed_with_plain_git(tmp_path):
    operations = [
        put("car.toml", CAR),
        record("intake", kind="found", notes="ü\n\nnotes"),
        put("attachments/photo ü.bin", bytes(range(256))),
        put("README", "by a friend"),
        plain("by plain git"),
        put("priors.toml", "format = 1\n"),
        record("priors"),
    ]
    with history(tmp_path / "car", operations) as ledger:
        found = {}
        for entry in ledger.entries():
            found[entry.id] = digest_by_hand(ledger.folder, entry.id, found)
            if not entry.recorded_outside:
                assert entry.digest.encode() == found[entry.id]
        assert [entry.recorded_outside for entry in ledger.entries()] == [False, True, False]


def test_the_digest_notices_what_sha1_would_not(tmp_path):
    """Another author line or parent digest is another digest, whatever git's ids say."""
    from buildlog.store.git.digest import EntryContent, digest

    given_ = {"parents": ["aa"], "author": b"A <a> 1 +0000", "message": b"m\n"}
    files = {b"car.toml": (0o100644, "1")}
    first = digest(files=files, content=lambda *_: EntryContent("00", 1), **given_)
    for other in (
        digest(files=files, content=lambda *_: EntryContent("01", 1), **given_),
        digest(files=files, content=lambda *_: EntryContent("00", 2), **given_),
        digest(
            files={b"cat.toml": (0o100644, "1")}, content=lambda *_: EntryContent("00", 1), **given_
        ),
        digest(
            files=files, content=lambda *_: EntryContent("00", 1), **{**given_, "parents": ["ab"]}
        ),
        digest(files=files, content=lambda *_: EntryContent("00", 1), **{**given_, "author": b"B"}),
        digest(
            files=files, content=lambda *_: EntryContent("00", 1), **{**given_, "message": b"n\n"}
        ),
    ):
        assert other != first


def test_usual_history_has_these_ids(tmp_path):
    """The ids are part of the format: a change here breaks every ledger that exists."""
    with usual(tmp_path / "car") as ledger:
        first = ledger.entries()[0]
        assert first.id == FIRST_ID
        assert first.digest == FIRST_DIGEST


FIRST_ID = "24f5ecf6a2d912f1bb20cfd4ad009d7fe2e44253"
FIRST_DIGEST = "ef92a88436047ad9fe911dce49effb005fa2e984768fef94b647be28b0964759"

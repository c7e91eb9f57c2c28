"""Which files a ledger records, and which names it refuses."""

import os

import pytest

from buildlog.errors import InvalidInput
from buildlog.store.git.ledger_files import kind_of, refusal, session_of, twins
from buildlog.store.git.message import EntryFacts
from tests.histories import next_recorder, usual


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("car.toml", "configuration"), ("priors.toml", "priors"), ("plan.toml", "plan"),
        ("dyno/2026-03-14-baseline/session.toml", "session"), ("dyno/a/pull 1.CSV", "raw"),
        ("checks/2026-04-02-first-start.toml", "check"), ("torque/x.toml", "torque"),
        ("faults/x.toml", "fault"), ("lists/own.toml", "list"), ("keys/register.toml", "keys"),
        ("keys/allowed_signers", "keys"), ("handover/1.toml", "handover"),
        ("attachments/photos/front.jpg", "attachment"), ("attachments/a", "attachment"),
        ("Car.toml", None), ("sub/car.toml", None), ("dyno/loose.csv", None),
        ("dyno/a/b/c.csv", None), ("checks/x.txt", None), ("keys/secret", None),
        ("handover/one.toml", None), ("README", None), ("attachments/.hidden", None),
        ("dyno/a/pull.csv~", None), (".gitattributes", "attributes"),
    ],
)  # fmt: skip
def test_kinds(path, kind):
    assert kind_of(path) == kind


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("dyno/a/p\x1b.csv", "U+001B"), ("dyno/a/p\u202e.csv", "U+202E"),
        ("dyno/a/u\u0308.csv", "decomposed"), ("dyno/../car.toml", "does not name a file"),
        ("dyno//x", "does not name a file"), ("dyno/a/CON", "device"), ("dyno/a/nul.txt", "device"),
        ("dyno/com1/x", "device"), ("dyno/a/-rf", "hyphen"), ("dyno/a/x.", "ends with a dot"),
        ("dyno/a/x ", "ends with a blank"), ("dyno/a/x:ads", "Windows forbids"),
        ("dyno/a/b\\c", "Windows forbids"), ("attachments/.GIT/config", "reserved by git"),
        ("attachments/" + "x" * 240, "too long"), ("attachments/x.lock", ".lock"),
        ("attachments/\udcff", "U+DCFF"),
    ],
)  # fmt: skip
def test_refused_names(path, words):
    if "\udcff" in path:
        assert words in refusal(path)
        return
    assert words in refusal(path)


def test_ordinary_names_are_not_refused():
    for path in ("dyno/2026-03-14 wet/Prüflauf 1 (warm).csv", "attachments/наклейка.jpg"):
        assert refusal(path) is None
    assert twins(["dyno/A/x.csv", "dyno/a/x.csv", "b"]) == [("dyno/A/x.csv", "dyno/a/x.csv")]
    assert session_of("dyno/a/x.csv") == "a"
    assert session_of("checks/a.toml") is None


@pytest.fixture
def ledger(tmp_path):
    with usual(tmp_path / "car") as made:
        yield made


def record(ledger):
    return ledger.record(EntryFacts("x", stage="x"), next_recorder(ledger))


def test_other_files_are_left_alone_and_named_once(ledger):
    (ledger.folder / "notes.txt").write_text("x")
    (ledger.folder / "private").mkdir()
    (ledger.folder / "private/customer.toml").write_text("x")
    (ledger.folder / "dyno/.DS_Store").write_text("x")
    assert ledger.propose().left_alone == ("dyno/.DS_Store", "notes.txt", "private/")
    assert set(ledger.files(record(ledger))) == {
        "car.toml",
        "dyno/2026-01-07-baseline/pull-1.csv",
        "dyno/2026-01-07-baseline/session.toml",
    }


@pytest.mark.parametrize("name", ["CON.csv", "p\x1b[2J.csv", "p\u202ecsv.exe", "-x.csv"])
def test_a_bad_name_among_the_evidence_is_refused(ledger, name):
    (ledger.folder / "dyno/2026-01-07-baseline" / name).write_text("x")
    with pytest.raises(InvalidInput) as caught:
        record(ledger)
    assert "\x1b" not in str(caught.value)
    assert "\u202e" not in str(caught.value)
    assert len(ledger.entries()) == 3


def test_links_and_devices_are_never_followed(ledger, tmp_path):
    secret = tmp_path / "secret.csv"
    secret.write_text("secret")
    session = ledger.folder / "dyno/2026-01-07-baseline"
    (session / "link.csv").symlink_to(secret)
    with pytest.raises(InvalidInput, match="symbolic link"):
        record(ledger)
    (session / "link.csv").unlink()
    os.mkfifo(session / "pipe.csv")
    with pytest.raises(InvalidInput, match="not an ordinary file"):
        record(ledger)
    (session / "pipe.csv").unlink()
    (ledger.folder / "checks").symlink_to(tmp_path)
    with pytest.raises(InvalidInput, match="symbolic link"):
        record(ledger)
    with pytest.raises(InvalidInput, match="symbolic link"):
        ledger.write_working("checks/a.toml", b"x")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["car", "secret.csv"]


def test_a_raw_file_may_have_25_megabytes(ledger):
    path = ledger.folder / "dyno/2026-01-07-baseline/long.csv"
    path.write_bytes(b"")
    os.truncate(path, 25 * 2**20 + 1)
    with pytest.raises(InvalidInput, match="25 MB is the largest"):
        record(ledger)
    os.truncate(path, 25 * 2**20)
    assert "dyno/2026-01-07-baseline/long.csv" in ledger.files(record(ledger))


def test_writing_a_working_file(ledger):
    from buildlog.errors import ChangedUnderYou

    before = (ledger.folder / "car.toml").read_bytes()
    ledger.write_working("car.toml", b"format = 1\n", expect=before)
    assert (ledger.folder / "car.toml").read_bytes() == b"format = 1\n"
    with pytest.raises(ChangedUnderYou):
        ledger.write_working("car.toml", b"x", expect=before)
    for path in ("README", "../x", "dyno/a/CON", ".git/config", "attachments/../../x"):
        with pytest.raises(InvalidInput):
            ledger.write_working(path, b"x")

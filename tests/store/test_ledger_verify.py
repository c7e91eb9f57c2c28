"""`verify`: what was altered is found and said where; what is whole is never called intact."""

import os
import random
import shutil

import pytest

from buildlog.errors import BuildlogError
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.check_history import undone_fields
from buildlog.store.verify.verdict import verify
from tests.histories import (
    CAR,
    START,
    Story,
    git,
    history,
    loosen,
    next_recorder,
    plain,
    put,
    record,
    usual,
)


@pytest.fixture
def folder(tmp_path):
    usual(tmp_path / "car").close()
    loosen(tmp_path / "car")
    return tmp_path / "car"


def judged(folder):
    with Ledger.open(folder) as ledger:
        return verify(ledger)


def codes(found, severity="error"):
    return {finding.code for finding in found.findings if finding.severity == severity}


def test_a_whole_ledger_is_consistent_and_no_more(folder):
    found = judged(folder)
    assert found.verdict == "consistent"
    assert found.findings == ()
    assert all(check.held for check in found.checks)
    assert found.last_good.number == 3
    assert "rewritten" in found.does_not_prove[0]
    git(folder, "gc", "-q")
    assert judged(folder).verdict == "consistent"


def test_an_empty_ledger_cannot_be_judged(tmp_path):
    with history(tmp_path / "car") as ledger:
        assert verify(ledger).verdict == "cannot-tell"


@pytest.mark.parametrize("kind", ["commit", "tree", "blob"])
def test_bytes_behind_an_object_are_found(folder, kind):
    """git calls it garbage at the end of a loose object; reading alone forgives it."""
    asked = "--batch-check=%(objecttype) %(objectname)"
    listed = git(folder, "cat-file", "--batch-all-objects", asked)
    name = next(line.split()[1] for line in listed.splitlines() if line.startswith(kind))
    path = folder / ".git/objects" / name[:2] / name[2:]
    whole = path.read_bytes()
    path.chmod(0o644)
    path.write_bytes(whole + b"x")
    assert codes(judged(folder)) == {"object"}
    path.write_bytes(whole)
    assert judged(folder).verdict == "consistent"


def test_every_lost_emptied_or_flipped_object_is_found(folder, tmp_path):
    """One at a time, each object of the ledger; git's own judgement beside ours."""
    objects = [path for path in (folder / ".git/objects").glob("??/*") if path.is_file()]
    random_ = random.Random(4)
    caught = 0
    for number, path in enumerate(objects):
        original = path.read_bytes()
        flipped = bytearray(original)
        flipped[random_.randrange(len(original))] ^= 1 << random_.randrange(8)
        for damage in (None, b"", original[:-5], bytes(flipped)):
            path.chmod(0o644)
            path.unlink() if damage is None else path.write_bytes(damage)
            found = judged(folder)
            if found.verdict == "consistent":
                # only a flip that leaves the content as it was (unused bits of the compression)
                assert damage == bytes(flipped), (number, path)
                git(folder, "fsck", "--full", "--strict")
            else:
                caught += 1
                assert found.verdict == "altered"
                assert codes(found)
            path.write_bytes(original)
    assert caught >= 3 * len(objects)
    assert judged(folder).verdict == "consistent"


def test_flips_in_packs_and_indexes_are_found(folder):
    git(folder, "gc", "-q")
    (pack,) = (folder / ".git/objects/pack").glob("*.pack")
    random_ = random.Random(5)
    for path in (pack, pack.with_suffix(".idx")):
        path.chmod(0o644)
        original = path.read_bytes()
        for _ in range(60):
            flipped = bytearray(original)
            flipped[random_.randrange(len(original))] ^= 1 << random_.randrange(8)
            path.write_bytes(bytes(flipped))
            try:
                found = judged(folder)
            except BuildlogError:
                continue
            assert found.verdict == "altered", path.suffix
        path.write_bytes(original)
    assert judged(folder).verdict == "consistent"


@pytest.mark.parametrize("text", ["", "0" * 39, "zz", "ref: refs/heads/other\n", "f" * 40 + "\n"])
def test_a_torn_reference_never_falls_back_to_an_older_value(folder, text):
    old = git(folder, "rev-parse", "HEAD~1").strip()
    (folder / ".git/packed-refs").write_text(f"# pack-refs with: peeled \n{old} refs/heads/main\n")
    (folder / ".git/refs/heads/main").write_text(text)
    found = judged(folder)
    assert found.verdict == "altered"
    assert codes(found) == {"unreadable"}


def amend(folder, *arguments):
    git(folder, "commit", "-q", "--amend", "--no-edit", *arguments, when=START)


def drop_middle(folder):
    git(folder, "rebase", "-q", "--onto", "HEAD~2", "HEAD~1")


def changed_words(folder):
    text = git(folder, "log", "-1", "--format=%B").replace("88500 mi", "58500 mi")
    git(folder, "commit", "-q", "--amend", "-m", text)


def changed_file(folder):
    (folder / "car.toml").write_text(CAR.replace("9.2", "8.0"))
    amend(folder, "-a")


def changed_raw(folder):
    (folder / "dyno/2026-01-07-baseline/pull-1.csv").write_text("n,P\n3000,99\n")
    git(folder, "commit", "-q", "-a", "-m", "nothing to see")


def second_beginning(folder):
    git(folder, "checkout", "-q", "--orphan", "other")
    git(folder, "commit", "-q", "-m", "another")
    git(folder, "switch", "-q", "main")
    git(folder, "merge", "-q", "--allow-unrelated-histories", "-m", "join", "other")


def evil_merge(folder):
    git(folder, "switch", "-q", "-c", "other", "HEAD~1")
    put("lists/a.toml", "format = 1\n")(Story(_Of(folder)))
    git(folder, "add", ".")
    git(folder, "commit", "-q", "-m", "a list")
    git(folder, "switch", "-q", "main")
    git(folder, "merge", "-q", "--no-commit", "other")
    (folder / "dyno/2026-01-07-baseline/pull-1.csv").write_text("n,P\n3000,99\n")
    git(folder, "add", ".")
    git(folder, "commit", "-q", "-m", "join")


class _Of:
    def __init__(self, folder):
        self.folder = folder


@pytest.mark.parametrize(
    ("edit", "code", "good"),
    [
        (drop_middle, "digest", 1),
        (changed_words, "digest", 2),
        (changed_file, "digest", 2),
        (lambda folder: amend(folder, "--author", "B <b@example.invalid>"), "digest", 2),
        (lambda folder: amend(folder, "--date", "2020-01-01T00:00:00Z"), "digest", 2),
        (changed_raw, "file-changed", 3),
        (second_beginning, "roots", None),
        (evil_merge, "merge", None),
    ],
)
def test_edits_of_the_history_are_found(folder, edit, code, good):
    edit(folder)
    found = judged(folder)
    assert found.verdict == "altered"
    assert code in codes(found)
    if good:
        assert found.last_good.number == good


def test_a_cut_off_end_is_not_claimed_to_be_excluded(folder):
    git(folder, "reset", "-q", "--hard", "HEAD~1")
    found = judged(folder)
    assert found.verdict == "consistent"
    assert any("cut off" in text for text in found.does_not_prove)


def test_a_commit_of_plain_gits_is_said_and_one_that_undoes_is_a_caution(folder):
    with Ledger.open(folder) as ledger:
        story = Story(ledger, next_recorder(ledger).now)
        put("car.toml", CAR.replace("1994", "1995"))(story)
        put("README", "by a friend\n")(story)
        plain("undoes the compression", "car.toml", "README")(story)
    found = judged(folder)
    assert found.verdict == "consistent"
    assert codes(found, "note") == {"outside", "file-unknown"}
    assert [f.paths for f in found.findings if f.code == "undone"] == [
        ("engine.compression_ratio",)
    ]


def test_undone_fields():
    old, new = b"[a]\nb = 1\nc = 1\n", b"[a]\nb = 2\nc = 1\n"
    assert undone_fields(old, new, old) == ["a.b"]
    assert undone_fields(old, new, new) == []
    assert undone_fields(old, new, b"[a]\nb = 3\n") == []
    assert undone_fields(old, b"[a]\nc = 1\n", old) == ["a.b"]
    assert undone_fields(old, b"\xff", old) == []


def test_tags_clock_and_index_are_notes_and_cautions(folder):
    git(folder, "tag", "-f", "stage/baseline", "HEAD")
    git(folder, "tag", "stage/never", "HEAD")
    git(folder, "update-index", "--force-remove", "car.toml")
    found = judged(folder)
    assert found.verdict == "consistent"
    assert [f.code for f in found.findings] == ["stage-tag", "stage-tag", "index"]
    slow = history(
        folder.parent / "slow",
        [put("car.toml", CAR), record("intake", on="2026-02-01")],
    )
    with slow:
        facts = EntryFacts("x", stage="s", odometer_note="the clock was wrong")
        slow.record(facts, Recorder("Shop", START))
        assert [f.code for f in verify(slow).findings] == ["clock"]


@pytest.mark.parametrize("part", ["objects", "refs", "HEAD"])
def test_a_repository_that_lies_elsewhere_is_not_followed(folder, tmp_path, part):
    shutil.move(folder / ".git" / part, tmp_path / "elsewhere")
    (folder / ".git" / part).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(BuildlogError, match="points to files elsewhere"):
        judged(folder)


def test_borrowed_objects_and_strange_formats_are_refused(folder, tmp_path):
    git(tmp_path, "clone", "-q", "--shared", str(folder), "borrowing")
    with pytest.raises(BuildlogError, match="borrows objects"):
        judged(tmp_path / "borrowing")
    git(tmp_path, "init", "-q", "--object-format=sha256", "other")
    with pytest.raises(BuildlogError, match="of a form that this program does not read"):
        judged(tmp_path / "other")
    os.remove(folder / ".git/config")
    with pytest.raises(BuildlogError, match="config cannot be read"):
        judged(folder)

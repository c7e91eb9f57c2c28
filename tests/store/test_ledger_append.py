"""Recording, with plain git as the outside judge."""

import os

import pytest

from buildlog.errors import ChangedUnderYou, DiskError, InvalidInput, NotFound
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.ledger import Ledger
from tests.histories import CAR, PULL, Story, git, history, next_recorder, plain, put, record, usual


@pytest.fixture
def ledger(tmp_path):
    with usual(tmp_path / "car") as made:
        yield made


def strict_fsck(folder):
    return git(folder, "fsck", "--full", "--strict", "--no-dangling")


def test_plain_git_agrees_with_a_recorded_ledger(ledger, tmp_path):
    folder = ledger.folder
    assert strict_fsck(folder) == ""
    assert git(folder, "status", "--porcelain") == ""
    assert git(folder, "log", "--format=%H").split() == [
        entry.id for entry in reversed(ledger.entries())
    ]
    assert git(folder, "ls-files", "-s").splitlines() == [
        f"100644 {object_id} 0\t{path}"
        for path, object_id in ledger.files(ledger.entries()[-1]).items()
    ]
    git(tmp_path, "clone", "-q", str(folder), "copy")
    copy = tmp_path / "copy"
    assert (copy / "dyno/2026-01-07-baseline/pull-1.csv").read_bytes() == PULL
    with Ledger.open(copy) as cloned:
        assert cloned.entries() == ledger.entries()
        assert cloned.id == ledger.id


def test_ids_are_the_same_on_every_machine(ledger, tmp_path):
    with usual(tmp_path / "again") as again:
        assert [entry.id for entry in again.entries()] == [entry.id for entry in ledger.entries()]
    with history(tmp_path / "other", [put("car.toml", CAR), record("intake")], nonce="00") as other:
        assert other.id != ledger.id


def test_author_and_zone_say_nothing_private(ledger):
    first, second, *_ = ledger.entries()
    shown = git(ledger.folder, "log", "--reverse", "--format=%an|%ae|%cn|%ce|%ai")
    lines = shown.splitlines()
    nonce = first.nonce or ""
    assert lines[0].startswith(f"Quarry Lane Motors|ledger@{nonce[:8]}.invalid|Quarry Lane Motors|")
    assert f"|ledger@{first.id[:8]}.invalid|" in lines[1]
    assert all(line.endswith("+0000") for line in lines)
    assert second.nonce is None


def test_every_fact_is_a_trailer_that_git_shows(ledger):
    first = ledger.entries()[0]
    ledger.write_working("checks/2026-01-09-first-start.toml", b"format = 1\n")
    entry = ledger.record(
        EntryFacts(
            "first start", notes="ran well\n\n  indented", kind="correction", stage="stage-1a",
            odometer="88510 mi", odometer_note="read twice", done_by="RK", approved_by="07",
            corrects=first.id, resolves=first.id, changed="checks added", measured="142.1 hp",
            session_configuration="new",
        ),
        next_recorder(ledger),
    )  # fmt: skip
    shown = git(ledger.folder, "log", "-1", "--format=%(trailers:only)", entry.id).split("\n")
    assert [line for line in shown if line] == [
        "Entry-kind: correction",
        "Stage: stage-1a",
        "Odometer: 88510 mi",
        "Odometer-note: read twice",
        f"Work-date: {entry.work_date}",
        "Done-by: RK",
        "Approved-by: 07",
        f"Corrects: {first.id}",
        f"Resolves: {first.id}",
        "Changed: checks added",
        "Measured: 142.1 hp",
        "Session-configuration: new",
        f"Record-sha256: {entry.digest}",
    ]
    assert entry.notes == "ran well\n\n  indented"
    assert (entry.kind, entry.stage, entry.odometer, entry.done_by, entry.resolves) == (
        "correction", "stage-1a", "88510 mi", "RK", first.id,
    )  # fmt: skip
    assert entry.odometer_m == pytest.approx(88510 * 1609.344)


def test_an_entry_then_a_plain_commit_reverts_nothing(ledger):
    put("car.toml", CAR.replace("9.2", "8.8"))(_story(ledger))
    ledger.record(EntryFacts("again lower"), next_recorder(ledger))
    (ledger.folder / "lists").mkdir()
    (ledger.folder / "lists/own.toml").write_text("format = 1\n")
    plain("a list, by plain git", "lists/own.toml")(_story(ledger))
    last = ledger.entries()[-1]
    assert last.recorded_outside
    assert last.subject == "a list, by plain git"
    assert b"8.8" in ledger.read(last, "car.toml")
    assert set(ledger.files(last)) == {
        "car.toml", "lists/own.toml",
        "dyno/2026-01-07-baseline/pull-1.csv", "dyno/2026-01-07-baseline/session.toml",
    }  # fmt: skip
    assert git(ledger.folder, "status", "--porcelain") == ""


def test_a_plain_commit_then_an_entry_reverts_nothing(ledger):
    story = _story(ledger)
    put("car.toml", CAR.replace("9.2", "8.8"))(story)
    put("README", "kept by hand\n")(story)
    plain("by plain git")(story)
    put("lists/own.toml", "format = 1\n")(story)
    entry = ledger.record(EntryFacts("a list"), next_recorder(ledger))
    assert b"8.8" in ledger.read(entry, "car.toml")
    assert git(ledger.folder, "show", f"{entry.id}:README") == "kept by hand\n"
    assert "README" not in ledger.files(entry)
    assert git(ledger.folder, "status", "--porcelain") == ""
    assert strict_fsck(ledger.folder) == ""


def test_an_entry_pushed_from_elsewhere_comes_into_the_folder_and_is_not_undone(ledger, tmp_path):
    git(tmp_path, "clone", "-q", str(ledger.folder), "laptop")
    laptop = tmp_path / "laptop"
    (laptop / "car.toml").write_text(CAR.replace("1994", "1995"))
    (laptop / "torque").mkdir()
    (laptop / "torque/wheels.toml").write_text("format = 1\n")
    git(laptop, "add", ".")
    git(laptop, "commit", "-q", "-m", "from the laptop")
    git(ledger.folder, "config", "receive.denyCurrentBranch", "ignore")
    git(laptop, "push", "-q", "origin", "main")

    (ledger.folder / "priors.toml").write_text("format = 1\n")
    entry = ledger.record(EntryFacts("priors"), next_recorder(ledger))
    assert b"1995" in ledger.read(entry, "car.toml")
    assert (ledger.folder / "car.toml").read_text() == CAR.replace("1994", "1995")
    assert (ledger.folder / "torque/wheels.toml").read_text() == "format = 1\n"
    assert git(ledger.folder, "status", "--porcelain") == ""


def test_an_edit_against_another_recorded_edit_is_refused(ledger, tmp_path):
    git(tmp_path, "clone", "-q", str(ledger.folder), "laptop")
    laptop = tmp_path / "laptop"
    (laptop / "car.toml").write_text(CAR.replace("1994", "1995"))
    git(laptop, "commit", "-q", "-a", "-m", "from the laptop")
    git(ledger.folder, "config", "receive.denyCurrentBranch", "ignore")
    git(laptop, "push", "-q", "origin", "main")
    mine = CAR.replace("1994", "1996")
    (ledger.folder / "car.toml").write_text(mine)
    with pytest.raises(ChangedUnderYou, match=r"car\.toml was edited here"):
        ledger.record(EntryFacts("mine"), next_recorder(ledger))
    assert (ledger.folder / "car.toml").read_text() == mine
    assert ledger.entries()[-1].subject == "from the laptop"


@pytest.mark.parametrize("lost", ["missing", "torn"])
def test_a_lost_index_is_made_again(ledger, lost):
    place = ledger.folder / ".git/index"
    place.unlink() if lost == "missing" else place.write_bytes(b"DIRC")
    put("car.toml", CAR.replace("9.2", "8.5"))(_story(ledger))
    entry = ledger.record(EntryFacts("lower"), next_recorder(ledger))
    assert b"8.5" in ledger.read(entry, "car.toml")
    assert git(ledger.folder, "status", "--porcelain") == ""


def test_without_an_index_an_old_file_is_not_taken_for_an_edit(ledger):
    (ledger.folder / ".git/index").unlink()
    put("car.toml", CAR)(_story(ledger))  # as in entries 1 and 2
    with pytest.raises(ChangedUnderYou, match="as it was in entry 2"):
        ledger.record(EntryFacts("?"), next_recorder(ledger))


def test_nothing_to_record(ledger):
    with pytest.raises(InvalidInput, match="nothing has changed"):
        ledger.record(EntryFacts("again"), next_recorder(ledger))
    named = ledger.record(EntryFacts("named now", stage="stage-1b"), next_recorder(ledger))
    assert named.tree == ledger.entries()[-2].tree


def test_prepare_sees_the_proposal_may_complete_the_facts_and_may_refuse(ledger):
    story = _story(ledger)
    put("car.toml", CAR.replace("9.2", "8.5"))(story)
    seen = {}

    def prepare(proposal):
        seen.update(old=proposal.read_old("car.toml"), new=proposal.read("car.toml"))
        seen["change"] = proposal.change
        return EntryFacts("lower", changed="compression ratio 9.0 -> 8.5")

    entry = ledger.record(EntryFacts("lower"), next_recorder(ledger), prepare=prepare)
    assert (b"9.0" in seen["old"], b"8.5" in seen["new"]) == (True, True)
    assert seen["change"].changed == ("car.toml",)
    assert entry.changed == "compression ratio 9.0 -> 8.5"

    def refuse(proposal):
        raise InvalidInput("no such bore")

    put("car.toml", CAR)(story)
    with pytest.raises(InvalidInput, match="no such bore"):
        ledger.record(EntryFacts("x"), next_recorder(ledger), prepare=refuse)
    assert ledger.entries()[-1] == entry
    assert git(ledger.folder, "fsck", "--full", "--strict").strip() == ""


def test_what_was_shown_is_what_is_recorded_or_nothing(ledger):
    put("car.toml", CAR.replace("9.2", "8.5"))(_story(ledger))
    shown = ledger.propose()
    with Ledger.open(ledger.folder) as other:
        other.append(
            {"priors.toml": b"format = 1\n"}, EntryFacts("elsewhere"), next_recorder(ledger)
        )
    mine = {"lists/mine.toml": b"format = 1\n"}
    with pytest.raises(ChangedUnderYou, match="another entry was recorded meanwhile"):
        ledger.append(mine, EntryFacts("mine"), next_recorder(ledger), expect=shown.tip)
    tip = ledger.propose().tip
    entry = ledger.append(mine, EntryFacts("mine"), next_recorder(ledger), expect=tip)
    assert ledger.read(entry, "lists/mine.toml") == b"format = 1\n"


def test_append_leaves_an_unrecorded_edit_as_it_is(ledger):
    edited = CAR.replace("9.2", "8.5")
    put("car.toml", edited)(_story(ledger))
    given = {"faults/2026-01-09-belt.toml": b"format = 1\n"}
    entry = ledger.append(given, EntryFacts("belt", kind="fault"), next_recorder(ledger))
    assert b"9.0" in ledger.read(entry, "car.toml")
    assert (ledger.folder / "car.toml").read_text() == edited
    assert (ledger.folder / "faults/2026-01-09-belt.toml").read_bytes() == b"format = 1\n"
    assert git(ledger.folder, "status", "--porcelain") == " M car.toml\n"
    with pytest.raises(ChangedUnderYou, match="not recorded"):
        ledger.append({"car.toml": b"format = 1\n"}, EntryFacts("x"), next_recorder(ledger))


def test_evidence_may_be_added_and_never_changed(ledger):
    raw = ledger.folder / "dyno/2026-01-07-baseline/pull-1.csv"
    raw.write_bytes(PULL.replace(b"\r\n", b"\n"))
    with pytest.raises(InvalidInput, match=r"pull-1\.csv is recorded evidence"):
        ledger.record(EntryFacts("x", stage="a"), next_recorder(ledger))
    raw.unlink()
    with pytest.raises(InvalidInput, match=r"pull-1\.csv is recorded and is missing"):
        ledger.record(EntryFacts("x", stage="a"), next_recorder(ledger))
    git(ledger.folder, "restore", "dyno/2026-01-07-baseline/pull-1.csv")
    assert raw.read_bytes() == PULL
    session = raw.with_name("session.toml")
    session.write_text("format = 1\n")
    with pytest.raises(InvalidInput, match="--kind correction"):
        ledger.record(EntryFacts("x", stage="a"), next_recorder(ledger))
    facts = EntryFacts("use = false", kind="correction", corrects=ledger.entries()[1].id)
    assert ledger.record(facts, next_recorder(ledger)).kind == "correction"


def test_stage_tags_are_made_again(ledger):
    git(ledger.folder, "tag", "-d", "stage/baseline")
    ledger.record(EntryFacts("named", stage="stage-2"), next_recorder(ledger))
    tags = git(ledger.folder, "for-each-ref", "--format=%(refname) %(objectname)", "refs/tags")
    assert tags.splitlines() == [
        f"refs/tags/stage/{entry.stage} {entry.id}" for entry in ledger.entries() if entry.stage
    ]


def test_it_goes_on_after_git_packs_everything(ledger):
    git(ledger.folder, "gc", "-q", "--prune=now")
    git(ledger.folder, "pack-refs", "--all")
    assert len(ledger.entries()) == 3
    put("car.toml", CAR.replace("9.2", "8.5"))(_story(ledger))
    entry = ledger.record(EntryFacts("lower"), next_recorder(ledger))
    assert entry.number == 4
    assert strict_fsck(ledger.folder) == ""


def test_the_environment_and_the_configuration_have_no_say(ledger, tmp_path, monkeypatch):
    for name in ("GIT_DIR", "GIT_OBJECT_DIRECTORY", "GIT_INDEX_FILE", "GIT_WORK_TREE"):
        monkeypatch.setenv(name, str(tmp_path / "nowhere"))
    hook = ledger.folder / ".git/hooks/pre-commit"
    hook.parent.mkdir()
    marker = tmp_path / "ran"
    hook.write_text(f"#!/bin/sh\ntouch {marker}\n")
    hook.chmod(0o755)
    config = ledger.folder / ".git/config"
    config.write_text(
        config.read_text() + f"[core]\n\thooksPath = {hook.parent}\n"
        f'[filter "x"]\n\tclean = touch {marker}\n[include]\n\tpath = {tmp_path}/hostile\n'
    )
    put(".gitattributes", "* filter=x\n")(_story(ledger))
    put("car.toml", CAR.replace("9.2", "8.5"))(_story(ledger))
    with Ledger.open(ledger.folder) as again:
        again.record(EntryFacts("lower"), next_recorder(again))
        assert len(again.entries()) == 4
    assert not marker.exists()


def test_a_switched_branch_is_refused(ledger):
    git(ledger.folder, "switch", "-q", "-c", "plan/big")
    put("car.toml", CAR)(_story(ledger))
    with pytest.raises(ChangedUnderYou, match="another branch than main"):
        ledger.record(EntryFacts("x"), next_recorder(ledger))


def test_reading_takes_no_write_permission(ledger):
    """In a child that gives up root's rights where the tests run as root."""
    folder = ledger.folder
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    for outer in list(folder.parents)[:5]:
        if outer.name.startswith(("test_", "pytest-", "popen-", "car")):
            outer.chmod(0o755)
    # Who gives up root's rights may not read where the library lies.
    from filelock import FileLock, Timeout  # noqa: F401

    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        _read_then_try_to_record(folder, writer)
    os.close(writer)
    with os.fdopen(reader) as told:
        said = told.read()
    os.waitpid(child, 0)
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)
    assert said == "3 entries, 3 files; 7: taking the ledger's lock failed: permission denied"


def _read_then_try_to_record(folder, writer):
    said = "?"
    try:
        if os.getuid() == 0:
            os.setuid(65534)
        with Ledger.open(folder) as ledger:
            said = f"{len(ledger.entries())} entries, {len(ledger.propose().new)} files; "
            try:
                ledger.record(EntryFacts("x", stage="s"), next_recorder(ledger))
            except DiskError as error:
                said += f"{error.exit_status}: {error.what}"
    except BaseException as error:
        said += repr(error)
    os.write(writer, said.encode())
    os._exit(0)


def test_find_and_create(ledger, tmp_path):
    inside = ledger.folder / "dyno/2026-01-07-baseline"
    with Ledger.find(inside) as found:
        assert found.folder == ledger.folder
    with pytest.raises(NotFound, match="not in a ledger"):
        Ledger.find(tmp_path)
    with pytest.raises(NotFound, match="not a ledger"):
        Ledger.open(tmp_path)
    with pytest.raises(InvalidInput, match="a repository in this folder"):
        Ledger.create(ledger.folder)


def _story(ledger):
    return Story(ledger, next_recorder(ledger).now)


def test_a_creation_that_was_cut_short_can_be_done_again(tmp_path):
    (tmp_path / "car/.git/objects/info").mkdir(parents=True)
    with history(tmp_path / "car", [put("car.toml", CAR), record("intake")]) as made:
        assert len(made.entries()) == 1
        assert strict_fsck(made.folder) == ""


def test_a_tag_that_cannot_be_made_holds_nothing_up(ledger, monkeypatch):
    monkeypatch.setattr("buildlog.store.ledger.append._PATIENCE", 0.1)
    git(ledger.folder, "tag", "-d", "stage/baseline", "stage/stage-1")
    git(ledger.folder, "tag", "stage", "HEAD")
    assert ledger.record(EntryFacts("x", stage="stage-2"), next_recorder(ledger)).number == 4
    assert ledger.resolve("stage-2").entry.number == 4


def test_what_was_staged_with_plain_git_is_an_edit_and_is_recorded(ledger):
    put("car.toml", CAR.replace("9.2", "7.7"))(_story(ledger))
    put("lists/own.toml", "format = 1\n")(_story(ledger))
    git(ledger.folder, "add", "car.toml", "lists/own.toml")
    put("priors.toml", "format = 1\n")(_story(ledger))
    entry = ledger.record(EntryFacts("staged"), next_recorder(ledger))
    assert b"7.7" in ledger.read(entry, "car.toml")
    assert {"lists/own.toml", "priors.toml"} <= set(ledger.files(entry))
    assert (ledger.folder / "lists/own.toml").exists()
    assert git(ledger.folder, "status", "--porcelain") == ""

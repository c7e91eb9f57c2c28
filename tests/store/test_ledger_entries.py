"""Entries in order, names of versions, and the rules of what may follow what."""

import subprocess
import sys
from datetime import UTC, date, datetime

import pytest

from buildlog.errors import InvalidInput, NotFound, PartOnly
from buildlog.store.git.message import EntryFacts
from buildlog.store.git.repo import Repo
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from tests.counting import lines_run
from tests.histories import CAR, SHOP, git, history, next_recorder, put, record, usual


@pytest.fixture
def ledger(tmp_path):
    with usual(tmp_path / "car") as made:
        yield made


def add(ledger, subject="x", **facts):
    facts.setdefault("kind", "check")
    return ledger.record(EntryFacts(subject, **facts), next_recorder(ledger))


# --- names ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "number"),
    [("first", 1), ("latest", 3), ("2", 2), ("stage-1", 3), ("baseline", 2), ("last-dyno", 2)],
)
def test_names(ledger, name, number):
    found = ledger.resolve(name)
    assert found.entry == ledger.entries()[number - 1]
    assert (found.commit, found.is_working) == (found.entry.id, False)


def test_ids_working_and_plans(ledger):
    second = ledger.entries()[1]
    for length in (7, 8, 40):
        assert ledger.resolve(second.id[:length]).entry == second
    working = ledger.resolve("working")
    assert working.is_working
    (ledger.folder / "car.toml").write_text("format = 1\n")
    assert ledger.read(working, "car.toml") == b"format = 1\n"
    assert b"9.0" in ledger.read(ledger.resolve("latest"), "car.toml")
    assert ledger.files(working).keys() == ledger.files(second).keys()
    git(ledger.folder, "branch", "plan/turbo", second.id)
    plan = ledger.resolve("plan:turbo")
    assert (plan.entry, plan.commit) == (None, second.id)
    assert b"9.2" in ledger.read(plan, "car.toml")


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("stage-2", "did you mean stage-1?"), ("latets", "did you mean latest"),
        ("9", "a number from 1 to 3"), ("0", "from 1 to 3"), ("plan:x", "no plans yet"),
        ("deadbeef", ""), ("plan:../main", "no plans"), ("", ""), ("abc", ""),
    ],
)  # fmt: skip
def test_unknown_names_list_the_nearest(ledger, name, hint):
    with pytest.raises(NotFound) as caught:
        ledger.resolve(name)
    assert hint in (caught.value.hint or "")
    assert caught.value.exit_status == 3


def test_an_ambiguous_id_lists_them(ledger):
    from buildlog.store.ledger.names import resolve

    first, second, _ = ledger.entries()
    import dataclasses

    twin = dataclasses.replace(second, id=first.id[:9] + second.id[9:])
    with pytest.raises(NotFound, match="ambiguous"):
        resolve(first.id[:8], [first, twin], ledger.repo, lambda entry: False)


def test_names_in_an_empty_ledger(tmp_path):
    with history(tmp_path / "car") as ledger:
        assert (ledger.entries(), ledger.id) == ([], None)
        for name in ("latest", "first", "last-dyno", "1"):
            with pytest.raises(NotFound, match="nothing is recorded yet"):
                ledger.resolve(name)


# --- order and merges -----------------------------------------------------------------------


def test_entries_on_two_lines_come_by_work_date_and_a_merge_is_none(ledger, tmp_path):
    fork = ledger.entries()[-1]
    git(tmp_path, "clone", "-q", str(ledger.folder), "laptop")
    with Ledger.open(tmp_path / "laptop") as laptop:
        laptop.append(
            {"lists/own.toml": b"format = 1\n"},
            EntryFacts("laptop", work_date=date(2026, 3, 2), odometer="90100 mi"),
            Recorder(SHOP, datetime(2026, 3, 2, tzinfo=UTC)),
        )
    late = datetime(2026, 3, 9, tzinfo=UTC)
    for day, reading in ((1, "90000 mi"), (5, "90500 mi")):
        facts = EntryFacts(
            f"shop {day}", kind="check", work_date=date(2026, 3, day), odometer=reading
        )
        ledger.record(facts, Recorder(SHOP, late))
    git(ledger.folder, "pull", "-q", "--no-rebase", "--no-edit", str(tmp_path / "laptop"), "main")
    merged = ledger.entries()
    assert [entry.subject for entry in merged[3:]] == ["shop 1", "laptop", "shop 5"]
    assert [entry.number for entry in merged] == [1, 2, 3, 4, 5, 6]
    assert merged[4].parents == merged[3].parents == (fork.id,)

    # never across the two lines of a merge: 90,050 mi is below both lines' last readings
    after = add(ledger, "after", work_date=date(2026, 3, 3), odometer="90050 mi")
    assert after.number == 7
    assert len(git(ledger.folder, "log", "-1", "--format=%P", f"{after.id}^").split()) == 2
    with pytest.raises(InvalidInput, match="below that of entry 7"):
        add(ledger, "back", odometer="90000 mi")


def test_a_shallow_copy_is_told_as_a_part_with_what_brings_the_rest(ledger, tmp_path):
    git(tmp_path, "clone", "-q", "--depth", "1", f"file://{ledger.folder}", "copy")
    with Ledger.open(tmp_path / "copy") as copy, pytest.raises(PartOnly) as told:
        copy.entries()
    assert "holds a part of the ledger" in told.value.what
    assert "git fetch --unshallow" in (told.value.hint or "")
    git(tmp_path / "copy", "fetch", "-q", "--unshallow")
    with Ledger.open(tmp_path / "copy") as copy:
        assert [one.id for one in copy.entries()] == [one.id for one in ledger.entries()]


# --- rules ------------------------------------------------------------------------------------


def test_odometer_order(ledger):
    with pytest.raises(InvalidInput, match=r"88499 mi is below that of entry 3 \(88500 mi\)"):
        add(ledger, odometer="88499 mi")
    assert add(ledger, odometer="142427 km").number == 4  # 88,500 mi, rounded to a kilometre
    assert add(ledger, odometer="unknown").odometer is None
    assert add(ledger, odometer="12 mi", odometer_note="new instrument").number == 6
    with pytest.raises(InvalidInput, match="below that of entry 6"):
        add(ledger, odometer="11 mi")
    for text in ("about 88600", "-5 mi", "88600", "88600 kg"):
        with pytest.raises(InvalidInput):
            add(ledger, odometer=text)
    assert add(ledger, odometer="88,600 mi").odometer == "88,600 mi"  # as every screen prints it


def test_dates_go_forward_except_for_facts_about_the_past(ledger):
    with pytest.raises(InvalidInput, match="2025-12-31 is before that of entry 3"):
        add(ledger, work_date=date(2025, 12, 31))
    receipt = {"attachments/receipt-2019.txt": b"clutch\n"}
    facts = EntryFacts(
        "receipt of 2019: clutch", kind="earlier", work_date=date(2019, 5, 1), odometer="60200 mi"
    )
    entry = ledger.append(receipt, facts, next_recorder(ledger))
    assert (entry.number, entry.work_date) == (4, date(2019, 5, 1))
    with pytest.raises(InvalidInput, match="below that of entry 3"):
        add(ledger, odometer="70000 mi")
    assert add(ledger, odometer="88600 mi", work_date=date(2026, 2, 1)).number == 5


def test_a_stage_is_used_once_and_named_so_that_it_is_no_other_name(ledger):
    with pytest.raises(InvalidInput, match='"baseline" is already entry 2'):
        add(ledger, stage="baseline")
    for name in ("working", "12", "3fa81c02", "-x", "a..b", "a b", "x.lock", "é", "a/b", "x."):
        with pytest.raises(InvalidInput, match="the stage name"):
            add(ledger, stage=name)
    assert ledger.resolve(add(ledger, stage="Stage_2.1").stage).entry.number == 4


def test_targets_must_exist(ledger):
    for facts in ({"corrects": "0" * 40, "kind": "correction"}, {"resolves": "0" * 40}):
        with pytest.raises(InvalidInput, match="there is no entry 000000000000"):
            add(ledger, **facts)
    with pytest.raises(InvalidInput, match="must say which entry it corrects"):
        add(ledger, kind="correction")


def test_several_faults_are_told_together(ledger):
    with pytest.raises(InvalidInput) as caught:
        add(ledger, stage="baseline", odometer="1 mi")
    assert "baseline" in caught.value.what
    assert "odometer 1 mi is below" in (caught.value.why or "")


# --- work ---------------------------------------------------------------------------------


def fast_import(folder, count):
    """A long ledger made by git itself; its entries carry our trailers."""
    stream = []
    for number in range(1, count + 1):
        message = f"n {number}\n\nEntry-kind: build\nOdometer: {number} mi\nWork-date: 2026-01-05\n"
        stream.append(
            f"commit refs/heads/main\nmark :{number}\n"
            f"committer A <a@example.invalid> {1767600000 + number} +0000\n"
            f"data {len(message)}\n{message}\n"
            f"M 100644 inline car.toml\ndata {len(str(number))}\n{number}\n"
        )
    git(folder, "fast-import", "--quiet", given="".join(stream).encode())


@pytest.fixture
def work(tmp_path):
    """How many lines of Python run until so many entries are known."""

    def entries(count):
        with history(tmp_path / f"car-{count}") as ledger:
            fast_import(ledger.folder, count)
        with Ledger.open(tmp_path / f"car-{count}") as fresh, lines_run() as run:
            found = fresh.entries()
        assert found[-1].odometer_m == pytest.approx(count * 1609.344)
        return run.number

    return entries


def test_the_work_for_entries_grows_with_their_number_and_no_faster(work):
    small, large = work(100), work(1000)
    print(f"100: {small} lines, 1000: {large}")
    assert small < 100 * 1_000
    assert large < 10 * small * 1.1


@pytest.mark.long
def test_10_000_entries(work):
    assert work(10_000) < 10 * work(1000) * 1.1


def test_the_store_imports_nothing_heavy():
    heavy = "('numpy', 'pydantic', 'pint', 'matplotlib', 'scipy', 'tomlkit', 'dulwich.porcelain')"
    code = (
        "import sys, buildlog.store.ledger.ledger\n"
        "buildlog.store.ledger.entries.metres('1 mi')\n"
        f"print([name for name in {heavy} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_append_does_not_slow_down(tmp_path, monkeypatch):
    """The history is read once and then extended: an entry costs a few commits, not all."""
    with history(tmp_path / "car", [put("car.toml", CAR), record("intake")]) as ledger:
        fast_import_on_top(ledger, 1000)
        ledger.append({"priors.toml": b"0"}, EntryFacts("first"), next_recorder(ledger))
        read = []
        real = Repo.commit
        monkeypatch.setattr(
            Repo, "commit", lambda self, name: read.append(name) or real(self, name)
        )
        by = Recorder(SHOP, datetime(2030, 1, 1, tzinfo=UTC))
        assert ledger.append({"priors.toml": b"1"}, EntryFacts("more"), by).number == 1003
        assert 0 < len(read) < 10


def fast_import_on_top(ledger, count):
    stream = ["commit refs/heads/main\ncommitter A <a@b> 1767700000 +0000\ndata 1\nx\n"]
    stream[0] += f"from {ledger.entries()[-1].id}\n\n"
    for number in range(count - 1):
        stream.append(
            f"commit refs/heads/main\ncommitter A <a@b> {1767700001 + number} +0000\ndata 1\ny\n\n"
        )
    git(ledger.folder, "fast-import", "--quiet", given="".join(stream).encode())

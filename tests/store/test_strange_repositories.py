"""Repositories that git can make, or somebody by hand, and no shop has: said plainly, no crash.

Each case is a whole ledger with one strange thing done to it. What the next owner reads from
`verify` is one of four words; which of them is right for each case stands beside it.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from buildlog.store.ledger.ledger import Ledger
from tests import hostile_objects as raw
from tests.conftest import Call
from tests.histories import CAR, git, loosen, next_recorder, plain, put, record, usual

OK, BAD, CANNOT = "consistent", "altered", "cannot tell"
ELSEWHERE = "a work tree whose repository is elsewhere"
PART = "a part of the ledger"


def tip(folder: Path) -> str:
    return git(folder, "rev-parse", "main").strip()


def on_top(folder: Path, tree: str, message: str = "x", *options: str) -> str:
    """A plain commit of that tree on `main`."""
    made = git(folder, *options, "commit-tree", tree.strip(), "-p", "main", "-m", message).strip()
    git(folder, "update-ref", "refs/heads/main", made)
    return made


def with_line(folder: Path, line: str) -> str:
    """The newest entry's tree and one line more."""
    listed = git(folder, "ls-tree", "-z", "main").encode("utf-8", "surrogateescape")
    return git(folder, "mktree", "-z", "--missing", given=listed + line.encode() + b"\0")


def literal(folder: Path, kind: str, data: bytes) -> str:
    call = ("hash-object", "-t", kind, "-w", "--literally", "--stdin")
    return git(folder, *call, given=data).strip()


def blob(folder: Path) -> str:
    return git(folder, "rev-parse", "main:car.toml").strip()


def set_main(folder: Path, held: str) -> None:
    (folder / ".git/refs/heads/main").write_text(held + "\n")


def git_as_a_file(folder: Path) -> None:
    (folder / ".git").rename(folder.parent / "elsewhere")
    (folder / ".git").write_text("gitdir: ../elsewhere\n")


def git_as_an_empty_folder(folder: Path) -> None:
    shutil.rmtree(folder / ".git")
    (folder / ".git").mkdir()


def git_as_a_pipe(folder: Path) -> None:
    shutil.rmtree(folder / ".git")
    os.mkfifo(folder / ".git")


def a_worktree(folder: Path) -> None:
    git(folder, "worktree", "add", "-q", "../other", "-b", "other")
    folder.rename(folder.parent / "first")
    (folder.parent / "other").rename(folder)


def worktree_setting(folder: Path) -> None:
    git(folder, "config", "core.worktree", "/")


def other_hashes(folder: Path) -> None:
    shutil.rmtree(folder / ".git")
    git(folder, "init", "-q", "-b", "main", "--object-format=sha256")
    git(folder, "add", "car.toml")
    git(folder, "commit", "-q", "-m", "x")


def shallow(folder: Path) -> None:
    folder.rename(folder.parent / "first")
    git(folder.parent, "clone", "-q", "--depth", "1", f"file://{folder.parent}/first", "car")


def grafts(folder: Path) -> None:
    (folder / ".git/info/grafts").write_text(tip(folder) + "\n")


def replacement(folder: Path) -> None:
    git(folder, "replace", blob(folder), literal(folder, "blob", CAR.replace("9", "8").encode()))


def references_in_tables(folder: Path) -> None:
    git(folder, "config", "core.repositoryformatversion", "1")
    git(folder, "config", "extensions.refstorage", "reftable")


def promised_objects(folder: Path) -> None:
    git(folder, "config", "core.repositoryformatversion", "1")
    git(folder, "config", "extensions.partialclone", "origin")


def borrowed_objects(folder: Path) -> None:
    (folder / ".git/objects/info/alternates").write_text("/nowhere/objects\n")


def borrowed_over_http(folder: Path) -> None:
    (folder / ".git/objects/info/http-alternates").write_text("http://example.invalid/\n")


def other_encoding(folder: Path) -> None:
    text = f"tree {git(folder, 'rev-parse', 'main^{tree}')}parent {tip(folder)}\n".encode()
    who = b"M\xe9rou <m@example.invalid> 1769000000 +0000\n"
    text += b"author " + who + b"committer " + who + b"encoding ISO-8859-1\n\nd\xe9j\xe0 vu\n"
    set_main(folder, literal(folder, "commit", text))


def unknown_encoding(folder: Path) -> None:
    text = git(folder, "cat-file", "commit", "main").replace("\n\n", "\nencoding x-\x1b[2J\n\n", 1)
    set_main(folder, literal(folder, "commit", text.encode()))


def no_trailers(folder: Path) -> None:
    on_top(folder, git(folder, "rev-parse", "main^{tree}"), "a few words")


def no_message(folder: Path) -> None:
    text = git(folder, "cat-file", "commit", "main").partition("\n\n")[0] + "\n\n"
    set_main(folder, literal(folder, "commit", text.encode()))


def no_author(folder: Path) -> None:
    lines = git(folder, "cat-file", "commit", "main").split("\n")
    text = "\n".join(line for line in lines if not line.startswith("author "))
    set_main(folder, literal(folder, "commit", text.encode()))


def time_beyond_the_calendar(folder: Path) -> None:
    text = git(folder, "cat-file", "commit", "main").replace(" +0000", "99999999 +0000")
    set_main(folder, literal(folder, "commit", text.encode()))


def zone_of_99_hours(folder: Path) -> None:
    text = git(folder, "cat-file", "commit", "main").replace(" +0000", " +9999")
    set_main(folder, literal(folder, "commit", text.encode()))


def year_1970(folder: Path) -> None:
    text = f"tree {git(folder, 'rev-parse', 'main^{tree}')}parent {tip(folder)}\n"
    who = "A <a@example.invalid> 0 +0000\n"
    set_main(folder, literal(folder, "commit", f"{text}author {who}committer {who}\nx\n".encode()))


def tag_of_a_file(folder: Path) -> None:
    git(folder, "tag", "stage/note", blob(folder))
    git(folder, "tag", "-a", "-m", "x", "handover/7", blob(folder))


def tag_of_a_folder(folder: Path) -> None:
    git(folder, "tag", "stage/tree", "main^{tree}")


def tag_of_tags(folder: Path) -> None:
    git(folder, "tag", "-a", "-m", "x", "t0", "main")
    for number in range(12):
        git(folder, "tag", "-a", "-m", "x", f"t{number + 1}", f"t{number}")
    git(folder, "tag", "stage/deep", "t12")


def tag_named_as_a_number(folder: Path) -> None:
    git(folder, "tag", "handover/x1", "main")
    git(folder, "tag", "handover/99999999999999999999", "main")


def main_is_a_tag(folder: Path) -> None:
    git(folder, "tag", "-a", "-m", "x", "t", "main")
    set_main(folder, git(folder, "rev-parse", "t").strip())


def main_is_a_file(folder: Path) -> None:
    set_main(folder, blob(folder))


def main_is_nothing(folder: Path) -> None:
    set_main(folder, "0" * 40)


def main_points_on(folder: Path) -> None:
    git(folder, "branch", "other")
    (folder / ".git/refs/heads/main").write_text("ref: refs/heads/other\n")


def main_points_at_itself(folder: Path) -> None:
    (folder / ".git/refs/heads/main").write_text("ref: refs/heads/main\n")


def main_is_a_folder(folder: Path) -> None:
    (folder / ".git/refs/heads/main").unlink()
    (folder / ".git/refs/heads/main/x").mkdir(parents=True)


def main_is_a_pipe(folder: Path) -> None:
    (folder / ".git/refs/heads/main").unlink()
    os.mkfifo(folder / ".git/refs/heads/main")


def main_is_huge(folder: Path) -> None:
    with (folder / ".git/refs/heads/main").open("wb") as file:
        file.truncate(8 << 30)


def no_commits(folder: Path) -> None:
    shutil.rmtree(folder / ".git")
    git(folder, "init", "-q", "-b", "main")


def only_another_branch(folder: Path) -> None:
    git(folder, "branch", "-m", "main", "trunk")


def head_elsewhere(folder: Path) -> None:
    git(folder, "switch", "-q", "-c", "other")


def head_detached(folder: Path) -> None:
    git(folder, "switch", "-q", "--detach", "HEAD~1")


def no_head(folder: Path) -> None:
    (folder / ".git/HEAD").unlink()


def head_is_a_folder(folder: Path) -> None:
    (folder / ".git/HEAD").unlink()
    (folder / ".git/HEAD").mkdir()


def config_is_a_pipe(folder: Path) -> None:
    (folder / ".git/config").unlink()
    os.mkfifo(folder / ".git/config")


def config_is_huge(folder: Path) -> None:
    with (folder / ".git/config").open("ab") as file:
        file.write(b"# " + b"x" * (40 << 20) + b"\n")


def config_is_a_folder(folder: Path) -> None:
    (folder / ".git/config").unlink()
    (folder / ".git/config").mkdir()


def packed_references_by_the_thousand(folder: Path) -> None:
    held = tip(folder)
    lines = "".join(f"{held} refs/tags/stage/s{number:06}\n" for number in range(20_000))
    (folder / ".git/packed-refs").write_text(
        "# pack-refs with: peeled fully-peeled sorted\n" + lines
    )


def packed_references_that_are_none(folder: Path) -> None:
    (folder / ".git/packed-refs").write_bytes(b"\xff\0\n" * 50)


def index_of_nonsense(folder: Path) -> None:
    (folder / ".git/index").write_bytes(b"DIRC" + b"\xff" * 200)


def index_is_a_folder(folder: Path) -> None:
    (folder / ".git/index").unlink()
    (folder / ".git/index").mkdir()


def a_list_over_packs_of_nonsense(folder: Path) -> None:
    git(folder, "gc", "-q")
    (folder / ".git/objects/pack/multi-pack-index").write_bytes(b"MIDX" + b"\xff" * 400)
    graph = folder / ".git/objects/info/commit-graph"
    graph.parent.mkdir(exist_ok=True)
    graph.unlink(missing_ok=True)  # git makes it read-only, which holds for all but root
    graph.write_bytes(b"CGPH" + b"\xff" * 400)


def a_pack_without_an_index(folder: Path) -> None:
    git(folder, "gc", "-q")
    for path in (folder / ".git/objects/pack").glob("*.idx"):
        path.unlink()


def an_index_without_a_pack(folder: Path) -> None:
    git(folder, "gc", "-q")
    for path in (folder / ".git/objects/pack").glob("*.pack"):
        path.unlink()


def an_empty_pack(folder: Path) -> None:
    (folder / ".git/objects/pack" / f"pack-{'a' * 40}.pack").write_bytes(b"")
    (folder / ".git/objects/pack" / f"pack-{'a' * 40}.idx").write_bytes(b"")


def an_index_that_points_outside(folder: Path) -> None:
    packed, index = raw.pack([raw.whole("blob", b"x")])
    bad = index[:-44] + (0x7FFFFFFF).to_bytes(4, "big") + index[-40:]
    place = folder / ".git/objects/pack" / f"pack-{packed[-20:].hex()}"
    place.with_suffix(".pack").write_bytes(packed)
    place.with_suffix(".idx").write_bytes(bad)


def an_object_is_a_folder(folder: Path) -> None:
    loosen(folder)
    held = tip(folder)
    path = folder / ".git/objects" / held[:2] / held[2:]
    path.unlink()
    path.mkdir()


def an_object_is_a_pipe(folder: Path) -> None:
    loosen(folder)
    held = tip(folder)
    path = folder / ".git/objects" / held[:2] / held[2:]
    path.unlink()
    os.mkfifo(path)


def an_object_is_a_link(folder: Path) -> None:
    loosen(folder)
    held = tip(folder)
    path = folder / ".git/objects" / held[:2] / held[2:]
    path.rename(folder.parent / "object")
    path.symlink_to(folder.parent / "object")


def names_in_capitals_too(folder: Path) -> None:
    on_top(folder, with_line(folder, f"100644 blob {blob(folder)}\tCAR.TOML"))


def a_module(folder: Path) -> None:
    on_top(folder, with_line(folder, f"160000 commit {'1' * 40}\tattachments"))


def git_inside_the_tree(folder: Path) -> None:
    inner = git(folder, "mktree", given=f"100644 blob {blob(folder)}\tconfig\n".encode()).strip()
    rows = raw.tree([("40000", ".git", bytes.fromhex(inner)),
                     ("100644", "car.toml", bytes.fromhex(blob(folder)))])  # fmt: skip
    on_top(folder, literal(folder, "tree", rows))


def a_name_with_a_slash(folder: Path) -> None:
    rows = raw.tree([("100644", "../../x", bytes.fromhex(blob(folder))),
                     ("100644", "car.toml", bytes.fromhex(blob(folder)))])  # fmt: skip
    on_top(folder, literal(folder, "tree", rows))


def a_name_twice(folder: Path) -> None:
    held = bytes.fromhex(blob(folder))
    rows = raw.tree([("100644", "car.toml", held)] * 2)
    on_top(folder, literal(folder, "tree", rows))


def names_out_of_order(folder: Path) -> None:
    held = bytes.fromhex(blob(folder))
    rows = raw.tree([("100644", "car.toml", held), ("100644", "a.txt", held)])
    on_top(folder, literal(folder, "tree", rows))


def car_is_a_link(folder: Path) -> None:
    held = bytes.fromhex(literal(folder, "blob", b"/etc/hostname"))
    on_top(folder, literal(folder, "tree", raw.tree([("120000", "car.toml", held)])))


def car_is_a_folder(folder: Path) -> None:
    inner = git(folder, "rev-parse", "main^{tree}").strip()
    on_top(folder, literal(folder, "tree", raw.tree([("40000", "car.toml", bytes.fromhex(inner))])))


def no_car(folder: Path) -> None:
    on_top(folder, literal(folder, "tree", b""))


def a_tree_that_holds_a_commit(folder: Path) -> None:
    held = bytes.fromhex(tip(folder))
    on_top(folder, literal(folder, "tree", raw.tree([("100644", "car.toml", held)])))


def working_car_is_a_pipe(folder: Path) -> None:
    (folder / "car.toml").unlink()
    os.mkfifo(folder / "car.toml")


def working_car_is_huge(folder: Path) -> None:
    with (folder / "car.toml").open("wb") as file:
        file.truncate(8 << 30)


def working_session_is_a_pipe(folder: Path) -> None:
    os.mkfifo(folder / "dyno/2026-01-07-baseline/pull-2.csv")


def an_unfinished_merge(folder: Path) -> None:
    (folder / ".git/MERGE_HEAD").write_text(tip(folder) + "\n")


def a_lock_of_somebody(folder: Path) -> None:
    (folder / ".git/index.lock").write_text("")
    (folder / ".git/refs/heads/main.lock").write_text("")


def its_own_name_in_the_words(folder: Path) -> None:
    """Two trailers with one key, the second another; a digest that is no digest."""
    text = git(folder, "cat-file", "commit", "main")
    text = text.rstrip("\n") + "\nRecord-sha256: no digest\nStage: stage-9\n"
    set_main(folder, literal(folder, "commit", text.encode()))


CASES: dict[Callable[[Path], None], set[str]] = {
    git_as_a_file: {ELSEWHERE}, git_as_an_empty_folder: {CANNOT}, git_as_a_pipe: {CANNOT},
    a_worktree: {ELSEWHERE}, worktree_setting: {OK}, other_hashes: {CANNOT},
    shallow: {PART}, grafts: {OK}, replacement: {OK},
    references_in_tables: {CANNOT}, promised_objects: {CANNOT}, borrowed_objects: {CANNOT},
    borrowed_over_http: {OK},
    other_encoding: {OK}, unknown_encoding: {OK, BAD}, no_trailers: {OK, BAD},
    no_message: {BAD, OK}, no_author: {BAD}, time_beyond_the_calendar: {BAD},
    zone_of_99_hours: {BAD}, year_1970: {OK, BAD},
    tag_of_a_file: {OK, BAD}, tag_of_a_folder: {OK, BAD}, tag_of_tags: {OK, BAD},
    tag_named_as_a_number: {OK, BAD},
    main_is_a_tag: {BAD}, main_is_a_file: {BAD}, main_is_nothing: {BAD}, main_points_on: {BAD},
    main_points_at_itself: {BAD}, main_is_a_folder: {CANNOT, BAD}, main_is_a_pipe: {CANNOT, BAD},
    main_is_huge: {BAD}, no_commits: {CANNOT}, only_another_branch: {BAD},
    head_elsewhere: {OK}, head_detached: {OK}, no_head: {BAD}, head_is_a_folder: {BAD},
    config_is_a_pipe: {CANNOT}, config_is_huge: {OK, CANNOT}, config_is_a_folder: {CANNOT},
    packed_references_by_the_thousand: {OK, CANNOT}, packed_references_that_are_none: {BAD},
    index_of_nonsense: {OK}, index_is_a_folder: {OK}, a_list_over_packs_of_nonsense: {OK},
    a_pack_without_an_index: {BAD}, an_index_without_a_pack: {BAD}, an_empty_pack: {BAD},
    an_index_that_points_outside: {BAD}, an_object_is_a_folder: {BAD}, an_object_is_a_pipe: {BAD},
    an_object_is_a_link: {OK, BAD}, names_in_capitals_too: {OK, BAD}, a_module: {BAD, OK},
    git_inside_the_tree: {BAD}, a_name_with_a_slash: {BAD}, a_name_twice: {BAD},
    names_out_of_order: {BAD}, car_is_a_link: {BAD}, car_is_a_folder: {BAD}, no_car: {BAD},
    a_tree_that_holds_a_commit: {BAD}, working_car_is_a_pipe: {OK}, working_car_is_huge: {OK},
    working_session_is_a_pipe: {OK}, an_unfinished_merge: {OK}, a_lock_of_somebody: {OK},
    its_own_name_in_the_words: {BAD},
}  # fmt: skip


@pytest.fixture
def in_time() -> Iterator[None]:
    """Nothing here may wait for a pipe that nobody writes."""

    def late(*_: object) -> None:
        raise TimeoutError("it waits")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.skipif(os.name == "nt", reason="pipes and links of this kind are not there")
@pytest.mark.usefixtures("in_time")
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.__name__)
@pytest.mark.one_in(5)
def test_it_is_said_plainly(case: Callable[[Path], None], tmp_path: Path, buildlog: Call) -> None:
    folder = tmp_path / "car"
    usual(folder).close()
    case(folder)
    done = buildlog("verify", folder)
    elsewhere = "is a second work tree of another repository" in done.err
    part = "this clone holds a part of the ledger" in done.err
    first = ELSEWHERE if elsewhere else PART if part else done.out.split(":")[0]
    assert first in CASES[case], (done.out, done.err)
    empty = "nothing is recorded in this ledger yet" in done.out  # not damaged, only not begun
    assert empty == (case is no_commits)
    assert done.status in (
        {3} if empty or elsewhere or part else {5} if first in (BAD, CANNOT) else {0, 1}
    )


@pytest.mark.long
@pytest.mark.skipif(os.name == "nt", reason="pipes and links of this kind are not there")
@pytest.mark.usefixtures("in_time")
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.__name__)
def test_no_other_command_fails_on_it(
    case: Callable[[Path], None], tmp_path: Path, buildlog: Call
) -> None:
    folder = tmp_path / "car"
    usual(folder).close()
    case(folder)
    for call in (["history"], ["show"], ["check"], ["diff"], ["record", "-m", "x"]):
        other = buildlog(*call, "--ledger", folder)
        assert other.status in {0, 1, 2, 3, 4, 5, 6, 7}, (call, other.err)
        assert "Traceback" not in other.err + other.out


@pytest.mark.skipif(shutil.which("git") is None, reason="git judges beside us")
@pytest.mark.parametrize("number", range(10))
@pytest.mark.one_in(5)
def test_verify_and_git_fsck_agree(number: int, tmp_path: Path, buildlog: Call) -> None:
    """D5: where git says that something is damaged, so do we; the other way round we say more."""
    import random

    chance = random.Random(number)
    folder = tmp_path / "car"
    usual(folder).close()
    if number % 2:
        git(folder, "gc", "-q")
    for _ in range(5):
        # not objects/info: a graph of commits is a help that git re-makes, and we never read it
        places = (folder / ".git/objects").glob("[0-9a-p]*/*")
        files = [one for one in places if one.is_file() and one.parent.name != "info"]
        path = chance.choice([one for one in files if one.suffix in ("", ".pack", ".idx")])
        before = path.read_bytes()
        path.chmod(0o644)
        torn = bytearray(before)
        torn[chance.randrange(len(torn))] ^= 1 << chance.randrange(8)
        path.write_bytes(bytes(torn))
        call = ["git", "-C", str(folder), "fsck", "--full", "--strict"]
        theirs = subprocess.run(call, capture_output=True, check=False)
        said_bad = theirs.returncode != 0 or b"error" in theirs.stderr
        ours = buildlog("verify", folder)
        assert not said_bad or ours.status == 5, (path.name, theirs.stderr, ours.out)
        told = buildlog("history", "--ledger", folder)  # it may not come by what is torn
        assert told.status in (0, 5), told.err
        path.write_bytes(before)
    assert buildlog("verify", folder).status == 0


def test_entries_of_ours_and_commits_and_gc_of_gits_in_turns(tmp_path: Path) -> None:
    """R8: our writer beside `git commit`, `gc` and `prune`; nothing is lost, git finds no fault."""
    folder = tmp_path / "car"
    usual(folder).close()
    made: list[str] = [tip(folder)]
    for number in range(12):
        with Ledger.open(folder) as ledger:
            story = _Story(ledger)
            put("car.toml", CAR.replace("1994", str(1960 + number)))(story)
            record(f"ours {number}")(story)
            made.append(tip(folder))
            put("lists/own.toml", f"format = 1\n# {number}\n")(story)
            plain(f"git's {number}")(story)
            made.append(tip(folder))
        git(folder, *(("gc", "-q", "--prune=now") if number % 2 else ("prune", "--expire=now")))
    assert git(folder, "rev-list", "--reverse", "main").split()[-len(made) :] == made
    assert git(folder, "fsck", "--full", "--strict", "--no-dangling") == ""
    assert git(folder, "status", "--short") == ""


class _Story:
    def __init__(self, ledger: Ledger) -> None:
        self.ledger, self.folder = ledger, ledger.folder

    def recorder(self) -> object:
        return next_recorder(self.ledger)

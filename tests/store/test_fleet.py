"""Finding ledgers below folders, and fetching those of a git server into mirrors."""

from __future__ import annotations

import contextlib
import gc
import os
import shutil
import socket
import threading
from collections.abc import Iterator
from http.server import ThreadingHTTPServer
from pathlib import Path

import pytest

from buildlog.errors import InvalidInput, NotFound
from buildlog.store.exchange import fleet, remote
from buildlog.store.exchange.fleet import FleetRemote
from buildlog.store.git.size_limits import SizeLimits
from buildlog.store.ledger.ledger import Ledger
from tests import gitservers
from tests.histories import git, history, put, record, usual


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDLOG_CACHE", str(tmp_path / "cache"))


def test_ledgers_are_found_at_any_depth_and_nothing_inside_them(tmp_path: Path) -> None:
    usual(tmp_path / "shop" / "2026" / "tern").close()
    usual(tmp_path / "shop" / "rook").close()
    usual(tmp_path / "shop" / "rook" / "attachments" / "inner").close()
    (tmp_path / "shop" / "papers").mkdir()
    (tmp_path / "shop" / "papers" / "car.toml").write_text("format = 1\n")
    found = fleet.below([tmp_path / "shop", tmp_path / "shop" / "rook"])
    assert [place.name for place in found] == ["tern", "rook"]


def test_links_are_not_followed(tmp_path: Path) -> None:
    usual(tmp_path / "elsewhere" / "tern").close()
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "link").symlink_to(tmp_path / "elsewhere")
    assert fleet.below([tmp_path / "shop"]) == []


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="does not exist"):
        fleet.below([tmp_path / "nowhere"])


def test_the_tip_is_that_of_plain_git_loose_and_packed(tmp_path: Path) -> None:
    usual(tmp_path / "tern").close()
    loose = fleet.tip(tmp_path / "tern")
    assert loose == git(tmp_path / "tern", "rev-parse", "main").strip()
    git(tmp_path / "tern", "pack-refs", "--all")
    assert not (tmp_path / "tern/.git/refs/heads/main").exists()
    assert fleet.tip(tmp_path / "tern") == loose


def test_a_file_of_remotes() -> None:
    text = """
# the second site
https://git.example.invalid/tern.git
rook = ssh://git@git.example.invalid/cars/rook.git  # the grey one
heron = git@git.example.invalid:cars/heron.git
/srv/cars/wren
"""
    assert fleet.remotes(text, "sites.txt") == [
        FleetRemote("tern.git", "https://git.example.invalid/tern.git"),
        FleetRemote("rook", "ssh://git@git.example.invalid/cars/rook.git"),
        FleetRemote("heron", "git@git.example.invalid:cars/heron.git"),
        FleetRemote("wren", "/srv/cars/wren"),
    ]


@pytest.mark.parametrize(
    "line", ["--upload-pack=touch", "ext::sh -c touch", "just words here", "ssh://-oProxy/x", "a/b"]
)
def test_what_is_no_address_is_refused_with_its_line(line: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        fleet.remotes(f"# one\n{line}\n", "sites.txt")
    assert caught.value.where == "sites.txt, line 2"


def served(folder: Path, target: Path) -> FleetRemote:
    git(folder, "clone", "-q", "--bare", str(folder), str(target))
    return FleetRemote(target.name, str(target))


def test_remotes_are_mirrored_whole_and_brought_up_to_date(tmp_path: Path) -> None:
    with usual(tmp_path / "tern") as ledger:
        remote = served(tmp_path / "tern", tmp_path / "office.git")
        first = fleet.fetch_all([remote], 20)[0]
        assert first.problem is None
        assert first.mirror is not None
        with Ledger.open(first.mirror) as mirror:
            assert [e.id for e in mirror.entries()] == [e.id for e in ledger.entries()]
            for path in ledger.files(ledger.resolve("latest")):
                assert mirror.read(mirror.resolve("latest"), path)
    with history(tmp_path / "more", [put("car.toml", "format = 1\n"), record("other")]):
        pass
    git(tmp_path / "tern", "commit", "-q", "--allow-empty", "-m", "by plain git")
    git(tmp_path / "tern", "push", "-q", str(tmp_path / "office.git"), "main")
    again = fleet.fetch_all([remote], 20)[0]
    assert fleet.tip(again.mirror or tmp_path) == fleet.tip(tmp_path / "tern")
    assert git(again.mirror or tmp_path, "fsck", "--strict") == ""


def test_one_that_is_gone_keeps_what_was_fetched_and_says_why(tmp_path: Path) -> None:
    usual(tmp_path / "tern").close()
    remote = served(tmp_path / "tern", tmp_path / "office.git")
    never = FleetRemote("never", str(tmp_path / "never.git"))
    fleet.fetch_all([remote], 20)
    shutil.rmtree(tmp_path / "office.git")
    gone, nothing = fleet.fetch_all([remote, never], 20)
    assert gone.problem
    assert gone.mirror is not None
    assert fleet.tip(gone.mirror) == fleet.tip(tmp_path / "tern")
    assert nothing.problem


# dulwich's client leaves the socket of a call that was given up to the garbage collector.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_those_that_never_answer_are_waited_for_together_and_hold_up_no_other(
    tmp_path: Path,
) -> None:
    usual(tmp_path / "tern").close()
    good = served(tmp_path / "tern", tmp_path / "office.git")
    with socket.create_server(("127.0.0.1", 0)) as listener, contextlib.ExitStack() as calls:
        taken: list[socket.socket] = []

        def take() -> None:  # three calls, and say nothing
            for _ in range(3):
                taken.append(calls.enter_context(listener.accept()[0]))

        threading.Thread(target=take, daemon=True).start()
        port = listener.getsockname()[1]
        silent = [FleetRemote(f"s{i}", f"git://127.0.0.1:{port}/{i}") for i in range(3)]
        told: list[tuple[str, int]] = []
        found = fleet.fetch_all(
            [*silent, good], 4, lambda one: told.append((one.remote.name, len(taken)))
        )
    assert [one.problem for one in found][-1] is None
    assert all(one.problem for one in found[:-1])
    assert sorted(name for name, _ in told) == ["office.git", "s0", "s1", "s2"]
    assert told[0][0] == "office.git"
    assert {number for _, number in told[1:]} == {3}  # all were on the line when one was given up
    for thread in threading.enumerate():
        if thread is not threading.main_thread():
            thread.join(10)
    gc.collect()


@pytest.fixture(params=["git", "http", "https", "file"])
def address(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[str, Path]]:
    """Each way to a server, git's own programs behind it: its address, and its folder."""
    way = request.param
    if way == "file":
        (tmp_path / "served").mkdir()
        yield f"file://{tmp_path}/served", tmp_path / "served"
        return
    way_in = {"git": gitservers.daemon, "http": plain_http, "https": gitservers.https}[way]
    with way_in(tmp_path) as served:
        if served.certificate:
            monkeypatch.setenv("SSL_CERT_FILE", str(served.certificate))
        yield served.url, served.root


@contextlib.contextmanager
def plain_http(folder: Path) -> Iterator[gitservers.Served]:
    served = gitservers.Served("", folder / "served")
    served.root.mkdir()
    http = ThreadingHTTPServer(("127.0.0.1", 0), gitservers._handler(served))
    served.url = f"http://127.0.0.1:{http.server_address[1]}"
    threading.Thread(target=http.serve_forever, daemon=True).start()
    try:
        yield served
    finally:
        http.shutdown()
        http.server_close()


@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_every_way_to_a_server_gives_the_same_ledgers(
    address: tuple[str, Path], tmp_path: Path
) -> None:
    url, root = address
    usual(tmp_path / "tern").close()
    for name in ("tern", "rook"):
        git(tmp_path, "clone", "-q", "--bare", "tern", str(root / f"{name}.git"))
    wanted = [FleetRemote(name, f"{url}/{name}.git") for name in ("tern", "rook", "gone")]
    *good, gone = fleet.fetch_all(wanted, 20)
    assert [one.problem for one in good] == [None, None]
    assert gone.problem
    assert "\n" not in gone.problem
    assert gone.mirror is None
    for one in good:
        assert fleet.tip(one.mirror or tmp_path) == fleet.tip(tmp_path / "tern")
    git(tmp_path / "tern", "commit", "-q", "--allow-empty", "-m", "by plain git")
    git(tmp_path / "tern", "push", "-q", str(root / "tern.git"), "main")
    again = fleet.fetch_all(wanted[:1], 20)[0]
    assert again.problem is None
    assert fleet.tip(again.mirror or tmp_path) == fleet.tip(tmp_path / "tern")
    assert git(again.mirror or tmp_path, "fsck", "--strict") == ""


def test_one_address_under_two_names_is_fetched_without_a_clash(tmp_path: Path) -> None:
    usual(tmp_path / "tern").close()
    url = served(tmp_path / "tern", tmp_path / "office.git").url
    found = fleet.fetch_all([FleetRemote(f"r{i}", url) for i in range(6)], 20)
    assert [one.problem for one in found] == [None] * 6
    assert len({one.mirror for one in found}) == 1


def endless(connection: socket.socket) -> None:
    """Offers a main, then sends a pack that never ends."""

    def packet(data: bytes) -> bytes:
        return b"%04x" % (len(data) + 4) + data

    with connection, contextlib.suppress(OSError):
        connection.recv(4096)
        name = b"a" * 40 + b" refs/heads/main\0side-band-64k ofs-delta\n"
        connection.sendall(packet(name) + b"0000")
        heard = b""
        while b"done" not in heard:
            heard += connection.recv(4096)
        connection.sendall(packet(b"NAK\n"))
        while True:
            connection.sendall(packet(b"\x01" + b"PACK" * 16_000))


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_server_that_sends_without_end_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remote, "limits", lambda: SizeLimits(all=3_000_000))
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(1)
        url = f"git://127.0.0.1:{listener.getsockname()[1]}/x"
        threading.Thread(target=lambda: endless(listener.accept()[0]), daemon=True).start()
        (found,) = fleet.fetch_all([FleetRemote("endless", url)], 20)
    assert "what the server sends: " in (found.problem or "")
    assert found.mirror is None
    gc.collect()


def test_a_mirror_that_cannot_be_read_is_fetched_anew(tmp_path: Path) -> None:
    usual(tmp_path / "tern").close()
    remote = served(tmp_path / "tern", tmp_path / "office.git")
    (found,) = fleet.fetch_all([remote], 20)
    assert found.mirror is not None
    for pack in (found.mirror / ".git/objects/pack").iterdir():
        pack.chmod(0o644)
        pack.write_bytes(b"torn")
    fleet.forget(found.mirror)
    (found,) = fleet.fetch_all([remote], 20)
    assert found.problem is None
    assert git(found.mirror or tmp_path, "fsck", "--strict") == ""
    fleet.forget(tmp_path / "tern")  # no mirror: it is let be
    assert (tmp_path / "tern" / "car.toml").exists()


def test_fetching_leaves_no_thread_that_keeps_the_program_alive(tmp_path: Path) -> None:
    fleet.fetch_all([FleetRemote("never", str(tmp_path / "never.git"))], 5)
    assert not [
        t for t in threading.enumerate() if t is not threading.main_thread() and not t.daemon
    ]


def test_the_mirrors_lie_in_the_cache_and_take_no_name_from_the_address(tmp_path: Path) -> None:
    place = fleet.mirror(FleetRemote("x", "ssh://host/../../../etc"))
    assert place.parent == Path(os.environ["BUILDLOG_CACHE"]) / "mirrors"

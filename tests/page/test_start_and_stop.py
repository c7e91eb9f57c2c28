"""How `serve` starts and stops: what it says, what it refuses, and that Ctrl-C loses nothing."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import stat
import subprocess
import sys
import time
from contextlib import closing, suppress
from pathlib import Path

import pytest

from buildlog.cli.serve import _lines
from buildlog.errors import UsageError
from buildlog.page.server import open_sockets, serving
from buildlog.page.server.serving import ServeSaid, Serving
from tests.page.served import FORM, Client


def test_a_computer_without_ipv6_starts_and_says_so(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = "This computer has no IPv6: only its addresses of IPv4 are served."
    monkeypatch.setattr(open_sockets, "has_ipv6", lambda: False)
    one = Serving(demo, ServeSaid(port=0))
    assert told in _lines(one, "link")
    one.close()
    monkeypatch.undo()
    if open_sockets.has_ipv6():
        other = Serving(demo, ServeSaid(port=0))
        assert told not in _lines(other, "link")
        other.close()


# An address of each kind: RFC 1918, RFC 4193, RFC 3927 (IANA's special-purpose registries), and two
# that are none of them.
@pytest.mark.parametrize(
    ("address", "world"),
    [("192.168.1.20", False), ("10.4.4.4", False), ("fd00::2", False), ("169.254.3.3", False),
     ("8.8.8.8", True), ("2a00::1", True)],
)  # fmt: skip
def test_an_address_of_the_whole_world_is_refused(
    demo: Path, monkeypatch: pytest.MonkeyPatch, address: str, world: bool
) -> None:
    monkeypatch.setattr(serving, "own_addresses", lambda: [address])
    for said in (ServeSaid(port=0, lan=True), ServeSaid(port=0, lan=True, public=True)):
        if world:
            with pytest.raises(UsageError, match="the whole world reaches"):
                Serving(demo, said)
        else:
            Serving(demo, said).close()
    Serving(demo, ServeSaid(port=0, lan=True, public=True, https=True)).close()


def test_the_start_link_is_opened_through_a_file_that_nobody_else_may_read(demo: Path) -> None:
    with closing(Serving(demo, ServeSaid(port=0))) as one:
        place = one.link_file()
        assert "/enter?key=" in place.read_text()
        if os.name == "posix":
            assert stat.S_IMODE(place.stat().st_mode) == 0o600


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_ctrl_c_loses_nothing_and_waits_for_nobody(demo: Path, tmp_path: Path) -> None:
    """Also while a body stands half sent: it would be waited for without a limit."""
    car = tmp_path / "car"
    shutil.copytree(demo, car)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    call = [sys.executable, "-m", "buildlog", "serve", str(car), "--port", str(port), "--json"]
    process = subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout
    said = ""
    while "/enter?key=" not in said:
        said += process.stdout.readline()
    key = said.partition("/enter?key=")[2].split('"')[0].strip()
    one = Client(f"bl-car.localhost:{port}", port, "car")
    for _ in range(200):
        with suppress(ConnectionError, OSError):
            one.enter(key)
            break
        time.sleep(0.1)
    assert one.act("work", item="paint").json["done"] is True
    with socket.create_connection(("127.0.0.1", port)) as half:
        half.sendall(
            f"POST /car/car/act/work HTTP/1.1\r\nHost: {one.host}\r\nOrigin: http://{one.host}\r\n"
            f"Content-Type: {FORM}\r\nCookie: buildlog={one.secret}\r\nContent-Length: 500\r\n\r\n"
            "item=".encode()
        )
        time.sleep(0.3)
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 0
    assert "paint" in (car / "car.toml").read_text()
    assert "Traceback" not in process.communicate()[1]

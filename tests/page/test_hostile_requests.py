"""What a hostile client sends: cut, refused or shown as text; others are served meanwhile."""

from __future__ import annotations

import datetime as dt
import http.client
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from buildlog.page.sent import plain_file_name
from buildlog.page.server import body_limits, header_limits
from buildlog.page.server.open_sockets import Connections
from tests.page.served import PNG, Client, Served, raw, served
from tests.page.taps import open_items, tapped

HTML = '<script>alert(1)</script><img src=x onerror="alert(2)">\'"&<'
DOTS = ("../../etc/passwd", "..", "..\\..\\x", "/etc/passwd", "C:\\x", "a\0b", "‮gnp.exe", "con")


def head(one: Client, path: str, *more: str) -> bytes:
    lines = [f"POST {path} HTTP/1.1", f"Host: {one.host}", f"Origin: http://{one.host}",
             f"Cookie: buildlog={one.secret}", "Content-Type: multipart/form-data; boundary=x",
             *more, "", ""]  # fmt: skip
    return "\r\n".join(lines).encode()


def spooled(here: Served) -> list[str]:
    return [str(path) for path in here.serving.spool.rglob("*")]


def test_an_upload_that_says_it_is_too_large_is_not_read(looked_at: Served) -> None:
    one = looked_at.owner()
    told = head(one, one.at("act/photo"), "Content-Length: 10000000000")
    heard = raw(looked_at.serving.port, told + b"--x\r\n" * 100)
    assert heard.startswith(b"HTTP/1.1 413")
    assert b"25 MB is the largest" in heard
    assert spooled(looked_at) == []


def test_an_upload_that_does_not_say_its_size_is_cut_at_25_mb(looked_at: Served) -> None:
    """10 GB chunk by chunk: no more than buffers above the limit is taken."""
    one, sent = looked_at.owner(), 0
    begin = b'--x\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n'
    piece = b"%x\r\n" % (1 << 20) + b"\xff" * (1 << 20) + b"\r\n"
    with socket.create_connection(("127.0.0.1", looked_at.serving.port), timeout=60) as wire:
        wire.sendall(head(one, one.at("act/photo"), "Transfer-Encoding: chunked"))
        wire.sendall(b"%x\r\n" % len(begin) + begin + b"\r\n")
        try:
            while sent < 10_000:
                wire.sendall(piece)
                sent += 1
        except OSError:
            pass
        assert 25 <= sent < 60, "MB"
    until = time.monotonic() + 30
    while spooled(looked_at) and time.monotonic() < until:
        time.sleep(0.05)
    assert spooled(looked_at) == []


def test_a_body_that_stops_half_way_is_ended(
    looked_at: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(body_limits, "_PIECE_SECONDS", 0.3)
    one = looked_at.owner()
    heard = raw(
        looked_at.serving.port, head(one, one.at("act/work"), "Content-Length: 500") + b"--x"
    )
    assert heard.startswith(b"HTTP/1.1 408")
    assert spooled(looked_at) == []


def test_a_body_that_drips_is_ended(looked_at: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """What comes can be read, only slowly: 408, and not the 400 of a form that cannot be read
    (RFC 9110, 15.5.9 and 15.5.1)."""
    monkeypatch.setattr(body_limits, "_AFTER", 0.2)
    one = looked_at.owner()
    with socket.create_connection(("127.0.0.1", looked_at.serving.port), timeout=30) as wire:
        wire.sendall(head(one, one.at("act/work"), "Content-Length: 5000"))
        wire.sendall(b'--x\r\nContent-Disposition: form-data; name="item"\r\n\r\n')
        heard, until = b"", time.monotonic() + 20
        wire.settimeout(0.1)
        while not heard and time.monotonic() < until:
            try:
                wire.sendall(b"-")
                heard = wire.recv(1000)
            except TimeoutError:
                continue
    assert heard.startswith(b"HTTP/1.1 408")


def test_silent_and_half_sent_connections_are_ended_and_others_served(
    looked_at: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(header_limits, "HEADER_SECONDS", 0.5)
    port, open_ = looked_at.serving.port, []
    for text in (b"", b"GET / HTTP/1.1\r\nHos", b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 9) * 3:
        one = socket.create_connection(("127.0.0.1", port), timeout=30)
        one.sendall(text)
        open_.append(one)
    honest = looked_at.owner()
    assert honest.get(honest.at("state")).status == 200
    for one in open_:
        heard = one.recv(1000)
        assert heard in (b"",) or heard.startswith(b"HTTP/1.1 408"), heard
        one.close()


def test_an_endless_header_is_cut(looked_at: Served) -> None:
    heard = raw(looked_at.serving.port, b"GET / HTTP/1.1\r\nX: " + b"a" * 40_000)
    assert heard == b"" or heard.startswith(b"HTTP/1.1 400")


def test_a_kept_connection_has_a_deadline_for_its_next_request(
    looked_at: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(header_limits, "HEADER_SECONDS", 0.5)
    with socket.create_connection(("127.0.0.1", looked_at.serving.port), timeout=30) as wire:
        host = looked_at.stranger().host
        wire.sendall(f"GET /favicon.ico HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())
        assert wire.recv(4000).startswith(b"HTTP/1.1 204")
        wire.sendall(b"GET / HTTP/1.1\r\nHo")
        rest = b""
        while piece := wire.recv(4000):
            rest += piece
    assert rest == b"" or rest.startswith(b"HTTP/1.1 408")


def test_more_connections_than_we_hold_are_closed_and_counted_off_again() -> None:
    some = Connections(per_address=2, in_all=3)
    assert [some.enter("a") for _ in range(3)] == [True, True, False]
    assert [some.enter("b") for _ in range(2)] == [True, False]
    some.leave("a")
    assert some.enter("b")
    assert some.total() == 3


def test_one_address_holds_no_more_than_its_share(looked_at: Served) -> None:
    open_ = [socket.create_connection(("127.0.0.1", looked_at.serving.port), timeout=30)
             for _ in range(40)]  # fmt: skip
    try:
        closed = 0
        for one in open_:
            one.settimeout(0.3)
            try:
                closed += one.recv(1) == b""
            except ConnectionError:
                closed += 1
            except TimeoutError:
                continue
        assert closed >= 40 - 24
    finally:
        for one in open_:
            one.close()
    honest, until = looked_at.owner, time.monotonic() + 20
    while time.monotonic() < until:
        try:
            assert honest().get("/static/page.css").status == 200
            return
        except (OSError, http.client.HTTPException):
            time.sleep(0.1)
    pytest.fail("nobody is served any more")


def test_html_in_every_field_is_text_on_every_sheet(here: Served) -> None:
    one = here.owner()
    for kind, fields in (
        ("fault", {"symptom": HTML, "note": HTML, "cause": HTML}),
        ("work", {"item": HTML, "done": HTML}),
        ("set", {"field:car.name": HTML}),
        ("item", {**one.hidden(one.at("lists/before-dyno"), "act/item"), "answer": "fault",
                  "note": HTML}),
    ):  # fmt: skip
        told = one.act(kind, **{name: value for name, value in fields.items() if name != "act"})
        assert told.status in (200, 422), (kind, told.text)
    for path in ("", "lists/before-dyno", "record", "parts", "history", "fault", "add", "set"):
        page = one.get(one.at(path)).text
        assert "<script>alert" not in page, path
        assert "<img src=x" not in page, path
    back = one.post(one.at("act/fault"), act="a" * 32, symptom="", note=HTML, back=one.at("work"))
    assert back.status == 422
    assert "<script>alert" not in back.text


@pytest.mark.parametrize("name", DOTS)
def test_no_name_from_outside_leads_anywhere(here: Served, name: str) -> None:
    one, above = here.owner(), here.folder.parent
    before = sorted(path for path in above.rglob("*") if ".git" not in path.parts)
    sent = name.replace("\0", "%00")
    answers = [
        one.upload("photo", [("photo", sent, PNG)], caption=name.replace("\0", ""), of=sent),
        one.act("fault", symptom="x", part=sent),
        one.act("part", what=sent, deed="fit", maker="Tolvane", number="1"),
        one.act("item", what=f"{sent}/{sent}", answer="done"),
        one.act("pull-unused", what=f"{sent}/{sent}", why="x"),
        one.act("set", **{f"field:{sent}": "1"}),
        one.act("record", message="x", take=sent),
    ]
    assert {answer.status for answer in answers} <= {200, 400, 404, 422}
    new = {path for path in above.rglob("*") if ".git" not in path.parts} - set(before)
    assert all(path.is_relative_to(here.folder / "attachments") or
               path.is_relative_to(here.folder / "faults") for path in new), new  # fmt: skip
    for path in (f"/static/{sent}", one.at(f"file/{sent}"), one.at(f"lists/{sent}"), f"/{sent}"):
        found = one.get(path.replace("\\", "%5C").replace("‮", "%E2%80%AE").replace(" ", "%20"))
        assert found.status in (400, 404), path


def test_a_plain_name_is_one_that_every_system_takes() -> None:
    for name in (*DOTS, "a/b.csv", "Pull 1.CSV", ".htaccess", "x" * 500 + ".csv", ""):
        found = plain_file_name(name)
        assert found
        assert "/" not in found
        assert ".." not in found
        assert not found.startswith(("-", "."))
        assert len(found) < 100


def test_what_is_no_photo_is_refused_and_nothing_of_it_stays(here: Served) -> None:
    one = here.owner()
    for data in (b"%PDF-1.7", b"<svg onload=alert(1)>", b"\xff\xd8", os.urandom(2000)):
        assert one.upload("photo", [("photo", "a.jpg", data)]).status == 422
    assert spooled(here) == []
    fine = one.upload("photo", [("photo", "../../belt.png", PNG)], of="belt")
    assert fine.json["done"] is True, fine.text
    kept = [path for path in (here.folder / "attachments").rglob("*") if path.suffix == ".png"]
    assert [path.parent.name for path in kept][-1:] == ["belt"]
    assert one.get(one.at(f"file/{kept[-1].relative_to(here.folder / 'attachments')}")).body == PNG


def test_too_many_files_and_fields_and_a_torn_form_are_refused(here: Served) -> None:
    one = here.owner()
    many = one.upload("photo", [("photo", f"{i}.png", PNG) for i in range(5)])
    assert many.status == 400
    fields = {f"field:{i}": "1" for i in range(300)}
    assert one.upload("set", [], **fields).status == 400
    torn = one.send("POST", one.at("act/photo"), b"--x\r\nno form",
                    {"Content-Type": "multipart/form-data; boundary=x"})  # fmt: skip
    assert torn.status in (400, 403)
    for body in ("[]", "{", "nonsense", '"x"'):
        kind = {"Content-Type": "application/json"}
        assert one.send("POST", one.at("act/work"), body, kind).status == 400
    assert spooled(here) == []


def test_a_sent_object_is_a_form_too(here: Served) -> None:
    one = here.owner()
    body = f'{{"token": "{one.token}", "act": "{"b" * 32}", "item": "paint"}}'
    kind = {"Content-Type": "application/json", "Accept": "application/json"}
    assert one.send("POST", one.at("act/work"), body, kind).json["done"] is True


def test_a_wrong_back_leads_to_the_first_sheet(here: Served) -> None:
    one = here.owner()
    for number, back in enumerate(
        ("//x.invalid/", "http://x.invalid", "/\\x.invalid", "/a%0d%0ab")
    ):
        told = one.post(one.at("act/work"), act=f"{number:032}", item=f"paint {number}", back=back)
        assert told.headers.get("Location", told.headers.get("location")) == one.at()


@pytest.mark.parametrize("cars", [1, 5])
def test_twenty_devices_lose_nothing_and_ask_nobody_in_vain(
    demo: Path, tmp_path: Path, cars: int
) -> None:
    """At one list of one car, and of five: each taps items of its own, half of them twice under one
    id, all at the same time; the lists are begun by whoever comes first."""
    names = [f"car-{number}" for number in range(cars)]
    for name in names:
        shutil.copytree(demo, tmp_path / "cars" / name)
    with served(tmp_path / "cars") as here:
        owner = here.owner()
        clients = [here.paired("write", f"D-{number:02}") for number in range(20)]
        items = {name: open_items(replace(owner, slug=name), "before-dyno") for name in names}
        work = [(name, *one) for name in names for one in items[name]]

        def tap(number: int) -> list[str]:
            told = []
            for name, what, old in work[number::20]:
                one, act = replace(clients[number], slug=name), secrets.token_hex(16)
                told += [tapped(one, what, old, act) for _ in range(1 + number % 2)]
            return told

        with ThreadPoolExecutor(20) as pool:
            words = [word for told in pool.map(tap, range(20)) for word in told]
    assert set(words) == {"done"}, words
    for name in names:
        (path,) = (tmp_path / "cars" / name / "checks").glob(f"{dt.date.today()}-before-dyno*")
        assert path.read_text().count('result = "pass"') == len(items[name]), name


def test_as_many_files_may_be_open_as_are_needed_and_never_fewer() -> None:
    """A user may often open 1,024; forty devices at ledgers of fifty packs need more."""
    resource = pytest.importorskip("resource")
    hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    if hard != resource.RLIM_INFINITY and hard < 4096:
        pytest.skip("this user may not open so many")
    code = (
        "import resource, sys\n"
        "from buildlog.page.server.open_sockets import allow_files\n"
        "soft, wanted = map(int, sys.argv[1:])\n"
        "hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]\n"
        "resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))\n"
        "allow_files(wanted)\n"
        "print(resource.getrlimit(resource.RLIMIT_NOFILE)[0])\n"
    )

    def allowed(soft: int, wanted: int) -> int:
        done = subprocess.run(
            [sys.executable, "-c", code, str(soft), str(wanted)],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        return int(done.stdout)

    assert allowed(256, 4096) == 4096
    assert allowed(2048, 1024) == 2048

"""A page that is served for tests: in a thread of this process, or as a process to be killed."""

from __future__ import annotations

import html
import http.client
import json
import re
import secrets
import socket
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from buildlog.page.server.serving import ServeSaid, Serving

FORM = "application/x-www-form-urlencoded"
PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
    "1f15c4890000000d49444154789c6360606060000000050001a5f645400000000049454e44ae426082"
)


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()

    @property
    def json(self) -> dict[str, object]:
        found: dict[str, object] = json.loads(self.body)
        return found


@dataclass
class Client:
    """A browser by hand: one cookie, and any header that a test wants."""

    host: str  # name and port
    port: int
    slug: str = ""
    secret: str = ""
    address: str = "127.0.0.1"
    cookie_name: str = "buildlog"
    token: str = field(default="")

    def send(
        self, method: str, path: str, body: bytes | str | None = None,
        headers: Mapping[str, str | None] | None = None,
    ) -> Answer:  # fmt: skip
        """One request with the headers of an honest browser, unless others are given (None: not
        sent at all)."""
        own: dict[str, str | None] = {"Host": self.host}
        if self.secret:
            own["Cookie"] = f"{self.cookie_name}={self.secret}"
        if method == "POST":
            own |= {"Origin": f"http://{self.host}", "Content-Type": FORM}
        own |= dict(headers or {})
        connection = http.client.HTTPConnection(self.address, self.port, timeout=60)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in own.items():
                if value is not None:
                    connection.putheader(name, value)
            data = body.encode() if isinstance(body, str) else body
            if data is not None:
                connection.putheader("Content-Length", str(len(data)))
            connection.endheaders(data)
            answer = connection.getresponse()
            return Answer(answer.status, dict(answer.getheaders()), answer.read())
        finally:
            connection.close()

    def get(self, path: str, **headers: str | None) -> Answer:
        return self.send("GET", path, headers=headers)

    def post(
        self, path: str, headers: Mapping[str, str | None] | None = None, **fields: str
    ) -> Answer:
        """A form; without a token of its own it carries the session's."""
        return self.send("POST", path, urlencode({"token": self.token, **fields}), headers)

    def act(self, kind: str, act: str | None = None, **fields: str) -> Answer:
        """An act of the car, answered as JSON."""
        told = {"act": act or secrets.token_hex(16), **fields}
        return self.post(self.at(f"act/{kind}"), {"Accept": "application/json"}, **told)

    def upload(self, kind: str, files: list[tuple[str, str, bytes]], **fields: str) -> Answer:
        """The same with files."""
        mark = secrets.token_hex(12)
        told = {"token": self.token, "act": secrets.token_hex(16), **fields}
        parts = [
            f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
            for name, value in told.items()
        ]
        parts += [
            f'--{mark}\r\nContent-Disposition: form-data; name="{name}"; filename="{file}"\r\n'
            f"Content-Type: application/octet-stream\r\n\r\n".encode()
            + data
            + b"\r\n"
            for name, file, data in files
        ]
        kind_of = {"Content-Type": f"multipart/form-data; boundary={mark}",
                   "Accept": "application/json"}  # fmt: skip
        body = b"".join(parts) + f"--{mark}--\r\n".encode()
        return self.send("POST", self.at(f"act/{kind}"), body, kind_of)

    def at(self, path: str = "") -> str:
        return f"/car/{self.slug}/{path}"

    def hidden(self, path: str, action: str, mark: str = "") -> dict[str, str]:
        """The hidden fields of a form of a page, by the act that it does."""
        page = self.get(path).text
        for form in re.findall(r"<form.*?</form>", page, re.DOTALL):
            if action in form and mark in form:
                found = re.findall(r'<input type="hidden" name="(.*?)" value="(.*?)">', form)
                return {name: html.unescape(value) for name, value in found}
        raise AssertionError(f"no form of {action} on {path}")

    def enter(self, key: str) -> None:
        """Spend a start link: this client is the owner's browser now."""
        found = self.post("/enter", key=key)
        assert found.status == 303, found.text
        self.take(found)

    def take(self, answer: Answer) -> None:
        """Keep the cookie that came, and read the session's token."""
        from buildlog.page.server.paired_devices import form_token

        cookie = answer.headers.get("Set-Cookie") or answer.headers["set-cookie"]
        self.secret = cookie.split(";")[0].partition("=")[2]
        self.token = form_token(self.secret)


@dataclass
class Served:
    """A page being served."""

    serving: Serving
    folder: Path

    def stranger(self) -> Client:
        """A client that is nobody yet."""
        host = f"{self.serving.name}:{self.serving.port}"
        return Client(host, self.serving.port, next(iter(self.serving.cars.places()), ""))

    def owner(self) -> Client:
        found = self.stranger()
        found.enter(self.serving.devices.start_key())
        return found

    def paired(self, right: str, person: str | None = None, name: str = "a phone") -> Client:
        """A device that was paired with a right."""
        devices, found = self.serving.devices, self.stranger()
        offer, code = devices.offer(name, person, right)
        answer = found.post("/pair", code=code)
        assert answer.status == 200, answer.text
        devices.decide(offer.id, True)
        found.take(answer)
        return found


@contextmanager
def served(folder: Path, said: ServeSaid | None = None) -> Iterator[Served]:
    """A folder served on a port of its own, in a thread."""
    serving = Serving(folder, said or ServeSaid(port=0))
    started = threading.Event()
    thread = threading.Thread(target=serving.run, args=(started.set,), daemon=True)
    thread.start()
    assert started.wait(60)
    try:
        yield Served(serving, folder)
    finally:
        serving.stop()
        thread.join(30)
        assert not thread.is_alive()


def raw(port: int, data: bytes, patience: float = 30.0) -> bytes:
    """What a socket hears back until the server closes it."""
    with socket.create_connection(("127.0.0.1", port), timeout=patience) as one:
        one.sendall(data)
        heard, until = b"", time.monotonic() + patience
        while time.monotonic() < until:
            try:
                piece = one.recv(65536)
            except (TimeoutError, ConnectionError):
                break
            if not piece:
                break
            heard += piece
        return heard

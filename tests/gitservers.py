"""Real git servers on this machine's loopback: git's own programs behind https, ssh and git://.

Nothing here stands in for anything: `git http-backend`, `sshd` and `git daemon` are what a
shop's server runs. Each fixture gives a folder for repositories and its address.
"""

from __future__ import annotations

import base64
import contextlib
import datetime as dt
import getpass
import os
import shutil
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

SSHD = shutil.which("sshd") or shutil.which("sshd", path="/usr/sbin:/sbin")
needs_sshd = pytest.mark.skipif(
    SSHD is None or shutil.which("ssh") is None,
    reason="no OpenSSH server here; `apt-get install openssh-server` brings one",
)


@dataclass
class Served:
    """A server: its address, where its repositories lie, and who may do what."""

    url: str
    root: Path
    user: str | None = None
    password: str | None = None
    status: int | None = None  # answered to everything
    asked: list[str] = field(default_factory=list)
    certificate: Path | None = None


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@contextlib.contextmanager
def https(folder: Path) -> Iterator[Served]:
    """`git http-backend` behind TLS with a certificate made for the occasion."""
    root = folder / "served"
    root.mkdir(parents=True)
    key, certificate = _certificate(folder)
    served = Served("", root, certificate=certificate)
    server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(served))
    server.handle_error = lambda *_: None  # type: ignore[method-assign]  # a caller that hangs up
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)
    server.socket = context.wrap_socket(
        server.socket, server_side=True, do_handshake_on_connect=False
    )
    served.url = f"https://localhost:{server.server_address[1]}"
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield served
    finally:
        server.shutdown()
        server.server_close()


def _handler(served: Served) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

        def do_GET(self) -> None:
            served.asked.append(f"{self.command} {self.path}")
            if served.status is not None:
                self._end(served.status)
            elif served.user is not None and not self._may():
                self._end(401, "WWW-Authenticate", 'Basic realm="ledgers"')
            else:
                self._backend()

        do_POST = do_GET

        def _end(self, status: int, *header: str) -> None:
            self.send_response(status)
            if header:
                self.send_header(*header)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def _may(self) -> bool:
            meant = base64.b64encode(f"{served.user}:{served.password}".encode()).decode()
            return self.headers.get("Authorization") == f"Basic {meant}"

        def _backend(self) -> None:
            path, _, query = self.path.partition("?")
            body = self._body()
            done = subprocess.run(
                ["git", "-c", "http.receivepack=true", "http-backend"],
                input=body, capture_output=True, check=False,
                env={
                    "PATH": os.environ["PATH"],
                    "GIT_CONFIG_NOSYSTEM": "1",
                    "GIT_HTTP_EXPORT_ALL": "1",
                    "GIT_PROJECT_ROOT": str(served.root),
                    "GIT_PROTOCOL": self.headers.get("Git-Protocol", ""),
                    "REQUEST_METHOD": self.command,
                    "REMOTE_USER": served.user or "anyone",
                    "PATH_INFO": path,
                    "QUERY_STRING": query,
                    "CONTENT_TYPE": self.headers.get("Content-Type", ""),
                    "CONTENT_LENGTH": str(len(body)),
                    "HTTP_CONTENT_ENCODING": self.headers.get("Content-Encoding", ""),
                },
            )  # fmt: skip
            head, _, rest = done.stdout.partition(b"\r\n\r\n")
            headers = [line.split(": ", 1) for line in head.decode().split("\r\n") if line]
            status = next((value for name, value in headers if name == "Status"), "200 OK")
            self.send_response(int(status.split()[0]))
            for name, value in headers:
                if name != "Status":
                    self.send_header(name, value)
            self.send_header("Content-Length", str(len(rest)))
            self.end_headers()
            self.wfile.write(rest)

        def _body(self) -> bytes:
            if "chunked" not in self.headers.get("Transfer-Encoding", ""):
                return self.rfile.read(int(self.headers.get("Content-Length", 0)))
            parts = []
            while size := int(self.rfile.readline().split(b";")[0], 16):
                parts.append(self.rfile.read(size))
                self.rfile.readline()
            self.rfile.readline()
            return b"".join(parts)

    return Handler


def _certificate(folder: Path) -> tuple[Path, Path]:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "localhost")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=2))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    places = folder / "key.pem", folder / "certificate.pem"
    form = serialization.PrivateFormat.PKCS8
    plain = serialization.NoEncryption()
    places[0].write_bytes(key.private_bytes(serialization.Encoding.PEM, form, plain))
    places[1].write_bytes(made.public_bytes(serialization.Encoding.PEM))
    return places


@contextlib.contextmanager
def daemon(folder: Path) -> Iterator[Served]:
    """`git daemon`, which lets anybody write."""
    root, port = folder / "served", free_port()
    root.mkdir(parents=True)
    process = subprocess.Popen(
        ["git", "daemon", "--export-all", "--enable=receive-pack", f"--base-path={root}",
         "--listen=127.0.0.1", f"--port={port}", "--reuseaddr", str(root)],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env={"PATH": os.environ["PATH"], "GIT_CONFIG_NOSYSTEM": "1"}, start_new_session=True,
    )  # fmt: skip
    try:
        _wait_for(port)
        yield Served(f"git://127.0.0.1:{port}", root)
    finally:
        _stop(process)


@contextlib.contextmanager
def sshd(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    """A real sshd for this user, and an `ssh` on the path that knows its key and ours."""
    assert SSHD is not None
    root, port = folder / "served", free_port()
    root.mkdir(parents=True)
    for name in ("host", "user"):
        subprocess.run(
            ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(folder / name)], check=True
        )
    shutil.copy(folder / "user.pub", folder / "authorized")
    host_key = (folder / "host.pub").read_text().split()[:2]
    (folder / "known").write_text(f"[127.0.0.1]:{port} {' '.join(host_key)}\n")
    (folder / "sshd_config").write_text(
        f"Port {port}\nListenAddress 127.0.0.1\nHostKey {folder}/host\nPidFile none\n"
        f"AuthorizedKeysFile {folder}/authorized\nStrictModes no\nUsePAM no\n"
        "PasswordAuthentication no\nKbdInteractiveAuthentication no\n"
        "AcceptEnv GIT_PROTOCOL\nPermitRootLogin yes\n"
    )
    if os.geteuid() == 0:
        Path("/run/sshd").mkdir(exist_ok=True)  # its privilege separation wants it
    process = subprocess.Popen(
        [SSHD, "-D", "-f", str(folder / "sshd_config")],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    program = folder / "bin/ssh"
    program.parent.mkdir()
    real = shutil.which("ssh")
    program.write_text(
        f"#!/bin/sh\nexec {real} -F none -o UserKnownHostsFile={folder}/known "
        f'-o GlobalKnownHostsFile=none -o IdentitiesOnly=yes -i {folder}/user "$@"\n'
    )
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{program.parent}:{os.environ['PATH']}")
    monkeypatch.delenv("SSH_AUTH_SOCK", raising=False)
    try:
        _wait_for(port)
        yield Served(f"ssh://{getpass.getuser()}@127.0.0.1:{port}", root)
    finally:
        _stop(process)


def _wait_for(port: int) -> None:
    until = time.monotonic() + 120
    while time.monotonic() < until:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
            return
        time.sleep(0.05)
    raise AssertionError("the server did not start")


def _stop(process: subprocess.Popen[bytes]) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, 15)
    process.wait(120)

"""Start and stop: what is bound, under which names, and what is printed once."""

from __future__ import annotations

import contextlib
import hashlib
import ipaddress
import logging
import shutil
import signal
import socket
import ssl
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn

from buildlog.desk.snapshot import state_files
from buildlog.errors import NotFound, UsageError
from buildlog.page.cars import Cars, address_word
from buildlog.page.customer_links import CustomerLinks
from buildlog.page.server.addresses import takes_files
from buildlog.page.server.body_limits import BodyLimits
from buildlog.page.server.header_limits import LimitedProtocol
from buildlog.page.server.open_sockets import (
    Connections,
    allow_files,
    listening,
    own_addresses,
)
from buildlog.page.server.page_app import PageApp, Served
from buildlog.page.server.paired_devices import HOURS_HTTP, HOURS_HTTPS, Devices

PORT = 8437
_HANDSHAKE_SECONDS = 5.0  # 500 connections without one held 152 MB for a minute
_LARGEST_HEADER = 16 * 1024
_FILES = 4096  # open at once: sockets, and each pack of each ledger that is being read


@dataclass(frozen=True)
class ServeSaid:
    """How the page is served."""

    port: int = PORT
    lan: bool = False
    public: bool = False
    https: bool = False


class Serving:
    """A folder served: bound, with its start link; `run` serves until it is stopped."""

    def __init__(self, folder: Path, said: ServeSaid) -> None:
        if not folder.is_dir():
            hint = "name a ledger, or a folder of ledgers"
            raise NotFound(f"the folder {folder} does not exist", hint=hint)
        self.cars = Cars(folder)
        self.cars.places()  # a folder without any car is refused, if it cannot be read
        self.said = said
        self.name = f"bl-{address_word(self.cars.folder)}.localhost"
        others = [*own_addresses(), *_own_names()] if said.lan else []
        _refuse_public(others, said)
        self._sockets = listening(said.port, said.lan, Connections())
        self.port: int = self._sockets[0].getsockname()[1]
        self.others = others
        self.ipv6 = any(one.family == socket.AF_INET6 for one in self._sockets)
        self._state = state_files.folder("page")
        self.spool = self._state / f"spool-{self.port}"
        shutil.rmtree(self.spool, ignore_errors=True)  # of a server that died; the port is ours
        self.spool.mkdir(mode=0o700)
        mark = hashlib.sha256(str(self.cars.folder).encode()).hexdigest()[:16]
        hours = HOURS_HTTPS if said.https else HOURS_HTTP
        self.devices = Devices(self._state / f"devices-{mark}-{self.port}.json", hours)
        self.links = CustomerLinks(self._state / f"links-{mark}-{self.port}.json")
        self._ssl, self.authority = self._secured()
        self._server: _Server | None = None

    def _secured(self) -> tuple[ssl.SSLContext | None, Path | None]:
        if not self.said.https:
            return None, None
        from buildlog.page.server.own_certificate import certificate

        names = [self.name, "localhost", "127.0.0.1", "::1", *self.others]
        made = certificate(state_files.folder("page"), list(dict.fromkeys(names)))
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.load_cert_chain(made.chain, made.key)
        return context, made.authority

    @property
    def scheme(self) -> str:
        return "https" if self.said.https else "http"

    @property
    def address(self) -> str:
        """Where this computer's own browser goes: a name of its own, as cookies know no ports."""
        return f"{self.scheme}://{self.name}:{self.port}"

    @property
    def lan_addresses(self) -> list[str]:
        """Where the workshop's devices go, the likeliest first."""
        return [f"{self.scheme}://{_bracketed(one)}:{self.port}" for one in self.others]

    @property
    def hosts(self) -> frozenset[str]:
        """The only names that are answered to."""
        names = [self.name, "127.0.0.1", "::1", *self.others]
        return frozenset(f"{_bracketed(one)}:{self.port}".casefold() for one in names)

    def start_link(self) -> str:
        """A new one-use link for this computer's browser."""
        return f"{self.address}/enter?key={self.devices.start_key()}"

    def link_file(self) -> Path:
        """A page that leads to a new start link, for a browser that is opened: no other user may
        read it, and no list of processes shows it."""
        place = self._state / f"start-{self.port}.html"
        link = self.start_link()
        text = (
            f'<!doctype html><meta charset="utf-8"><title>buildlog</title>'
            f'<meta http-equiv="refresh" content="0;url={link}"><p><a href="{link}">Go on</a></p>'
        )
        state_files.write(place, text.encode())
        return place

    def facts(self, link: str) -> dict[str, Any]:
        """Where it is reached, for who starts it from a program."""
        return {
            "folder": str(self.cars.folder),
            "address": self.address,
            "start": link,
            "lan": self.lan_addresses,
            "authority": str(self.authority) if self.authority else None,
        }

    def app(self) -> BodyLimits:
        """The application with its limits."""
        served = Served(
            self.cars,
            self.devices,
            self.hosts,
            self.spool,
            self.links,
            self.said.https,
            self.authority,
        )
        return BodyLimits(PageApp(served), takes_files)

    def run(self, started: Callable[[], None] | None = None) -> None:
        """Serve until Ctrl-C or a signal to end; whatever was answered as saved is on the disk."""
        before, tempfile.tempdir = tempfile.tempdir, str(self.spool)
        logging.getLogger("uvicorn").addHandler(logging.NullHandler())
        logging.getLogger("uvicorn").propagate = False
        allow_files(_FILES)
        self._server = _Server(_config(self.app()), self._ssl, started)
        if not self.cars.alone:
            self.cars.shop.begin()
        try:
            self._server.run(sockets=self._sockets)
        finally:
            tempfile.tempdir = before
            shutil.rmtree(self.spool, ignore_errors=True)
            (self._state / f"start-{self.port}.html").unlink(missing_ok=True)
            self.close()

    def stop(self) -> None:
        """End `run`, from another thread: what is being answered is answered first."""
        if self._server:
            self._server.should_exit = True

    def close(self) -> None:
        self.cars.close()
        for one in self._sockets:
            one.close()


def _config(app: Any) -> uvicorn.Config:
    return uvicorn.Config(
        app, http=LimitedProtocol, h11_max_incomplete_event_size=_LARGEST_HEADER, ws="none",
        lifespan="off", loop="asyncio", proxy_headers=False, server_header=False,
        access_log=False, backlog=64, timeout_keep_alive=5, timeout_graceful_shutdown=3,
        log_config=None, log_level="critical",
    )  # fmt: skip


class _Server(uvicorn.Server):
    """uvicorn's, with a limit on handshakes, and without raising the signal that ended it again."""

    def __init__(
        self, config: uvicorn.Config, context: ssl.SSLContext | None,
        started: Callable[[], None] | None,
    ) -> None:  # fmt: skip
        super().__init__(config)
        self._context, self._told = context, started

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        import asyncio

        await self.lifespan.startup()
        loop = asyncio.get_running_loop()
        secured: dict[str, Any] = {}
        if self._context:
            secured = {"ssl": self._context, "ssl_handshake_timeout": _HANDSHAKE_SECONDS}
        self.servers = [
            await loop.create_server(self._protocol, sock=one, backlog=64, **secured)
            for one in sockets or []
        ]
        self.started = True
        if self._told:
            self._told()

    def _protocol(self) -> LimitedProtocol:
        return LimitedProtocol(self.config, self.server_state, self.lifespan.state)

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        handled = (signal.SIGINT, signal.SIGTERM)
        before = {one: signal.signal(one, self.handle_exit) for one in handled}
        try:
            yield
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def _own_names() -> Sequence[str]:
    """What this computer is called in a network."""
    name = socket.gethostname().split(".")[0].casefold()
    plain = name.replace("-", "").isalnum() and name.isascii()
    return [name, f"{name}.local"] if plain and name != "localhost" else []


def _refuse_public(names: Sequence[str], said: ServeSaid) -> None:
    """UsageError for an address that the whole world reaches."""
    for name in names:
        try:
            world = ipaddress.ip_address(name).is_global
        except ValueError:
            continue
        if world and not (said.public and said.https):
            raise UsageError(
                f"{name} is an address that the whole world reaches",
                why="the page is made for the devices of one workshop",
                hint="serve in a private network; or --public with --make-certificate, behind a "
                "firewall of your own",
            )

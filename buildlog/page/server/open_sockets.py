"""The listening sockets: both loopbacks or a network, and no more connections than we can hold.

Connections are counted where they are accepted, before a handshake or a byte was read: what is
counted later can be held open for nothing.
"""

from __future__ import annotations

import errno
import os
import socket
import threading
from collections import Counter
from collections.abc import Sequence
from typing import Any

from buildlog.errors import UsageError

PER_ADDRESS, IN_ALL = 24, 300


class Connections:
    """How many connections are open, by address; shared by all sockets of a server."""

    def __init__(self, per_address: int = PER_ADDRESS, in_all: int = IN_ALL) -> None:
        self._most = per_address, in_all
        self._lock = threading.Lock()
        self._open: Counter[str] = Counter()

    def enter(self, address: str) -> bool:
        """Count one more; False where there are too many."""
        with self._lock:
            if self._open[address] >= self._most[0] or self._open.total() >= self._most[1]:
                return False
            self._open[address] += 1
            return True

    def leave(self, address: str) -> None:
        with self._lock:
            self._open[address] -= 1
            self._open += Counter()  # those of none are forgotten

    def total(self) -> int:
        with self._lock:
            return self._open.total()


class _Counted(socket.socket):
    """A connection that is counted until it is closed."""

    _left: tuple[Connections, str] | None = None

    def close(self) -> None:
        left, self._left = self._left, None
        super().close()
        if left:
            left[0].leave(left[1])


class CountingSocket(socket.socket):
    """A listening socket that closes at once what is too much."""

    connections: Connections

    def accept(self) -> tuple[socket.socket, Any]:
        handle, address = self._accept()  # type: ignore[attr-defined]
        one = _Counted(self.family, self.type, self.proto, fileno=handle)
        one.setblocking(False)
        if self.connections.enter(address[0]):
            one._left = self.connections, address[0]
        else:
            one.close()
            raise ConnectionAbortedError(errno.ECONNABORTED, "too many connections")
        return one, address


def listening(port: int, lan: bool, connections: Connections) -> list[socket.socket]:
    """The sockets of a port: 127.0.0.1 and ::1, or every address of this computer.

    UsageError where one of them is taken: with 127.0.0.1 alone a stranger on ::1 would get what
    is meant for us. A computer without IPv6 gets the first alone.
    """
    hosts = ("0.0.0.0", "::") if lan else ("127.0.0.1", "::1")
    found: list[socket.socket] = []
    try:
        for host, family in zip(hosts, (socket.AF_INET, socket.AF_INET6), strict=True):
            if family == socket.AF_INET6 and not has_ipv6():
                continue
            bound = _bound(host, port, family, connections)
            found.append(bound)
            port = port or bound.getsockname()[1]
    except OSError as error:
        for one in found:
            one.close()
        if error.errno in (errno.EADDRINUSE, errno.EACCES):
            raise _taken(port, error.errno) from error
        raise
    return found


def has_ipv6() -> bool:
    """Whether this computer has the loopback of IPv6."""
    if not socket.has_ipv6:
        return False
    try:
        with socket.socket(socket.AF_INET6, socket.SOCK_STREAM) as probe:
            probe.bind(("::1", 0))
    except OSError:
        return False
    return True


def _bound(host: str, port: int, family: int, connections: Connections) -> CountingSocket:
    one = CountingSocket(family, socket.SOCK_STREAM)
    try:
        if os.name == "nt":
            one.setsockopt(socket.SOL_SOCKET, getattr(socket, "SO_EXCLUSIVEADDRUSE"), 1)  # noqa: B009
        else:
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            one.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        one.bind((host, port))
        one.connections = connections
    except BaseException:
        one.close()
        raise
    return one


def _taken(port: int, why: int) -> UsageError:
    what = "is taken by another program" if why == errno.EADDRINUSE else "may not be used"
    return UsageError(
        f"port {port} {what}",
        why="phones that were paired, and what waits in them, belong to this port",
        hint="stop the other program, or name a port with --port and pair the phones anew",
    )


def own_addresses() -> Sequence[str]:
    """The addresses of this computer in its networks, as others may reach it."""
    found: dict[str, None] = {}
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        try:  # no packet goes: connecting a datagram socket only chooses the way
            with socket.socket(family, socket.SOCK_DGRAM) as probe:
                probe.connect((far, 9))
                found[probe.getsockname()[0]] = None
        except OSError:
            continue
    try:
        for one in socket.getaddrinfo(socket.gethostname(), None, type=socket.SOCK_STREAM):
            found[str(one[4][0])] = None
    except OSError:
        pass
    return [one for one in found if "%" not in one and not one.startswith(("127.", "::1"))]


def allow_files(wanted: int) -> None:
    """Let this process open so many files, or as many as its user may let it; never fewer than
    now. Windows has no such limit of its own."""
    try:
        import resource
    except ImportError:
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard != resource.RLIM_INFINITY:
        wanted = min(wanted, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))

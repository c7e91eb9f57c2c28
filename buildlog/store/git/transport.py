"""How a git server is reached: over ssh by the computer's own `ssh`, over https by dulwich.

Nothing waits for ever, nothing asks where nobody can answer, and whatever goes wrong
between two computers becomes one sentence that says what to do.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, TypeVar
from urllib.parse import unquote, urlsplit, urlunsplit

from buildlog.errors import BuildlogError, DiskError, NotFound, TrustError, UsageError

CONNECT, SILENCE = 20.0, 300.0  # seconds to wait for a connection, and for the next byte
_TRIES = 3  # passwords that are asked for

Ask = Callable[[str, str | None], tuple[str, str] | None]  # host, user -> user, password
_Result = TypeVar("_Result")

# What ssh, git, TLS and HTTP say, in the order to look for it -> what is meant.
_TOLD: tuple[tuple[str, type[BuildlogError], str, str], ...] = (
    ("host key verification failed|host identification has changed|no .* host key is known",
     TrustError, "the server's host key is not the one that is known here",
     "ask who keeps the server for its fingerprint, then connect once by hand with ssh"),
    ("certificate", TrustError, "the server's certificate is not trusted here",
     "a certificate of your own is named by SSL_CERT_FILE=its.pem; never go on without"),
    ("permission denied|authentication failed|too many authentication|http resp 403",
     DiskError, "the server does not let you in with this name and key or password",
     "ask who keeps the server; over ssh, `ssh-add -l` lists the keys that were offered"),
    ("not appear to be a git repo|notgitrepository|no such file|repository not found",
     NotFound, "there is no repository at this place on the server",
     "make one there with `git init --bare -b main NAME.git`, or look at the address"),
    ("resolve|name or service not known|nodename nor servname|temporary failure in name",
     DiskError, "no computer of this name is known", "look at the address and at the network"),
    ("refused", DiskError, "the computer is there, but no server answers at this address",
     "look at the port, and ask who keeps the server whether it runs"),
    ("timed? ?out|no route to host|unreachable",
     DiskError, "the server does not answer in time", "look at the network, then do it again"),
)  # fmt: skip


class ServerLine:
    """A way to one repository. `attended`: a person sits here, whom ssh may ask."""

    def __init__(self, url: str, ask: Ask | None = None, *, attended: bool = False) -> None:
        self.ask, self.attended = ask, attended
        self.address, self.user, self.password = _split(url)
        self.where = self.address

    def speak(self, talk: Callable[[Any, str], _Result]) -> _Result:
        """Let `talk` speak with a fresh client about a place; asks for a password if one is due."""
        from dulwich.client import HTTPUnauthorized

        for _ in range(1 + _TRIES):
            try:
                return self._once(talk)
            except HTTPUnauthorized:
                host = urlsplit(self.address).hostname or self.address
                answer = self.ask(host, self.user) if self.ask else None
                if answer is None or answer == (self.user, self.password):
                    break
                self.user, self.password = answer
        raise DiskError(
            "the server asks for a name and a password, and those given are not the right ones"
            if self.password
            else "the server asks for a name and a password",
            where=self.where,
            hint="write the name as https://NAME@..., and the password when asked, or in "
            "BUILDLOG_SYNC_PASSWORD where nobody can be asked",
        )

    def _once(self, talk: Callable[[Any, str], _Result]) -> _Result:
        from dulwich.client import HTTPUnauthorized

        started: list[Any] = []
        try:
            client, place = self._client()
            if hasattr(client, "ssh_vendor"):
                client.ssh_vendor = _noted(client.ssh_vendor, started)
            return talk(client, place)
        except (BuildlogError, HTTPUnauthorized):
            raise
        except Exception as error:
            raise self._sentence(error) from error
        finally:
            for one in started:  # dulwich leaves the process of a failed connection unattended
                one.proc.terminate()
                one.close()

    def _client(self) -> tuple[Any, str]:
        from dulwich.client import get_transport_and_path
        from dulwich.config import ConfigFile

        return get_transport_and_path(
            self.address, config=ConfigFile(), thin_packs=False, quiet=True, **self._more()
        )

    def _more(self) -> dict[str, Any]:
        if self.address.startswith("https://"):
            pool = _pool(self.address)
            return {"username": self.user, "password": self.password, "pool_manager": pool}
        return {"ssh_command": _ssh(attended=self.attended)}

    def _sentence(self, error: Exception) -> BuildlogError:
        told = f"{type(error).__name__}: {error}"
        for pattern, kind, what, hint in _TOLD:
            if re.search(pattern, told, re.IGNORECASE):
                return kind(what, where=self.where, hint=f"{hint}; nothing was lost")
        return DiskError(
            f"the server could not be spoken to ({told})"[:240],
            where=self.where,
            hint="see that `git ls-remote` reaches it; nothing was lost, do it again later",
        )


def _split(url: str) -> tuple[str, str | None, str | None]:
    """An address without what nobody else should read, the user and the password of https."""
    if "://" not in url:
        return url, None, None
    parts = urlsplit(url)
    if parts.scheme != "https":
        if parts.password is not None:
            raise UsageError(
                "a password in an ssh address is not used", hint="ssh asks for it, or use a key"
            )
        return url, None, None
    place = parts.netloc.rpartition("@")[2]
    user, password = (
        unquote(x) if x is not None else None for x in (parts.username, parts.password)
    )
    return urlunsplit(parts._replace(netloc=place)), user or None, password


def _ssh(*, attended: bool) -> str:
    """Where there is nobody to answer, ssh fails instead of asking."""
    options = [f"ConnectTimeout={CONNECT:.0f}", "ServerAliveInterval=20", "ServerAliveCountMax=6"]
    return " ".join(
        ["ssh", *(f"-o {one}" for one in [*options, *["BatchMode=yes"] * (not attended)])]
    )


def _noted(vendor: Any, started: list[Any]) -> Any:
    """The same way to start ssh; every process it starts is noted."""
    run = vendor.run_command

    def run_command(*arguments: Any, **named: Any) -> Any:
        started.append(run(*arguments, **named))
        return started[-1]

    vendor.run_command = run_command
    return vendor


def _pool(address: str) -> Any:
    """dulwich's own pool (which honours the proxy of the environment), but patient only so far,
    and never led away from https."""
    from dulwich.client import default_urllib3_manager
    from dulwich.config import ConfigFile
    from urllib3.util import Retry, Timeout

    pool: Any = default_urllib3_manager(ConfigFile(), base_url=address)
    connect = pool.connection_from_host

    def encrypted(host: str, port: int | None = None, scheme: str = "http", **more: Any) -> Any:
        if scheme != "https":
            raise TrustError(
                "the server leads from https to an address that is not encrypted",
                where=address, hint="ask who keeps the server; nothing was sent there",
            )  # fmt: skip
        return connect(host, port, scheme, **more)

    pool.connection_from_host = encrypted
    kw = pool.connection_pool_kw
    kw["timeout"] = Timeout(connect=CONNECT, read=SILENCE)
    kw["retries"] = Retry(connect=0, read=0, other=0, redirect=3)
    return pool

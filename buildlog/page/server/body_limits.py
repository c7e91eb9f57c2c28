"""The wrapper around the application: how much a body may hold and how long it may take.

Bytes are counted as they come, chunked ones too. Whatever the application does with the error that
ends its reading is swallowed; the client gets our own sentence, and the connection ends.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[MutableMapping[str, Any], Receive, Send], Awaitable[None]]

UPLOAD = 25 * 1024 * 1024 + 64 * 1024  # a file of 25 MB and what a form says of it
PLAIN = 64 * 1024
SPOOL = 200 * 1024 * 1024  # bodies of all that are being read
_PIECE_SECONDS, _ALL_SECONDS = 15.0, 120.0
_SLOWEST, _AFTER = 16 * 1024, 10.0  # bytes a second on average, once so many seconds have gone
_DRAINED, _DRAIN_SECONDS = 4 * 1024 * 1024, 2.0  # read on, so that a browser shows the sentence

SENTENCES = {
    400: "This request cannot be read.",
    408: "This took too long to arrive; nothing was written. Send it again.",
    413: "This is too large: 25 MB is the largest file. Nothing was written.",
    503: "Too much is being sent at this moment. Nothing was written; send it again.",
}


class BodyCut(Exception):
    """A body was cut off, with the status that says why."""

    def __init__(self, status: int) -> None:
        super().__init__(status)
        self.status = status


class BodyLimits:
    """An application whose requests hold no more than they may."""

    def __init__(self, app: App, takes_files: Callable[[str], bool]) -> None:
        self._app = app
        self._takes_files = takes_files
        self._spooled = 0

    async def __call__(self, scope: MutableMapping[str, Any], receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        most = UPLOAD if self._takes_files(scope["path"]) else PLAIN
        body = _Body(self, receive, most)
        answer = _Answer(send, body)
        try:
            body.refuse_announced(scope["headers"])
            await self._app(scope, body.receive, answer.send)
        except BodyCut:
            pass
        except Exception:
            if body.cut is None:
                raise
        finally:
            self._spooled -= body.taken
        if body.cut is not None and not answer.begun:
            await body.drain()
            await refuse(send, body.cut)

    def spool(self, size: int) -> bool:
        """Count bytes that are held; False where all bodies together are too much."""
        self._spooled += size
        return self._spooled <= SPOOL


class _Body:
    def __init__(self, limits: BodyLimits, receive: Receive, most: int) -> None:
        self._limits, self._receive, self._most = limits, receive, most
        self._began = time.monotonic()
        self.taken = 0
        self.cut: int | None = None
        self._whole = False

    def refuse_announced(self, headers: list[tuple[bytes, bytes]]) -> None:
        """BodyCut what says of itself that it is too large, or says it in two ways."""
        lengths = [value for name, value in headers if name == b"content-length"]
        chunked = any(name == b"transfer-encoding" for name, _ in headers)
        if len(lengths) > 1 or (lengths and chunked) or not all(map(bytes.isdigit, lengths)):
            self._stop(400)
        if lengths and int(lengths[0][:20]) > self._most:
            self._stop(413)

    async def receive(self) -> Message:
        if self.cut is not None:
            raise BodyCut(self.cut)
        if self._whole:  # the application waits for the client to leave
            return await self._receive()
        left = self._began + _ALL_SECONDS - time.monotonic()
        try:
            message = await asyncio.wait_for(self._receive(), max(0.01, min(_PIECE_SECONDS, left)))
        except TimeoutError:
            self._stop(408)
        self._count(message)
        return message

    def _count(self, message: Message) -> None:
        size = len(message.get("body", b""))
        self.taken += size
        self._whole = not message.get("more_body", False)
        gone = time.monotonic() - self._began
        fits = self._limits.spool(size)
        if self.taken > self._most:
            self._stop(413)
        if not fits:
            self._stop(503)
        if not self._whole and gone > _AFTER and self.taken < _SLOWEST * gone:
            self._stop(408)

    def _stop(self, status: int) -> None:
        self.cut = status
        raise BodyCut(status)

    async def drain(self) -> None:
        """Read on for a moment: a browser that still sends would not show what we say."""
        until, left = time.monotonic() + _DRAIN_SECONDS, _DRAINED
        while not self._whole and left > 0 and (wait := until - time.monotonic()) > 0:
            try:
                message = await asyncio.wait_for(self._receive(), wait)
            except TimeoutError:
                return
            left -= len(message.get("body", b""))
            self._whole = message["type"] != "http.request" or not message.get("more_body", False)


class _Answer:
    """What the application says; after a cut it is not heard any more."""

    def __init__(self, send: Send, body: _Body) -> None:
        self._send, self._body = send, body
        self.begun = False

    async def send(self, message: Message) -> None:
        if self._body.cut is not None and not self.begun:
            return
        self.begun = True
        await self._send(message)


async def refuse(send: Send, status: int, sentence: str | None = None) -> None:
    """One plain sentence, and the connection ends."""
    text = (sentence or SENTENCES[status]).encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(text)).encode()),
        (b"cache-control", b"no-store"),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": text})

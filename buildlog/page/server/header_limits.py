"""The protocol class given to uvicorn: how long a header may take, and a reader that takes nothing.

A wrapper around the application is first called when a header is complete; silent connections and
endless headers never reach it.
"""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEADER_SECONDS = 10.0  # from connecting, or from a next request's first byte, to the header's end
STALLED_SECONDS = 30.0  # a reader that takes nothing
_LATE = b"HTTP/1.1 408 Request Timeout\r\nConnection: close\r\nContent-Length: 0\r\n\r\n"


class LimitedProtocol(H11Protocol):
    """uvicorn's own, with a deadline for each header and for whoever reads nothing."""

    _deadline: asyncio.TimerHandle | None = None
    _stalled: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._arm()

    def connection_lost(self, exc: Exception | None) -> None:
        self._disarm()
        self.resume_writing()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        if self._deadline is None and self.conn.their_state is h11.IDLE:
            self._arm()  # the first byte of a next request
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._disarm()

    def on_response_complete(self) -> None:
        super().on_response_complete()
        if self.conn.trailing_data[0]:  # a next request has begun already
            self._arm()

    def pause_writing(self) -> None:
        super().pause_writing()
        self._stalled = self.loop.call_later(STALLED_SECONDS, self.transport.abort)

    def resume_writing(self) -> None:
        super().resume_writing()
        if self._stalled is not None:
            self._stalled.cancel()
            self._stalled = None

    def handle_websocket_upgrade(self, event: Any) -> None:
        self.send_400_response("no upgrade")

    def _arm(self) -> None:
        self._disarm()
        self._deadline = self.loop.call_later(HEADER_SECONDS, self._too_late)

    def _disarm(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None

    def _too_late(self) -> None:
        if self.conn.their_state is h11.IDLE and not self.transport.is_closing():
            self.transport.write(_LATE)
            self.transport.close()

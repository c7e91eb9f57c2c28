"""A headless Chromium, driven through its own pipe: no driver, no network, nothing left.

The protocol is the browser's DevTools protocol: JSON messages that end in a zero byte, on
file descriptors 3 (to the browser) and 4 (from it).
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

PATIENCE = 300.0
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def program() -> str | None:
    """The browser, if there is one."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Browser:
    """One page of one browser. `events` holds all that it told of its own accord."""

    def __init__(self, to: int, back: int) -> None:
        self._to, self._back = to, back
        self._rest = b""
        self._number = 0
        self.session: str | None = None
        self.events: list[dict[str, Any]] = []

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Ask for something and wait for the answer."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self.session:
            message["sessionId"] = self.session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer["error"]
                result: dict[str, Any] = answer["result"]
                return result
            self.events.append(answer)

    def wait(self, method: str) -> None:
        """Wait until the browser tells of something."""
        while not any(event.get("method") == method for event in self.events):
            self.events.append(self._next())

    def value(self, script: str) -> Any:
        """What a script comes to, promises awaited."""
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True,
                           awaitPromise=True)  # fmt: skip
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def _next(self) -> dict[str, Any]:
        until = time.monotonic() + PATIENCE
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._back], [], [], max(0.0, until - time.monotonic()))
            assert ready, "the browser does not answer"
            data = os.read(self._back, 1 << 20)
            assert data, "the browser has ended"
            self._rest += data
        one, _, self._rest = self._rest.partition(b"\0")
        message: dict[str, Any] = json.loads(one)
        return message


@contextlib.contextmanager
def opened(page: Path, width: int = 1100) -> Iterator[Browser]:
    """A page opened from the disk, with the network switched off."""
    path = program()
    assert path is not None
    out_read, out_write = os.pipe()
    in_read, in_write = os.pipe()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        arguments = [
            path, "--headless", "--disable-gpu", "--disable-quic", "--no-first-run",
            "--disable-background-networking", "--disable-component-update", "--disable-sync",
            "--no-sandbox", "--disable-dev-shm-usage", f"--user-data-dir={profile}",
            "--host-resolver-rules=MAP * ~NOTFOUND", f"--window-size={width},900",
            "--remote-debugging-pipe", "about:blank",
        ]  # fmt: skip
        high = [fcntl.fcntl(one, fcntl.F_DUPFD, 10) for one in (out_read, in_write)]

        def wire() -> None:
            os.dup2(high[0], 3)
            os.dup2(high[1], 4)

        started = subprocess.Popen(
            arguments, preexec_fn=wire, pass_fds=(3, 4), stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        for one in high:
            os.close(one)
        os.close(out_read)
        os.close(in_write)
        try:
            browser = Browser(out_write, in_read)
            targets = browser.call("Target.getTargets")["targetInfos"]
            first = next(one["targetId"] for one in targets if one["type"] == "page")
            attached = browser.call("Target.attachToTarget", targetId=first, flatten=True)
            browser.session = attached["sessionId"]
            for domain in ("Page", "Network", "Runtime", "Log"):
                browser.call(f"{domain}.enable")
            browser.call("Network.emulateNetworkConditions", offline=True, latency=0,
                         downloadThroughput=0, uploadThroughput=0)  # fmt: skip
            browser.call("Page.navigate", url=page.absolute().as_uri())
            browser.wait("Page.loadEventFired")
            yield browser
        finally:
            started.terminate()
            started.wait(timeout=PATIENCE)
            os.close(out_write)
            os.close(in_read)

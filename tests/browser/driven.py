"""The system's Chromium, driven by Playwright, for who taps and looks as a person does."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from tests.browser.chromium import program


@contextmanager
def driven() -> Iterator[Any]:
    """The browser. Without it CI fails; without it or its driver others skip."""
    if program() is None:
        if os.environ.get("CI") == "true":
            pytest.fail("CI has to bring a browser: the package chromium")
        pytest.skip("no browser of the Chromium family is on this computer")
    playwright = pytest.importorskip("playwright.sync_api", reason="the extra [browser]")
    with playwright.sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=program(), args=["--no-sandbox"])
        yield found
        found.close()

"""One served page for all tests that only ask; one for each that writes."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.driven import driven
from tests.page.drawn_screens import unrecorded
from tests.page.served import Served, served


@pytest.fixture(scope="package", autouse=True)
def _state(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What the server keeps of this computer lies where nobody else looks."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("kept")))
        yield


@pytest.fixture(scope="package")
def looked_at(demo: Path) -> Iterator[Served]:
    """The demo's car, served to who only looks."""
    with served(demo) as found:
        yield found


@pytest.fixture
def here(demo_copy: Path) -> Iterator[Served]:
    """A copy of the demo's car, served to who writes."""
    with served(demo_copy) as found:
        yield found


@pytest.fixture
def shop(demo: Path, tmp_path: Path) -> Iterator[Served]:
    """Two cars of a shop, one with a day's work that nobody recorded."""
    shutil.copytree(demo, tmp_path / "shop/demo")
    unrecorded(tmp_path / "shop/demo")
    shutil.copytree(demo, tmp_path / "shop/other")
    with served(tmp_path / "shop") as found:
        yield found


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A real browser."""
    with driven() as found:
        yield found

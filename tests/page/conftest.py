"""One served page for all tests that only ask; one for each that writes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

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

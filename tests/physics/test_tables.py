"""The check tables say where their figures come from."""

import tomllib
from pathlib import Path

import pytest

TABLES = sorted((Path(__file__).parents[2] / "shared" / "tables").glob("*.toml"))
SEEN = ("opened", "secondary", "from memory", "computed")


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_source_and_status_are_stated(path: Path) -> None:
    read = tomllib.loads(path.read_text(encoding="utf-8"))
    assert read["source"]
    assert read["status"].startswith(SEEN)

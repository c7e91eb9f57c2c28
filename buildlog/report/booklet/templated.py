"""The files beside the code: templates, style sheets, and what is said in every booklet."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any


@cache
def read(name: str) -> str:
    """A file of the folder `templates`."""
    return resources.files("buildlog.report.booklet").joinpath("templates", name).read_text("utf-8")


@cache
def said() -> dict[str, Any]:
    """Cautions, words and commands that are the same in every booklet."""
    return tomllib.loads(read("said.toml"))


def filled(name: str, **given: object) -> str:
    """A template of plain text, filled in."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(
        undefined=StrictUndefined, trim_blocks=True, keep_trailing_newline=True
    )
    return environment.from_string(read(name)).render(given)

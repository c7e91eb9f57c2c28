"""The door itself: it costs nothing until something is asked, and names what stands behind it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

import buildlog
from buildlog import errors

ROOT = Path(__file__).parents[2]
PROBE = """
import sys
before = set(sys.modules)
import buildlog
{more}
import json
print(json.dumps(sorted(set(sys.modules) - before)))
"""


def loaded(more: str = "") -> list[str]:
    """What is in memory after `import buildlog`, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE.format(more=more)], cwd=ROOT, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    found: list[str] = json.loads(done.stdout)
    return found


def test_importing_it_loads_nothing_else() -> None:
    named = loaded()
    assert [name for name in named if name.startswith("buildlog")] == ["buildlog"]
    heavy = {"numpy", "pydantic", "dulwich", "click", "tomlkit", "matplotlib", "pint", "pandas"}
    assert heavy & {name.split(".")[0] for name in named} == set()


def test_the_probe_sees_what_is_loaded() -> None:
    assert "buildlog.units" in loaded("buildlog.Quantity")


def test_every_name_at_the_door_is_there() -> None:
    assert set(buildlog.__all__) == {*buildlog._DOOR, "__version__"}
    assert set(dir(buildlog)) == set(buildlog.__all__)
    for name in buildlog.__all__:
        assert getattr(buildlog, name) is getattr(buildlog, name)
    with pytest.raises(AttributeError, match="no attribute 'opne'"):
        buildlog.opne  # noqa: B018


def test_what_a_type_checker_sees_is_what_is_there() -> None:
    """The imports for types alone name each thing as the door does."""
    text = (ROOT / "buildlog" / "__init__.py").read_text("utf-8")
    for name, (module, held) in ((n, v.split(":")) for n, v in buildlog._DOOR.items()):
        assert f"    from {module} import {held} as {name}\n" in text


def test_errors_are_one_family_with_what_where_hint() -> None:
    own = [one for one in vars(errors).values() if isinstance(one, type)]
    assert all(issubclass(one, buildlog.BuildlogError) for one in own)
    assert {one.__name__ for one in own} <= set(buildlog.__all__)
    with pytest.raises(buildlog.BuildlogError) as caught:
        buildlog.open("no-such-folder")
    assert caught.value.what == "no-such-folder does not exist"
    assert caught.value.hint
    assert caught.value.where is None

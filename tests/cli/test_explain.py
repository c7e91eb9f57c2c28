"""`buildlog explain`: every margin and every figure, in words."""

from __future__ import annotations

import json

import pytest

from buildlog.analysis.margins.margin_table import FILES
from buildlog.report.as_text.explain_text import WORDS, _kept, explanation, names
from tests.conftest import Call


@pytest.mark.parametrize("name", sorted(FILES))
def test_every_margin_is_explained(name: str, buildlog: Call) -> None:
    outcome = buildlog("explain", *name.split())
    assert outcome.status == 0
    assert outcome.out.startswith(f"{name}: ")
    for word in ("formula:", "source:", "typical:", "does not say:", "close within:"):
        assert word in outcome.out
    assert all(len(line) <= 80 for line in outcome.out.splitlines())


@pytest.mark.parametrize(
    "name",
    ["peak power", "scatter", "half-width", "factor", "sag", "beyond scatter", "P10", "P50", "P90",
     "attribution", "Record-sha256", "record_sha256", "HEADROOM", "margin"],
)  # fmt: skip
def test_figures_of_sheets_and_predictions(name: str, buildlog: Call) -> None:
    outcome = buildlog("explain", name)
    assert outcome.status == 0
    assert "does not say:" in outcome.out


@pytest.mark.parametrize("name", names())
def test_every_explanation_is_whole(name: str) -> None:
    one = explanation(name)
    assert one.meaning.endswith(".")
    if name not in _kept(WORDS):  # a word has a meaning alone
        assert all((one.formula, one.source, one.typical, one.says_not))


def test_the_list_and_json(buildlog: Call) -> None:
    out = buildlog("explain").out
    assert out.startswith("margins: injector duty")
    assert json.loads(buildlog("explain", "--json").out)["names"] == list(names())
    one = json.loads(buildlog("explain", "sag", "--json").out)
    assert one["name"] == "sag"


@pytest.mark.parametrize(("typed", "meant"), [("clutsh", "clutch torque"), ("boost", "boost")])
def test_a_wrong_or_vague_name_names_the_nearest(typed: str, meant: str, buildlog: Call) -> None:
    outcome = buildlog("explain", typed)
    assert outcome.status == 3
    assert meant in outcome.err.partition("do:")[2]

"""`buildlog explain`: every margin and every figure, in words."""

from __future__ import annotations

import json
from typing import get_args

import pytest

from buildlog.analysis.margins.figures.demand_figure import Basis
from buildlog.analysis.margins.margin_table import FILES
from buildlog.findings import Severity
from buildlog.physics.parts.margin import State
from buildlog.report.as_text.explain_text import WORDS, _kept, explanation, names
from buildlog.store.git.message import KINDS
from buildlog.store.verify.verdict import Verdict
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


WORDS_OF_OURS = {
    *("ledger", "configuration", "assembly", "entry", "kind", "found", "fault", "version"),
    *("working", "stage", "plan", "session", "pull", "light-load check", "correction"),
    *("wheel power", "crank power", "scatter", "sag", "margin", "basis", "break-in", "gate"),
    *("handover", "custody", "shop", "limit", "load", "visit", "±", "95 %", "worst case first"),
    *("tightest", "group", "fingerprint", "odometer", "calibration", "promised", "quote", "due"),
    "headroom", "list", "fix", "8 in 10", "share of the limit", "relief valve", "learned", "shown",
    *("too small", "left", "retired", "key", "signed", "reached first", "torque sheet", "as found"),
    *(state.value for state in State), *get_args(Basis), *get_args(Severity), *get_args(Verdict),
    *KINDS,
}  # fmt: skip


@pytest.mark.parametrize("word", sorted(WORDS_OF_OURS))
def test_every_word_of_ours_is_explained(word: str, buildlog: Call) -> None:
    """Those of the program, and the closed sets that the code itself holds: states, bases,
    severities, verdicts, kinds of entries."""
    told = buildlog("explain", *word.split())
    assert told.status == 0, told.err
    assert len(told.out.partition(": ")[2].partition("next:")[0].split()) > 3


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

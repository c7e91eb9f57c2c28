"""One figure, one value: whatever two screens, files or documents show of one thing is the same.

Of the demo car: blocks that two documents hold are compared whole; of what is told in words, every
mean and every difference has one interval wherever it stands.
"""

from __future__ import annotations

import html
import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.attack.worlds import done

PAIRS = [("baseline", "stage-1"), ("stage-1", "stage-2")]
VISITS = {"baseline": "2026-02-11-baseline", "stage-1": "2026-03-14-stage-1",
          "stage-2": "2026-05-09-stage-2"}  # fmt: skip
HP = 745.6998715822702
Documents = dict[str, Any]


@pytest.fixture(scope="module")
def asked(demo: Path) -> Documents:
    """Every answer that holds a figure of power, a band or a margin, by its call."""
    calls = ["history", "margins", "headroom", "margins stage-2", "headroom stage-2", "next"]
    calls += [f"report {after}" for _, after in PAIRS]
    calls += [f"dyno sheet {name}" for name in VISITS.values()]
    for before, after in PAIRS:
        calls += [f"diff {before} {after}", f"predict {before} {after}"]
        calls += [f"dyno compare {VISITS[before]} {VISITS[after]}"]
    found = {call: json.loads(done(demo, *call.split(), "--json")) for call in calls}
    found["shop"] = json.loads(done(demo, "shop", "list", str(demo), "--gains", "--json"))
    return found


def blocks(document: Any, key: str) -> Iterator[Any]:
    """Everything that stands under a key, anywhere in a document."""
    if isinstance(document, dict):
        if document.get(key) is not None:
            yield document[key]
        document = list(document.values())
    for one in document if isinstance(document, list) else ():
        yield from blocks(one, key)


def unlike(one: Any, other: Any, where: str = "") -> list[str]:
    """Where two blocks part, in what both of them hold."""
    if isinstance(one, dict) and isinstance(other, dict):
        shared = one.keys() & other.keys() - {"format"}
        return [
            text
            for key in sorted(shared)
            for text in unlike(one[key], other[key], f"{where}.{key}")
        ]
    if isinstance(one, list) and isinstance(other, list):
        if len(one) != len(other):
            return [f"{where}: {len(one)} and {len(other)}"]
        return [
            t
            for n, pair in enumerate(zip(one, other, strict=True))
            for t in unlike(*pair, f"{where}[{n}]")
        ]
    return [] if one == other else [f"{where}: {one!r} and {other!r}"]


def diff(asked: Documents, pair: tuple[str, str]) -> Any:
    return asked[f"diff {pair[0]} {pair[1]}"]


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("block", ["measured", "predicted", "margins"])
@pytest.mark.one_in(3)
def test_a_report_holds_the_blocks_of_the_diff(
    asked: Documents, pair: tuple[str, str], block: str
) -> None:
    """Its stage's own, and the gain that its headline is about."""
    mine = diff(asked, pair)[block]
    found = [one["diff"][block] for one in asked[f"report {pair[1]}"]["stages"]]
    if asked[f"report {pair[1]}"]["gain"]["from"]["name"] == pair[0]:
        found.append(asked[f"report {pair[1]}"]["gain"][block])
    assert found
    for one in found:
        assert unlike(one, mine) == []


@pytest.mark.parametrize("pair", PAIRS)
def test_compare_and_diff_measure_one_difference(asked: Documents, pair: tuple[str, str]) -> None:
    one = asked[f"dyno compare {VISITS[pair[0]]} {VISITS[pair[1]]}"]
    assert unlike(one, diff(asked, pair)["measured"]) == []


@pytest.mark.parametrize("pair", PAIRS)
def test_one_configuration_has_one_band(asked: Documents, pair: tuple[str, str]) -> None:
    mine = diff(asked, pair)["predicted"]
    assert unlike(asked[f"predict {pair[0]} {pair[1]}"], mine) == []


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize(
    ("lies", "of", "band"),
    [("measured_lies", "power", "peak_wheel_power_w"),
     ("measured_torque_lies", "torque", "peak_wheel_torque_nm")],
)  # fmt: skip
def test_what_was_promised_stands_beside_what_was_measured(
    asked: Documents, pair: tuple[str, str], lies: str, of: str, band: str
) -> None:
    """Of power and of torque, as shares of what was before: the sheet's peak against the band, a
    little wider by the pulls' own scatter, and the right word."""
    found, measured = diff(asked, pair)["predicted"], diff(asked, pair)["measured"]
    told, before = found[lies], measured[of]["peak_from"]["value"]
    assert told["measured"] == pytest.approx(measured[of]["peak_to"]["value"] / before)
    ends = [found[band][end] / before for end in ("p10", "p90")]
    assert ends[0] * 0.98 < told["low"] <= ends[0]
    assert ends[1] <= told["high"] < ends[1] * 1.02
    inside = told["low"] <= told["measured"] <= told["high"]
    assert told["where"].startswith("inside") == inside


@pytest.mark.parametrize("stage", VISITS)
def test_a_peak_is_that_of_its_sheet_everywhere(asked: Documents, stage: str) -> None:
    """In differences, as the power that margins rest on, and rounded in the history."""
    sheet = asked[f"dyno sheet {VISITS[stage]}"]
    (group,) = [one for one in sheet["groups"] if one["kept"]]
    peak, torque = group["peak_power"], group["peak_torque"]
    for pair in PAIRS:
        for end, name in zip(("peak_from", "peak_to"), pair, strict=True):
            if name == stage:
                assert diff(asked, pair)["measured"]["power"][end] == peak
                assert diff(asked, pair)["measured"]["torque"][end] == torque
    (entry,) = [one for one in asked["history"]["entries"]
                if one["stage"] == stage and one["peak_wheel_power_w"]]  # fmt: skip
    assert entry["peak_wheel_power_w"] / HP == pytest.approx(peak["value"] / HP, abs=0.06)
    if stage == "stage-2":
        for answer in ("margins stage-2", "headroom stage-2"):
            assert asked[answer]["power"]["power_w"]["p50"] == peak["value"]
        assert asked["headroom stage-2"]["wheel_power_w"] == peak["value"]


def test_a_margin_has_one_state_and_one_band(asked: Documents) -> None:
    """Of the version itself, after the change that led to it, and in the search for headroom."""
    own = {one["name"]: one for one in asked["margins stage-2"]["margins"]}
    after = {one["name"]: one["after"] for one in diff(asked, PAIRS[1])["margins"] if one["after"]}
    assert own.keys() == after.keys()
    for name, one in own.items():
        assert unlike(one, after[name], name) == []
    before = {
        one["name"]: one["before"] for one in diff(asked, PAIRS[1])["margins"] if one["before"]
    }
    led = {one["name"]: one["after"] for one in diff(asked, PAIRS[0])["margins"] if one["after"]}
    for name in before.keys() & led.keys():
        assert unlike(before[name], led[name], name) == []
    for one in asked["headroom stage-2"]["independent"]:
        assert unlike(one, own[one["name"]], one["name"]) == []


def test_a_gate_speaks_of_the_margin_that_is_over(asked: Documents) -> None:
    counted = [one for one in asked["margins"]["margins"] if not one["information"]]
    over = {one["name"] for one in counted if one["state"] == "over"}
    said = [one["why"] for one in asked["next"]["blocked"] if one["gate"] == "margin-over"]
    assert all(any(name in why for why in said) for name in over)
    assert bool(said) == bool(over)


def test_the_shops_gains_are_the_diffs(asked: Documents) -> None:
    """With the day, the other dyno and everything else that widens an interval."""
    found = {
        (one["before"], one["after"]): one for one in blocks(asked["shop"], "stages") for one in one
    }
    seen = 0
    for pair in PAIRS:
        if pair not in found:
            continue
        seen, power = seen + 1, diff(asked, pair)["measured"]["power"]
        one = found[pair]
        assert (one["from_w"], one["to_w"], one["half_w"], one["beyond"]) == (
            power["peak_from"]["value"], power["peak_to"]["value"], power["half_width_95"],
            power["beyond_scatter"],
        )  # fmt: skip
    assert seen


SPREAD = re.compile(r"([+-]?\d[\d,]*\.\d) ± (\d+\.\d) (hp|lb·ft)")


def told(demo: Path, folder: Path) -> dict[str, str]:
    """Screens, pages and pictures in words."""
    calls = [f"diff {one} {other}" for one, other in PAIRS]
    calls += [f"dyno sheet {name}" for name in VISITS.values()]
    calls += ["report stage-1 --full", "report stage-2 --full", "predict stage-1 stage-2"]
    calls += [f"dyno compare {VISITS[one]} {VISITS[other]}" for one, other in PAIRS]
    texts = {call: done(demo, *call.split()) for call in calls}
    for file, call in (("p.svg", "plot stage-1 stage-2"), ("r.html", "report stage-2")):
        done(demo, *call.split(), "--out", str(folder / file))
        texts[f"{call} to {file}"] = html.unescape((folder / file).read_text("utf-8"))
    return {call: " ".join(re.sub(r"<[^>]*>", " ", text).split()) for call, text in texts.items()}


def test_in_words_every_mean_and_every_difference_has_one_interval(
    demo: Path, tmp_path: Path
) -> None:
    """ "211.1 ± 1.3 hp" here is nowhere else "211.1 ± 2.3 hp"."""
    intervals: dict[tuple[str, str], dict[str, list[str]]] = {}
    for call, text in told(demo, tmp_path).items():
        for value, half, unit in SPREAD.findall(text.replace("\xa0", " ")):
            intervals.setdefault((value, unit), {}).setdefault(half, []).append(call)
    assert len(intervals) >= 8
    assert sum(len(calls) for one in intervals.values() for calls in one.values()) >= 20
    assert {value: halves for value, halves in intervals.items() if len(halves) > 1} == {}


def test_a_new_session_has_the_interval_of_its_sheet(demo: Path, tmp_path: Path) -> None:
    """Both rest on the same visits of the dyno, also before the session is recorded."""
    car = Path(shutil.copytree(demo, tmp_path / "car"))
    files = sorted((car / "dyno" / "2026-06-06-stage-2-recheck").glob("run-*.csv"))
    given = (
        "--session again --date 2026-06-09 --dyno R1 --dyno-kind eddy-brake --gear 4 "
        "--standard-applied none"
    )
    added = done(car, "dyno", "add", *map(str, files), *given.split())
    sheet = done(car, "dyno", "sheet", "again")
    share = re.search(r"mean of 3 .*± (\d+\.\d+) %", added)
    both = re.search(r"mean of 3 +(\d+\.\d+) ± (\d+\.\d+)", sheet)
    assert share is not None
    assert both is not None
    value, half = (float(text) for text in both.groups())
    assert float(share[1]) / 100 * value == pytest.approx(half, abs=0.1)
    assert "pooled with" in " ".join(sheet.split())

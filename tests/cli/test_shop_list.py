"""`buildlog shop list` over real ledgers: same answers cold, warm, and with a damaged index."""

from __future__ import annotations

import csv
import io
import json
import random
import shutil
import sqlite3
import statistics
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from buildlog.report.as_json.shop_csv import csv_text
from buildlog.store.ledger.ledger import Ledger
from tests import made_shop
from tests.conftest import Call
from tests.gitservers import daemon
from tests.histories import CAR, Story, git, next_recorder, put, record, usual

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BUILDLOG_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture(scope="module")
def cars(tmp_path_factory: pytest.TempPathFactory, demo: Path) -> Path:
    """Three cars: the demo's, a small one, and one that is broken. For reading only."""
    folder = tmp_path_factory.mktemp("shop")
    shutil.copytree(demo, folder / "tern")
    usual(folder / "small").close()
    usual(folder / "torn").close()
    (folder / "torn/.git/refs/heads/main").write_text("0" * 40 + "\n")
    return folder


def listed(buildlog: Call, *arguments: str | Path) -> dict[str, Any]:
    outcome = buildlog("shop", "list", *arguments, "--json")
    assert outcome.status == 0, outcome.err
    document: dict[str, Any] = json.loads(outcome.out)
    return document


def fits(text: str, folder: Path) -> bool:
    """Whether a screen stays within eighty columns; a folder's path is as long as it is."""
    return max(map(len, text.replace(str(folder), "cars").splitlines())) <= 80


def test_every_car_stands_on_a_line_and_a_broken_one_says_why(buildlog: Call, cars: Path) -> None:
    outcome = buildlog("shop", "list", cars)
    assert outcome.status == 0
    lines = outcome.out.splitlines()
    assert lines[0].startswith("2 cars: ")
    assert "1 could not be read" in lines[0]
    assert any(line.startswith("torn: ") for line in lines)
    assert any("stage-2" in line and "clutch to" in line for line in lines)
    assert fits(outcome.out, cars)


def test_the_json_has_the_keys_that_other_programs_rely_on(buildlog: Call, cars: Path) -> None:
    document = listed(buildlog, cars)
    assert document["format"] == "buildlog/shop-list/1"
    tern = next(car for car in document["cars"] if car["ledger"] == "tern")
    keys = {"ledger", "name", "stage", "since", "holds_up", "tightest", "last_wheel_power_w"}
    assert keys <= tern.keys()
    history = json.loads(buildlog("history", "--ledger", cars / "tern", "--json").out)["entries"]
    measured = [e["peak_wheel_power_w"] for e in history if e["peak_wheel_power_w"]]
    assert tern["last_wheel_power_w"] == measured[-1 if history[0]["entry"] == 1 else 0]
    margins = json.loads(buildlog("margins", "--ledger", cars / "tern", "--json").out)["margins"]
    told = [m for m in margins if m["state"] != "unknown"]
    assert tern["tightest"]["name"] == told[0]["name"]
    assert tern["tightest"]["state"] == told[0]["state"]


QUESTIONS = [
    [], ["--due"], ["--find", "exhaust.pipe_diameter=*"], ["--gains"], ["--faults"]
]  # fmt: skip


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda q: " ".join(q) or "list")
@pytest.mark.one_in(5)
def test_the_same_answer_whatever_happened_to_the_index(
    buildlog: Call, cars: Path, cache: Path, question: list[str]
) -> None:
    cold = listed(buildlog, cars, *question)
    assert listed(buildlog, cars, *question) == cold
    (index,) = cache.glob("index-*.sqlite")
    whole = index.read_bytes()
    chance = random.Random(1)
    for damage in range(2 if question else 6):  # what is kept is the same, whatever is asked
        data = bytearray(whole)
        for _ in range(40):
            data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        index.write_bytes(data[: len(data) // 2] if damage == 0 else data)
        assert listed(buildlog, cars, *question) == cold
    for one in cache.iterdir():
        one.unlink()
    assert listed(buildlog, cars, *question) == cold


def test_a_warm_answer_reads_no_ledger(
    buildlog: Call, cars: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cold = listed(buildlog, cars / "tern")
    from buildlog.store.git.repo import Repo

    def refuse(*_: object) -> None:
        raise AssertionError("an object was read")

    monkeypatch.setattr(Repo, "_read", refuse)
    assert listed(buildlog, cars / "tern") == cold


def test_one_changed_ledger_costs_one_ledger(
    buildlog: Call, cars: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = Path(shutil.copytree(cars, tmp_path / "shop"))
    before = listed(buildlog, shop)
    git(shop / "small", "commit", "-q", "--allow-empty", "-m", "by plain git")
    from buildlog.desk.questions import shop_index

    opened: list[str] = []
    real = shop_index._piece

    def watched(piece: Any, *rest: Any) -> Any:
        opened.extend(place.name for place in piece)
        return real(piece, *rest)

    monkeypatch.setattr(shop_index, "_piece", watched)
    after = listed(buildlog, shop)
    assert sorted(opened) == ["small", "torn"]  # what cannot be read is looked at every time
    one, other = ({c["ledger"]: c for c in d["cars"]} for d in (before, after))
    assert one["tern"] == other["tern"]
    assert one["small"]["head"] != other["small"]["head"]


@pytest.mark.long
def test_two_at_once_say_the_same(cars: Path, cache: Path) -> None:
    command = [sys.executable, "-m", "buildlog", "shop", "list", str(cars), "--json"]
    both = [
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT)
        for _ in range(3)
    ]
    outcomes = [one.communicate() for one in both]
    assert [one.returncode for one in both] == [0, 0, 0], outcomes
    assert len({out for out, _ in outcomes}) == 1
    with sqlite3.connect(next(cache.glob("index-*.sqlite"))) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()


def test_many_are_read_in_several_processes_with_the_same_answer(
    buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from buildlog.desk.questions import shop_index

    for number in range(5):
        usual(tmp_path / "shop" / f"car-{number}").close()
    alone = listed(buildlog, tmp_path / "shop")
    monkeypatch.setattr(shop_index, "_WORTH_ANOTHER_PROCESS", 2)
    monkeypatch.setattr(shop_index, "_AT_ONCE", 2)
    monkeypatch.setenv("BUILDLOG_CACHE", str(tmp_path / "another"))
    assert listed(buildlog, tmp_path / "shop") == alone


def test_find_says_who_ever_had_a_part(buildlog: Call, tmp_path: Path) -> None:
    with usual(tmp_path / "shop" / "one") as ledger:
        story = Story(ledger, next_recorder(ledger).now)
        part = CAR + '\n[fuel.pump.part]\nnumber = "FP-23"\n'
        put("car.toml", part)(story)
        record("pump", odometer="88600 mi")(story)
        put("car.toml", part.replace("FP-23", "FP-30"))(story)
        record("another pump", odometer="90000 mi")(story)
    usual(tmp_path / "shop" / "two").close()
    (found,) = listed(buildlog, tmp_path / "shop", "--find", "pump.part.number=FP-23")["found"]
    assert found["ledger"] == "one"
    assert (found["from"]["entry"], found["to"]["entry"]) == (4, 5)
    assert found["from"]["odometer_km"] == pytest.approx(88600 * 1.609344)
    text = buildlog("shop", "list", tmp_path / "shop", "--find", "pump.part.number=FP-23").out
    assert "in 0 cars now, 1 time in the past; 2 cars searched" in text
    assert "88,600" in text


def test_a_vin_is_found_but_shown_by_its_end(buildlog: Call, cars: Path) -> None:
    text = buildlog("shop", "list", cars, "--find", "car.vin=*").out
    document = listed(buildlog, cars, "--find", "car.vin=*")
    assert document["found"]
    assert all(hit["value"].startswith("...") for hit in document["found"])
    assert "..." in text


def test_gains_are_those_of_diff(buildlog: Call, cars: Path) -> None:
    document = listed(buildlog, cars, "--gains")
    stage = next(s for s in document["stages"] if s["kind"] == "to turbocharger")
    arguments = ["diff", stage["before"], stage["after"], "--ledger", str(cars / "tern"), "--json"]
    power = json.loads(buildlog(*arguments).out)["measured"]["power"]
    assert stage["to_w"] - stage["from_w"] == pytest.approx(power["peak_delta"])
    assert stage["half_w"] == pytest.approx(power["half_width_95"])
    assert stage["beyond"] == power["beyond_scatter"]
    assert fits(buildlog("shop", "list", cars, "--gains").out, cars)


def test_a_copied_ledger_counts_once(buildlog: Call, cars: Path, tmp_path: Path) -> None:
    for name in ("tern", "copy"):
        shutil.copytree(cars / "tern", tmp_path / "shop" / name)
    once = listed(buildlog, cars / "tern", "--gains")["gains"]
    assert listed(buildlog, tmp_path / "shop", "--gains")["gains"] == once
    faults = listed(buildlog, tmp_path / "shop", "--faults")["faults"]
    assert [one["faults"] for one in faults] == [1]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, demo: Path) -> tuple[Path, dict[str, Any]]:
    """Seven cars whose stages gave what is known; and what they gave."""
    folder = tmp_path_factory.mktemp("made")
    with Ledger.open(demo) as ledger:
        first = next(entry for entry in ledger.entries() if ledger.sessions_added(entry))
        files = {path: ledger.read(first, path) for path in ledger.files(first)}
    return folder, made_shop.shop(folder, 7, files)


def test_the_gains_are_those_that_were_made(buildlog: Call, made: tuple[Path, Any]) -> None:
    folder, true = made
    document = listed(buildlog, folder, "--gains")
    found = {one["kind"]: one for one in document["gains"]}
    assert found.keys() == true.keys()
    for kind, gains in true.items():
        one = found[kind]
        assert (one["count"], one["cars"]) == (len(gains), len(gains))
        # three pulls of 0.3 % each before and after: 0.25 % of one stage's gain
        assert one["middle"] == pytest.approx(statistics.median(gains), abs=0.006)
        if len(gains) > 2:
            assert one["spread"] == pytest.approx(statistics.stdev(gains), abs=0.006)
    assert not document["left_out"]
    assert all(stage["predicted"] for stage in document["stages"])
    text = buildlog("shop", "list", folder, "--gains").out
    middle = f"{100 * found['exhaust']['middle']:+.1f} %"
    assert any(line.startswith("exhaust  ") and middle in line for line in text.splitlines())


def test_faults_have_the_distance_at_failure(buildlog: Call, made: tuple[Path, Any]) -> None:
    (one,) = listed(buildlog, made[0], "--faults")["faults"]
    assert (one["part"], one["number"], one["faults"], one["cars"]) == (
        "fuel.pump", "FP-23", 2, 2
    )  # fmt: skip
    assert one["distance_at_failure_km"] == [pytest.approx(made_shop.failed_after(6) * 1.609344)]
    assert one["distance_unknown"] == 1
    text = buildlog("shop", "list", made[0], "--faults").out
    assert f"{made_shop.failed_after(6):,} mi" in text
    assert "it was there before entry 1 and nothing says since when" in " ".join(text.split())


def test_every_table_fits_a_page_and_is_read_back_from_csv(
    buildlog: Call, made: tuple[Path, Any]
) -> None:
    for question in (["--due"], ["--gains"], ["--faults"], ["--find", "*.part.number=FP-*"]):
        text = buildlog("shop", "list", made[0], *question).out
        assert fits(text, made[0]), question
        rows = list(csv.DictReader(io.StringIO(buildlog(
            "shop", "list", made[0], *question, "--csv").out)))  # fmt: skip
        assert rows, question
        assert len({len(row) for row in rows}) == 1


def test_who_has_a_recalled_pump(buildlog: Call, made: tuple[Path, Any]) -> None:
    found = listed(buildlog, made[0], "--find", "fuel.pump.part.number=FP-23")["found"]
    meant = [n for n in range(7) if made_shop.PUMPS[n % len(made_shop.PUMPS)] == "FP-23"]
    assert [hit["ledger"] for hit in found] == [f"car-{n + 1:02d}" for n in meant]
    assert found[0]["from"]["found"]  # it came with the car
    assert found[1]["from"]["odometer_km"] == pytest.approx((60_000 + 900) * 1.609344)


def test_what_cannot_be_read_is_said_by_every_question(buildlog: Call, cars: Path) -> None:
    for question in (["--due"], ["--gains"], ["--faults"], ["--find", "engine.bore=*"]):
        assert "torn could not be read" in buildlog("shop", "list", cars, *question).out
        assert [one["ledger"] for one in listed(buildlog, cars, *question)["not_read"]] == ["torn"]


def test_a_name_that_is_a_formula_is_text_in_the_spreadsheet(
    buildlog: Call, tmp_path: Path
) -> None:
    with usual(tmp_path / "shop" / "one") as ledger:
        story = Story(ledger, next_recorder(ledger).now)
        put("car.toml", CAR.replace("Marrow Tern 2.6", "=HYPERLINK(1)"))(story)
        record("name", odometer="88600 mi")(story)
    for question in ([], ["--due"], ["--find", "car.name=*"]):
        out = buildlog("shop", "list", tmp_path / "shop", *question, "--csv").out
        cells = [cell for row in csv.reader(io.StringIO(out)) for cell in row]
        assert "'=HYPERLINK(1)" in cells
        assert not [cell for cell in cells if cell.startswith("=")]


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_the_figure_is_written(buildlog: Call, cars: Path, tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"gains.{ending}"
    outcome = buildlog("shop", "list", cars, "--plot", out)
    assert outcome.status == 0, outcome.err
    assert f"wrote {out}" in outcome.out
    head = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[ending]
    assert out.read_bytes().startswith(head)


def test_remotes_are_listed_and_those_not_reached_are_said(
    buildlog: Call, cars: Path, tmp_path: Path
) -> None:
    git(cars / "tern", "clone", "-q", "--bare", str(cars / "tern"), str(tmp_path / "office.git"))
    sites = tmp_path / "sites.txt"
    sites.write_text(f"tern = {tmp_path / 'office.git'}\ngone = {tmp_path / 'gone.git'}\n")
    document = listed(buildlog, "--remote", sites)
    (car,) = document["cars"]
    (local,) = listed(buildlog, cars / "tern")["cars"]
    assert car["head"] == local["head"]
    assert car["tightest"] == local["tightest"]
    assert [one["name"] for one in document["not_reached"]] == ["gone"]
    assert "gone was not reached: " in buildlog("shop", "list", "--remote", sites).out


@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_what_is_no_ledger_and_what_is_gone_hold_up_no_other(
    buildlog: Call, cars: Path, tmp_path: Path
) -> None:
    (tmp_path / "novel").mkdir()
    git(tmp_path / "novel", "init", "-q", "-b", "main")
    (tmp_path / "novel" / "chapter.txt").write_text("It was a dark and stormy night.\n")
    git(tmp_path / "novel", "add", ".")
    git(tmp_path / "novel", "commit", "-q", "-m", "first")
    with daemon(tmp_path) as served:
        git(tmp_path, "clone", "-q", "--bare", str(cars / "tern"), str(served.root / "tern.git"))
        git(tmp_path, "clone", "-q", "--bare", str(tmp_path / "novel"), str(served.root / "n.git"))
        sites = tmp_path / "sites.txt"
        sites.write_text(f"tern = {served.url}/tern.git\nnovel = {served.url}/n.git\n")
        document = listed(buildlog, "--remote", sites)
    tern, novel = sorted(document["cars"], key=lambda car: "problem" in car)
    assert (tern["ledger"], novel["ledger"]) == ("tern", "novel")
    assert "car.toml" in novel["problem"]
    assert "sync" not in str(tern["due"])  # what lies on the server is on another computer
    after = listed(buildlog, "--remote", sites, "--patience", "5")
    shown = next(car for car in after["cars"] if car["ledger"] == "tern")
    assert shown == tern
    assert {one["name"] for one in after["not_reached"]} == {"tern", "novel"}
    text = buildlog("shop", "list", "--remote", sites).out
    assert "tern was not reached: " in text
    assert "shown as it was fetched before" in " ".join(text.split())
    csv_out = buildlog("shop", "list", "--remote", sites, "--csv")
    assert "was not reached" not in csv_out.out
    assert "tern was not reached" in csv_out.err


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        ([], 2),
        (["nowhere"], 3),
        ([".", "--due", "--faults"], 2),
        ([".", "--csv", "--json"], 2),
        (["."], 3),
        ([".", "--remote", "absent.txt"], 3),
    ],
)
def test_a_wrong_call_says_what_to_do(
    buildlog: Call, tmp_path: Path, arguments: list[str], status: int
) -> None:
    outcome = buildlog("shop", "list", *arguments, at=tmp_path)
    assert outcome.status == status
    assert outcome.out == ""
    assert outcome.err.strip()


# CSV


def test_csv_is_read_back_as_it_was_meant(buildlog: Call, cars: Path) -> None:
    out = buildlog("shop", "list", cars, "--csv").out
    rows = list(csv.DictReader(io.StringIO(out)))
    document = listed(buildlog, cars)["cars"]
    assert [row["ledger"] for row in rows] == [car["ledger"] for car in document]
    for row, car in zip(rows, document, strict=True):
        if "problem" not in car:
            power = row["last_wheel_power_w"]
            assert (float(power) if power else None) == car["last_wheel_power_w"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_acts_as_a_formula_and_numbers_are_untouched(start: str) -> None:
    text = csv_text([{"name": f"{start}HYPERLINK(1)", "gain": -5.25, "n": 3, "none": None}])
    _, row = csv.reader(io.StringIO(text, newline=""))
    text_cell, *numbers = row
    assert not text_cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert text_cell.endswith("HYPERLINK(1)")
    assert numbers == ["-5.25", "3", ""]


def test_quotes_commas_and_line_ends_survive() -> None:
    value = 'a "b", c\nd'
    _, row = csv.reader(io.StringIO(csv_text([{"x": value}]), newline=""))
    assert row == [value]

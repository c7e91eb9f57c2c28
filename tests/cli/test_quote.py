"""A quote from the plan to the entry that built it: the promise stored once and never changed."""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil
from pathlib import Path

import pytest

from buildlog.desk.acts.plans_made import new_plan, set_plan
from buildlog.desk.acts.promises_kept import make_quote
from buildlog.records.plan import Plan
from buildlog.records.reading import read
from buildlog.records.recorded_promise import PromisedBand, RecordedPromise, recorded_promise
from buildlog.store.ledger.ledger import Ledger
from tests.cli.test_plan import BOOST, git, ok
from tests.conftest import Call


@pytest.fixture(scope="module")
def quoted_once(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with a quoted plan: more boost."""
    folder = Path(shutil.copytree(demo, tmp_path_factory.mktemp("quoted") / "ledger"))
    with Ledger.open(folder) as ledger:
        new_plan(ledger, "boost")
        set_plan(ledger, "boost", [
            f"{BOOST}=10 psi", "charge[induction]=300.00", "charge[fitting, 3 hours]=375",
            "currency=USD", "time=2 working days", "valid_until=2026-07-10"])  # fmt: skip
        make_quote(ledger, "boost", date=dt.date(2026, 6, 10))
    return folder


@pytest.fixture
def quoted(quoted_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(quoted_once, tmp_path / "ledger"))


def stored(folder: Path) -> Plan:
    return read(Plan, git(folder, "show", "plan/boost:plan.toml").encode(), "plan.toml")


def told(buildlog: Call, folder: Path, *more: str) -> dict[str, object]:
    found = json.loads(ok(buildlog, folder, "plan", "quote", "boost", "--json", *more))
    assert found["format"] == "buildlog/plan-quote/1"
    one: dict[str, object] = found["quotes"][0]
    return one


def test_the_promise_is_the_prediction_of_that_day(quoted: Path, buildlog: Call) -> None:
    """What `plan show` predicts when the quote is made is what it stores, and where from."""
    plan = stored(quoted).promised
    assert plan is not None
    shown = json.loads(ok(buildlog, quoted, "plan", "show", "boost", "--json"))
    band = shown["predicted"]["peak_power"]
    for end in ("p10", "p50", "p90"):
        value = getattr(plan, f"power_{end}")
        gain = value.si - plan.power_before.si  # type: ignore[union-attr]
        assert gain == pytest.approx(band[end], abs=2)  # watts: it is stored to the watt
    assert plan.start == shown["predicted_from"]["id"]
    assert plan.base == git(quoted, "rev-parse", "main").strip()


def test_the_page_says_what_it_must(quoted: Path, buildlog: Call) -> None:
    page = " ".join(ok(buildlog, quoted, "plan", "quote", "boost").split())
    for said in ("should add 2 to 7 hp at the wheels: 8 results in 10 fall inside. It costs $675.",
                 "What we propose, and what must change with it", "Total before tax $675",
                 "Ready in 2 working days.", "What comes close", "What we cannot predict",
                 "no guarantee and no approval", "Local codes decide; ask before you order.",
                 "Valid until 10 July 2026, for the car as it stood on 6 June 2026."):  # fmt: skip
        assert said in page
    assert "safe" not in page


def test_a_promise_is_never_worked_out_anew(quoted: Path, buildlog: Call) -> None:
    """A newer entry moves what would be predicted, and not what was promised."""
    before = stored(quoted)
    first = told(buildlog, quoted)["promised"]
    ok(buildlog, quoted, "set", "calibration.spark_retard=4 deg")
    ok(buildlog, quoted, "record", "-m", "later", "--date", "2026-06-20")
    again = told(buildlog, quoted)
    assert again["promised"] == first
    assert again["new"] is False
    assert stored(quoted) == before
    offer = again["offer"]["predicted"]["peak_power"]  # type: ignore[index]
    power = first["power_w"]  # type: ignore[index]
    assert offer["p50"] != pytest.approx(power["p50"] - power["before"], abs=50)


def test_accepted_it_stays_and_the_entry_of_the_work_carries_it(
    quoted: Path, buildlog: Call
) -> None:
    ok(buildlog, quoted, "plan", "accept", "boost", "--how", "by phone", "--by", "D-01",
       "--date", "2026-06-12")  # fmt: skip
    for line, sentence in (
        (["plan", "quote", "boost", "--anew"], "was accepted on 2026-06-12"),
        (["plan", "accept", "boost", "--how", "again"], "accepted on 2026-06-12 already"),
        (["plan", "set", "boost", f"{BOOST}=11 psi"], "was accepted on 2026-06-12"),
    ):
        done = buildlog(*line, at=quoted)
        assert done.status == 2
        assert sentence in done.err
    ok(buildlog, quoted, "plan", "adopt", "boost")
    ok(buildlog, quoted, "record", "-m", "more boost", "--date", "2026-06-20")
    trailer = git(quoted, "log", "-1", "--format=%(trailers:key=Promised,valueonly)").strip()
    found = recorded_promise(trailer)
    assert found is not None
    plan = stored(quoted).promised
    assert plan is not None
    assert plan.power_p90 is not None
    assert (found.plan, found.accepted_by, found.accepted_how) == ("boost", "D-01", "by phone")
    assert found.power is not None
    assert found.power.p90 == plan.power_p90.si
    sheet = json.loads(ok(buildlog, quoted, "report", "latest", "--json"))
    assert sheet["stages"][0]["promised"]["power_w"]["p90"] == plan.power_p90.si
    ok(buildlog, quoted, "set", f"{BOOST}=9.5 psi")
    ok(buildlog, quoted, "record", "-m", "less again", "--date", "2026-06-21")
    assert git(quoted, "log", "-1", "--format=%(trailers:key=Promised,valueonly)").strip() == ""


@pytest.mark.parametrize("accepted", [True, False])
def test_the_trailer_reads_back_what_it_says(accepted: bool) -> None:
    band = PromisedBand(112523, 150710, 161500, 172900)
    torque = PromisedBand(203.4, 267.0, 285.1, 303.7)
    yes = (dt.date(2026, 4, 12), "customer", "by phone") if accepted else (None, None, None)
    one = RecordedPromise("turbo-1", dt.date(2026, 4, 10), "a" * 40, "wheels", band, torque, *yes)
    assert recorded_promise(one.text()) == one
    assert recorded_promise(f"{one.text()}; and a word of a later program") == one
    bare = RecordedPromise("x", dt.date(2026, 4, 10), None)
    assert recorded_promise(bare.text()) == bare
    assert recorded_promise("anything else") is None


def test_what_the_plan_leaves_alone_follows_the_car(quoted: Path, buildlog: Call) -> None:
    """Set after the plan was made: compare, show and adopt keep it; one that both changed asks."""
    ok(
        buildlog,
        quoted,
        "set",
        "clutch.rated_torque=300 N*m",
        "induction.boost.relief_gauge=12 psi",
    )
    ok(buildlog, quoted, "record", "-m", "weaker clutch", "--date", "2026-06-20")
    shown = json.loads(ok(buildlog, quoted, "plan", "show", "boost", "--json"))
    assert [one["path"] for one in shown["changes"]] == [BOOST]
    clutch = next(one for one in shown["margins"] if one["name"] == "clutch torque")["after"]
    assert clutch["capacity"]["p50"] == pytest.approx(300)
    ok(buildlog, quoted, "set", f"{BOOST}=9.5 psi")
    ok(buildlog, quoted, "record", "-m", "a little more", "--date", "2026-06-21")
    shown = json.loads(ok(buildlog, quoted, "plan", "show", "boost", "--json"))
    assert [one["path"] for one in shown["questions"]] == [BOOST]
    said = " ".join(ok(buildlog, quoted, "plan", "compare", "boost").split())
    assert f"question: {BOOST} became 9.5 psi in the car" in said
    assert buildlog("plan", "quote", "boost", at=quoted).status == 2
    ok(buildlog, quoted, "plan", "set", "boost", f"{BOOST}=10.5 psi")
    shown = json.loads(ok(buildlog, quoted, "plan", "show", "boost", "--json"))
    assert shown["questions"] == []
    assert shown["changes"][0]["from"]["text"] == "9.5 psi"
    assert git(quoted, "fsck", "--strict").strip() == ""


def test_pages_as_files(quoted: Path, buildlog: Call, tmp_path: Path) -> None:
    ok(buildlog, quoted, "plan", "new", "other", "--from", "plan:boost")
    out = tmp_path / "quote.html"
    said = ok(buildlog, quoted, "plan", "quote", "boost", "other", "--html", str(out))
    assert said.count("written: ") == 2
    page = (tmp_path / "quote-boost.html").read_text("utf-8")
    assert "<script" not in page
    assert "210 to 215" in page
    done = buildlog("plan", "quote", "boost", "--pdf", str(out), at=quoted)
    assert done.status == 2
    assert ".pdf" in done.err


@pytest.mark.parametrize(
    ("arguments", "status", "sentence"),
    [
        (["quote", "nothing"], 3, "no plan"),
        (["set", "boost", "price=700"], 4, "the charges come to 675.00"),
        (["set", "boost", "charge[paint].why=dull"], 4, 'there is no charge "paint"'),
        (["set", "boost", "charge[induction]=3,00"], 4, "decimal point"),
        (["set", "boost", "valid_until=soon"], 4, "valid_until=2026-05-10"),
        (["accept", "boost", "--how", "x", "--date", "2026-06-09"], 2, "made on 2026-06-10"),
    ],
)
def test_bad_input_changes_nothing(
    arguments: list[str], status: int, sentence: str, quoted: Path, buildlog: Call
) -> None:
    before = git(quoted, "for-each-ref")
    done = buildlog("plan", *arguments, at=quoted)
    assert (done.status, sentence in done.err) == (status, True), done.err
    assert git(quoted, "for-each-ref") == before


def test_a_charge_is_priced_reasoned_and_taken_out(quoted: Path, buildlog: Call) -> None:
    ok(
        buildlog,
        quoted,
        "plan",
        "set",
        "boost",
        "charge[induction]=310",
        "charge[induction].why=new",
    )
    assert [(one.what, one.price, one.why) for one in stored(quoted).charge] == [
        ("induction", "310", "new"), ("fitting, 3 hours", "375", None)]  # fmt: skip
    ok(buildlog, quoted, "plan", "set", "boost", "charge[induction]=")
    assert [one.what for one in stored(quoted).charge] == ["fitting, 3 hours"]
    assert str(stored(quoted).amount) == "375"


HORSEPOWER = 745.69987  # W: 550 ft*lbf/s (NIST SP 811, appendix B.8)


def test_a_built_plan_beside_the_car_says_whether_it_kept_its_word(
    demo: Path, buildlog: Call
) -> None:
    """As stored with the quote and as measured between the two stages: by hand from the trailer."""
    trailers = git(demo, "log", "--format=%B")
    words = re.search(r"power at wheels, W: (\d+) to (\d+), \d+, (\d+)", trailers)
    assert words is not None
    before, low, high = (int(one) for one in words.groups())
    found = json.loads(buildlog("diff", "plan:turbo-kit", "latest", "--json", at=demo).out)
    built = found["built_plan"]
    assert (built["entry"], built["otherwise"]) == (5, [])
    assert [built["promised"]["power_w"][end] for end in ("before", "p10", "p90")] == [
        before, low, high]  # fmt: skip
    stages = json.loads(buildlog("diff", "stage-1", "stage-2", "--json", at=demo).out)
    assert built["measured"]["power"] == stages["measured"]["power"]
    ids = [one["path"] for one in built["beside"]]
    assert "calibration.id" in ids  # entry 7 put right which one was loaded
    ends = [f"{(end - before) / HORSEPOWER:+.0f}" for end in (low, high)]
    for sides in (("plan:turbo-kit", "latest"), ("latest", "plan:turbo-kit"), ("plan:turbo-kit",)):
        told = " ".join(buildlog("diff", *sides, at=demo).out.split())
        assert "plan turbo-kit is in the car since entry 5, all 103 fields as planned" in told
        assert f"promised {ends[0]} to {ends[1]} hp, measured +60.2 ± 5.6 hp: inside" in told
        assert "nothing changed" not in told
        assert told.endswith("next: buildlog report stage-2")
    shown = buildlog("show", "plan:turbo-kit", at=demo).out.splitlines()[0]
    assert shown.endswith("plan turbo-kit: the newest entry with what it changes")
    earlier = json.loads(buildlog("diff", "baseline", "plan:turbo-kit", "--json", at=demo).out)
    assert earlier["built_plan"] is None


def test_what_was_built_otherwise_than_planned_is_told(demo_copy: Path, buildlog: Call) -> None:
    assert buildlog("set", "fuel.injectors.flow=380 cc/min", at=demo_copy).status == 0
    for full in ((), ("--full",)):
        told = buildlog("diff", "plan:turbo-kit", "working", *full, at=demo_copy).out
        assert "1 of 103 fields otherwise than planned" in " ".join(told.split())
        heads = next(line for line in told.splitlines() if line.startswith("otherwise"))
        assert heads.split() == ["otherwise", "planned", "in", "the", "car"]
        row = next(line for line in told.splitlines() if line.split()[:1] == ["fuel"])
        assert row.split("  ")[-1].strip() == "380 cc/min"
        assert "330 cc/min" in row


def test_a_plan_that_nobody_quoted_and_is_in_the_car_says_so(
    demo_copy: Path, buildlog: Call
) -> None:
    assert buildlog("plan", "new", "springs", at=demo_copy).status == 0
    done = buildlog("plan", "set", "springs", "chassis.note=stiffer springs", at=demo_copy)
    assert done.status == 0, done.err
    assert buildlog("plan", "adopt", "springs", at=demo_copy).status == 0
    told = " ".join(buildlog("diff", "plan:springs", "working", at=demo_copy).out.split())
    assert "all that plan springs changes is in the car" in told
    assert "nothing changed" not in told


def test_a_quote_whose_part_does_not_hold_either_says_so(demo_copy: Path, buildlog: Call) -> None:
    """A clutch of 200 lb*ft under more boost: it is past its limit, and nothing is sold as the
    answer to it; its table stays on the screen."""
    assert buildlog("plan", "new", "hard", at=demo_copy).status == 0
    done = buildlog("plan", "set", "hard", "induction.boost.target_gauge=12 psi",
                    "clutch.rated_torque=200 ft-lbs", "charge[clutch]=900", "currency=USD",
                    "clutch.part.note=a disc of another kind with a heavier cover beside it",
                    at=demo_copy)  # fmt: skip
    assert done.status == 0, done.err
    told = buildlog("plan", "quote", "hard", at=demo_copy)
    assert told.status == 0, told.err
    plain = " ".join(told.out.split())
    assert re.search(r"Past (its|their) stated limits? as proposed: .*clutch torque", plain)
    assert "clutch that it needs" not in plain
    assert "200 lb·ft" in plain
    assert "ft-lbs" not in plain
    assert max(map(len, told.out.splitlines())) <= 80


@pytest.mark.parametrize("both", [False, True])
def test_without_anything_that_makes_pdfs_the_quote_is_a_page_and_says_so(
    quoted: Path, buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, both: bool
) -> None:
    from buildlog.report.booklet import pdf

    monkeypatch.setattr(pdf, "_weasyprint_is_here", lambda: False)
    monkeypatch.setattr(pdf, "browser", lambda: None)
    out = tmp_path / "pages"
    out.mkdir()
    more = ["--html", str(out / "quote.html")] if both else []
    done = buildlog("plan", "quote", "boost", "--pdf", str(out / "quote.pdf"), *more, at=quoted)
    assert done.status == 0, done.err
    assert "note: it is no PDF: " in done.out
    assert [one.name for one in out.iterdir()] == ["quote.html"]

"""Asked for one system of units, no screen and no document shows a quantity of the other.

The car is the demo's with every field of car.toml filled, so that every margin is told, and with
what the demo has not: a quoted plan, a maker's sheet of joints, what is due, another logger's file.
"""

from __future__ import annotations

import html
import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from buildlog.records.toml import toml_write
from buildlog.report.in_units import in_units
from buildlog.report.lines import printed
from buildlog.report.numbers import OTHER, all_in, declared
from buildlog.unit_table import ROWS
from buildlog.units import DIMENSIONS, as_written, find
from tests import full_car
from tests.conftest import Call
from tests.logger_files import Logger, pull

METRIC = ("kW|PS|N·m|kPa|bar|hPa|mbar|MPa|km/h|km|cm|mm|m|kg/h|kg/s|g/s|kg|°C|kN|N|m/s|"
          "kg·m\\^2|m\\^2|N·s/m|N·s\\^2/m\\^2")  # fmt: skip
US = ("hp|lb·ft|lb·in|psi|ksi|inHg|mph|mi|ft/min|ft|lb/h|lb/min|lbf|lb|°F|lb·ft\\^2|ft\\^2|"
      "lbf/mph|cfm")  # fmt: skip
JOINTS = "Joint;Qty;Thread;Class;Stage 1 [Nm];Stage 2 [Nm];Angle\nHead;8;M10x1.5;10.9;20;40;90°\n"
COAST = "time [s],road speed [km/h]\n" + "".join(
    f"{t / 10:.1f},{120 - 2.4 * t / 10 + 0.012 * (t / 10) ** 2:.3f}\n" for t in range(400)
)
# Every command that is asked for a system, on a page that is whole; `{}` is the folder beside it.
SCREENS: dict[str, list[str]] = {
    "check": ["--full"], "history": ["--full"], "next": ["--full"],
    "show": ["--full", "--parts", "--at clutch.rated_torque"],
    "diff": ["stage-1 stage-2 --full", "first latest --full"],
    "dyno sheet": ["--full", "2026-05-09-stage-2 --full"],
    "dyno compare": ["2026-05-09-stage-2 2026-06-06-stage-2-recheck"],
    "dyno coast": ['{}/coast.csv --mass "1385 kg"'],
    "dyno add": ["{}/run.csv --session tried --gear 4"],
    "dyno log": ["{}/log.csv --session 2026-02-11-baseline --pull pull-1.csv"],
    "predict": ["stage-1 stage-2 --full", "stage-1 stage-2 --altitude '1500 m'"],
    "plan show": ["boost"], "plan compare": ["boost more"], "plan quote": ["boost"],
    "margins": ["--full", "stage-2 --full", ""], "headroom": ["--full", "stage-2"],
    "explain": ['"mean piston speed"', '"boost against relief"', '"road load"'],
    "torque list": [""], "torque show": ["joints"],
    "checklist show": ["intake", "first-start", "before-dyno"],
    "fault list": [""], "due list": [""], "shop list": ["{}", "{} --due", "{} --gains"],
    "report": ["stage-2 --full", "stage-2"],
    "plot": ["stage-1 stage-2 --out {}/p.svg"], "handover": ["{}/given --dry-run"],
    "shop calendar": ["{}/due.ics {}"],
}  # fmt: skip
NO_SCREEN = {"new": "its --units is of the file that it writes: tests/cli/test_new_set_record.py"}
DOCUMENTS = ["report stage-2 --out {}/report.html", "report stage-2 --out {}/report.txt",
             "plan quote boost --html {}/quote.html", "handover {}/given --no-pdf"]  # fmt: skip


def other(system: str) -> re.Pattern[str]:
    units = METRIC if system == "us" else US
    sizes = r"|(?<![\w.,])\d+\.\d+ in(?!\w)" if system == "metric" else ""  # not "8 in 10"
    return re.compile(rf"(?<![\w.,])[+-]?\d[\d,.]* (?:{units})(?![\w·*/^]){sizes}")


@pytest.fixture(scope="module")
def beside(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that holds the car and what its commands read."""
    from buildlog.cli.main import cli

    base = tmp_path_factory.mktemp("beside")
    car = Path(shutil.copytree(demo, base / "car"))

    def call(*words: str) -> None:
        told = CliRunner().invoke(cli, [*words, "--ledger", str(car)])
        assert told.exit_code == 0, (words, told.output)

    full = full_car.build("turbocharged")
    (car / "car.toml").write_bytes(toml_write.write(full | {"car": full["car"]}))
    (base / "joints.csv").write_text(JOINTS)
    (base / "coast.csv").write_text(COAST)
    speed = range(2000, 6000, 50)
    (base / "run.csv").write_text(
        "Engine Speed [rpm],Power [kW],Boost [kPa]\n"
        + "".join(f"{n},{n / 45:.2f},{n / 90:.1f}\n" for n in speed)
    )
    (base / "log.csv").write_text(
        "Time [s],Engine Speed [rpm],Oil Pressure [bar]\n"
        + "".join(f"{i / 5:.1f},{n},{n / 1e3:.2f}\n" for i, n in enumerate(speed))
    )
    call("torque", "sheet", str(base / "joints.csv"), "--date", "2026-06-07")
    call("torque", "do", "joints", "--joint", "Head", "--stage", "1", "--value", "14 lb*ft")
    call("due", "add", "engine oil", "--every", "5000 km or 12 months")
    call("record", "-m", "gone over", "--odometer", "89600 mi", "--date", "2026-06-08")
    for name, boost in (("boost", "0.9 bar"), ("more", "16 psi")):
        call("plan", "new", name)
        call("plan", "set", name, f"induction.boost.target_gauge={boost}")
    return base


def units(system: str) -> list[str]:
    """Asked for a system; without one the car's own counts: the demo's odometer is in miles."""
    return ["--units", system] if system else []


def asked(words: str, place: Path) -> list[str]:
    import shlex

    return shlex.split(words.replace("{}", str(place)))


def commands(group: click.Group, before: tuple[str, ...] = ()) -> Iterator[str]:
    context = click.Context(group)
    for name in group.list_commands(context):
        one = group.get_command(context, name)
        if isinstance(one, click.Group):
            yield from commands(one, (*before, name))
        elif one and any("--units" in parameter.opts for parameter in one.params):
            yield " ".join((*before, name))


def test_every_command_that_is_asked_for_a_system_is_looked_at() -> None:
    from buildlog.cli.main import cli

    assert set(commands(cli)) == {*SCREENS, *NO_SCREEN}


def said_by_people(*cars: Path) -> list[str]:
    """Whatever somebody wrote in words with a quantity in it, the longest first."""

    from tests.histories import git

    logs = [git(car, "log", "-p", "--format=%B") for car in cars]
    logs += [path.read_text("utf-8") for car in cars for path in car.rglob("*.toml")]
    found = {one for log in logs for one in (*re.findall(r'"([^"\n]+)"', log), *log.splitlines())}
    words = (one for one in found if re.search(r"\d ", one) and as_written(one) is None)
    return sorted(words, key=len, reverse=True)


def hits(text: str, system: str, typed: list[str], broken: bool = False) -> list[str]:
    """Quantities of the other system that the program says of itself. `broken`: cells go on in the
    line below, so of what somebody wrote each quantity stands by itself."""
    # A formula is as its source has it, in SI; what stands in quotes is to be typed.
    lines = [line for line in text.splitlines() if "formula:" not in line]
    plain = re.sub(r'"[^"]{,40}"', "…", " ".join(" ".join(lines).split()))
    for one in typed:
        plain = plain.replace(printed(one), "…")
        for part in re.split(r"(?<=[.;]) ", one):
            plain = plain.replace(printed(part), "…") if len(part) > 12 else plain
    said = " ".join(typed) if broken else ""
    return [plain[max(0, m.start() - 60) : m.end() + 20] for m in other(system).finditer(plain)
            if m.group() not in said]  # fmt: skip


@pytest.mark.parametrize("system", ["us", "metric", ""])
@pytest.mark.parametrize("command", SCREENS)
@pytest.mark.one_in(8)
def test_a_screen_shows_one_system(
    command: str, system: str, demo: Path, beside: Path, buildlog: Call, tmp_path: Path
) -> None:
    typed = said_by_people(demo, beside / "car")
    for words in SCREENS[command]:
        call = [*command.split(), *asked(words, beside), *units(system)]
        writes = command in ("dyno add", "dyno log")
        car = shutil.copytree(beside / "car", tmp_path / "car") if writes else beside / "car"
        told = buildlog(*call, at=car)
        assert told.status in (0, 1), told.err
        assert told.out, call
        assert hits(told.out, system or "us", typed, command == "diff") == [], call


@pytest.mark.parametrize("system", ["us", "metric", ""])
@pytest.mark.parametrize("words", DOCUMENTS)
@pytest.mark.one_in(4)
def test_a_document_shows_one_system(
    words: str, system: str, demo: Path, beside: Path, buildlog: Call, tmp_path: Path
) -> None:
    car = Path(shutil.copytree(beside / "car", tmp_path / "car"))
    typed, place = said_by_people(demo, car), tmp_path / "out"
    place.mkdir()
    told = buildlog(*asked(words, place), *units(system), at=car)
    assert told.status == 0, told.err
    # What leaves with a handover as files is as it was written; the documents are in one system.
    made = [one for one in place.rglob("*") if one.suffix in (".html", ".txt")
            and "data" not in one.relative_to(place).parts[1:-1]]  # fmt: skip
    assert made
    for one in made:
        text = re.sub(r"<(style|script).*?</\1>", "", one.read_text("utf-8"), flags=re.S)
        text = html.unescape(re.sub(r"<[^>]+>", " ", re.sub(r"</?(span|b|i|a)\b[^>]*>", "", text)))
        assert hits(text, system or "us", typed) == [], one


@pytest.mark.parametrize("text", sorted({row[0] for row in ROWS if row[0] != "1"}))
@pytest.mark.parametrize("system", ["us", "metric"])
def test_a_declared_value_keeps_its_size_in_the_other_system(text: str, system: str) -> None:
    quantity = as_written(f"123.45 {text}")
    if quantity is None:
        return
    with all_in(system):  # type: ignore[arg-type]
        shown = declared(quantity)
    again = as_written(shown)
    assert again is not None
    assert abs(again.si - quantity.si) <= quantity.half_step * 2 + 1e-9 * abs(quantity.si)
    assert declared(quantity) == quantity.text  # outside it stands as it was written


@pytest.mark.parametrize("system", ["us", "metric"])
def test_a_sentence_keeps_its_size_in_every_unit(system: str) -> None:
    """Each to about the digits that it had, ranges whole, and nothing of it in the other system."""
    for text in OTHER[system]:
        dimension = next(kind for row, kind, *_ in ROWS if row == text)
        with all_in(system):  # type: ignore[arg-type]
            told = in_units(f"held at 20.5 to 123.4 {printed(text)}, as said.")
        found = re.fullmatch(r"held at (\S+) to (\S+) (.+), as said\.", told)
        assert found is not None, told
        of = find(found[3], (dimension,))
        before = find(text, (dimension,))
        assert of is not None
        assert before is not None
        for written, number in zip((found[1], found[2]), (20.5, 123.4), strict=True):
            value = of.to_si(float(written.replace(",", "")))
            assert value == pytest.approx(before.to_si(number), rel=0.02), told
        assert found[3] not in OTHER[system]
    assert DIMENSIONS


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ('write "20 N*m"', 'write "20 N*m"'),
        ("pull 2 in gear 4 at 5,600 rpm", "pull 2 in gear 4 at 5,600 rpm"),
        ("162 of 196 kg/h", "357 of 432 lb/h"),
        ("0.4 ± 0.1 bar", "6 ± 1 psi"),
        ("-40 degC", "-40 degF"),
        ("10 to 40 K above", "10 to 40 K above"),
        ("run-1.csv 3 m", "run-1.csv 10 ft"),
    ],
)
def test_sentences(said: str, told: str) -> None:
    with all_in("us"):
        assert in_units(said) == told
    assert in_units(said) == said  # where nobody said for whom


@pytest.fixture(scope="module")
def by_road_speed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A car of which only the road speed is known: two visits, the second with more power."""
    from buildlog.cli.main import cli

    base = tmp_path_factory.mktemp("road")
    car = base / "car"

    def call(*words: str) -> None:
        told = CliRunner().invoke(cli, [*words])
        assert told.exit_code == 0, (words, told.output)

    at = ("--ledger", str(car))
    call("new", str(car), "--name", "Halder Rook")
    for day, stage, seeds in ((1, "one", (1, 2)), (2, "two", (3, 4))):
        runs = [base / f"run-{seed}.csv" for seed in seeds]
        for seed, run in zip(seeds, runs, strict=True):
            heads, *rows = pull(seed).decode().splitlines()
            more = [row.split(",") for row in rows]
            lines = [",".join([*cells[:-1], f"{day * float(cells[-1]):.3f}"]) for cells in more]
            run.write_text("\n".join([heads, *lines, ""]))
        said = ("--date", f"2026-05-0{day}", "--standard-applied", "none", "--dyno", "R1")
        call("set", f"exhaust.pipe_diameter={50 + day} mm", *at)
        call("record", "-m", "pipe", "--odometer", "88000 mi", "--date", said[1], *at)
        call("dyno", "add", *map(str, runs), "--session", stage, *said, *at)
        call(
            "record",
            "-m",
            stage,
            "--stage",
            stage,
            "--odometer",
            "88000 mi",
            "--date",
            said[1],
            *at,
        )
    (base / "log.csv").write_bytes(Logger(10).file(3.7, "time [s],speed [km/h],lambda"))
    (base / "run-5.csv").write_bytes(pull(5))
    return car


@pytest.mark.parametrize("system", ["us", "metric", ""])
@pytest.mark.parametrize(
    "words",
    ["dyno sheet --full", "dyno compare one two", "diff one two --full", "report two --full",
     "report two --out {}/two.html", "plot one two --out {}/p.svg", "history",
     "dyno add {}/run-5.csv --session three", "dyno log {}/log.csv --session one --pull run-1.csv"],
)  # fmt: skip
def test_where_road_speed_is_the_axis_it_is_in_the_system(
    words: str, system: str, by_road_speed: Path, buildlog: Call, tmp_path: Path
) -> None:
    car = Path(shutil.copytree(by_road_speed, tmp_path / "car"))
    for one in by_road_speed.parent.glob("*.csv"):
        shutil.copy(one, tmp_path)
    told = buildlog(*asked(words, tmp_path), *units(system), at=car)
    assert told.status == 0, told.err
    made = [path.read_text("utf-8") for path in tmp_path.glob("*.[hs][tv][mg]*")]
    text = "\n".join([told.out, *made])
    text = re.sub(r"base64,[\w+/=]+", "", text)  # letters of a font may spell anything
    kept = re.sub(r'"[^"]*\[km/h\]"[^(\n]*', "", text)  # a column's own heading and unit
    assert ("km/h" in kept, "mph" in kept) in {
        (system == "metric", system != "metric"), (False, False)}  # fmt: skip
    if "history" not in words:
        assert ("km/h" if system == "metric" else "mph") in kept


def test_road_speed_is_turned_exactly(by_road_speed: Path, buildlog: Call) -> None:
    """1,609.344 m in a mile: international yard and pound agreement of 1959."""
    kept = json.loads(buildlog("dyno", "sheet", "--json", "--units", "us", at=by_road_speed).out)
    assert kept["axis_unit"] == "km/h"
    for system, scale in (("us", 1.609344), ("metric", 1.0)):
        first = buildlog("dyno", "sheet", "--units", system, at=by_road_speed).out.splitlines()[0]
        shown = re.search(r"at (\d+) (?:mph|km/h)", first)
        assert shown is not None
        peak = kept["groups"][0]["peak_power"]["at"] if "groups" in kept else kept["mean"]["at"]
        assert int(shown[1]) == round(peak / scale)


@pytest.mark.parametrize(("said", "shown"), [("", "3.307 in 3.35 in"), ("metric", "84.0 mm 85 mm")])
def test_what_is_recorded_is_shown_in_the_cars_own_units(
    demo_copy: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch, said: str, shown: str
) -> None:
    """`set` repeats what was typed, the file keeps it, and the screen of the entry is as any."""
    if said:
        Path(os.environ["BUILDLOG_CONFIG"]).write_text(f'units = "{said}"\n')
    assert "84.0 mm -> 85 mm" in buildlog("set", 'engine.bore="85 mm"', at=demo_copy).out
    done = buildlog("record", "-m", "bored", "--odometer", "90000 mi", at=demo_copy)
    assert done.status == 0, done.err
    assert f"engine bore {shown}" in " ".join(done.out.split())
    assert b'bore = "85 mm"' in (demo_copy / "car.toml").read_bytes()

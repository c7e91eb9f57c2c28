"""What a text of 10, 100, 1,000 and 10,000 words costs wherever one may stand: a table.

`python -m tests.benchmarks.count_words [WORDS...]`: processor time in seconds and, in brackets,
lines of Python that ran; WORDS: rows that bear one of them. Growth is how much more the longest
costs than the one before: ten times is linear, and one that is refused costs less. Beneath: an
integer of 20,000 digits, and the memory that a log of 400 MB needs. Run by hand.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.attack.worlds import Said, at_home_in, call
from tests.conftest import ROOT, WHO, pin
from tests.counting import lines_run
from tests.histories import git, usual
from tests.store.test_photo import picture

COUNTS = (10, 100, 1_000, 10_000)
Case = Callable[[Path, int], list[Said]]
ROWS = [f"{n},{n / 50:.2f}" for n in range(2500, 6500, 100)]


def words(count: int, sign: str = " ") -> str:
    return sign.join(f"word{n}" for n in range(count))


def heading(car: Path, count: int) -> list[Said]:
    """One title of a column."""
    (car / "pull.csv").write_text("\n".join([f"n [1/min],P {words(count)} [kW]", *ROWS, ""]))
    return [call(car, "dyno", "add", "pull.csv", "--session", "run", "--gear", "4")]


def columns(car: Path, count: int) -> list[Said]:
    """As many columns."""
    rows = [row + ",1" * count for row in ROWS]
    titles = f"n [1/min],P [kW],{words(count, ',')}"
    (car / "pull.csv").write_text("\n".join([titles, *rows, ""]))
    return [call(car, "dyno", "add", "pull.csv", "--session", "run", "--gear", "4")]


def preamble(car: Path, count: int) -> list[Said]:
    """As many lines above the table."""
    lines = [f"word{n}: {n}" for n in range(count)]
    (car / "pull.csv").write_text("\n".join([*lines, "n [1/min],P [kW]", *ROWS, ""]))
    return [call(car, "dyno", "add", "pull.csv", "--session", "run", "--gear", "4")]


def value(car: Path, count: int) -> list[Said]:
    """A text in car.toml, from the command line to the history."""
    return [
        call(car, "set", f"car.note={words(count)}"),
        call(car, "check"),
        call(car, "diff"),
        call(car, "record", "-m", "noted", "--odometer", "unknown"),
        call(car, "show"),
    ]


def figure(car: Path, count: int) -> list[Said]:
    """A figure with more than its unit behind it, by `set` and by hand."""
    said = call(car, "set", f"engine.bore=90 {words(count)}")
    text = (car / "car.toml").read_text()
    (car / "car.toml").write_text(text + f'\n[body]\nlength = "4 {words(count)}"\n')
    return [said, call(car, "check")]


def key(car: Path, count: int) -> list[Said]:
    """A key with as many parts."""
    text = (car / "car.toml").read_text()
    (car / "car.toml").write_text(f"{words(count, '.')} = 1\n" + text)
    return [call(car, "check")]


def message(car: Path, count: int) -> list[Said]:
    """What is said of an entry."""
    said = call(car, "set", "engine.bore=90.1 mm")
    said_ = call(car, "record", "-m", words(count), "--odometer", "unknown")
    return [said, said_, call(car, "history")]


def name(car: Path, count: int) -> list[Said]:
    """The name of a photo as a phone sends it, and a path that is typed."""
    from buildlog.desk.acts import attachments
    from buildlog.store.ledger.ledger import Ledger

    with Ledger.open(car) as ledger:
        attachments.attach_photos(ledger, [(f"{words(count)}.jpeg", picture())])
    return [call(car, "attach", words(count)), call(car, "show", words(count))]


def checklist(car: Path, count: int) -> list[Said]:
    """A list of the shop's own with as many items."""
    items = [f'[[item]]\nkey = "k{n}"\ntext = "Look at {n}."\n' for n in range(count)]
    (car / "lists").mkdir(exist_ok=True)
    (car / "lists/own.toml").write_text('format = 1\ntitle = "Own"\n\n' + "\n".join(items))
    return [call(car, "checklist", "start", "own"), call(car, "checklist", "list"),
            call(car, "checklist", "tick", "k1", "--list", "own", "--result", "pass")]  # fmt: skip


def joints(car: Path, count: int) -> list[Said]:
    """A maker's sheet of joints."""
    rows = [f"joint {n},4,22 N*m" for n in range(count)]
    (car / "joints.csv").write_text("\n".join(["Joint,Count,Torque", *rows, ""]))
    return [call(car, "torque", "sheet", "joints.csv", "--title", "mains"),
            call(car, "torque", "list")]  # fmt: skip


def alike(car: Path, count: int) -> list[Said]:
    """As many items that bear one name, and as many fields that are none."""
    (car / "car.toml").write_text(
        (car / "car.toml").read_text() + '\n[[work]]\nitem = "paint"\n' * count
        + "[body]\n" + "".join(f"x{n} = 1\n" for n in range(count)))  # fmt: skip
    return [call(car, "check")]


def works(car: Path, count: int) -> list[Said]:
    """As many items of one list in car.toml."""
    items = [f'\n[[work]]\nitem = "item {n}"\n' for n in range(count)]
    (car / "car.toml").write_text((car / "car.toml").read_text() + "".join(items))
    return [call(car, "check"), call(car, "diff"), call(car, "show"),
            call(car, "record", "-m", "worked", "--odometer", "unknown")]  # fmt: skip


def plan_text(car: Path, count: int) -> list[Said]:
    """The note of a plan and a text of its car."""
    return [call(car, "plan", "new", "p"),
            call(car, "plan", "set", "p", f"note={words(count)}", f"car.note={words(count)}"),
            call(car, "plan", "show", "p"), call(car, "plan", "list"),
            call(car, "plan", "adopt", "p")]  # fmt: skip


def plan_changes(car: Path, count: int) -> list[Said]:
    """A plan that changes as many things, made from the working files."""
    items = [f'\n[[work]]\nitem = "item {n}"\n' for n in range(count)]
    (car / "car.toml").write_text((car / "car.toml").read_text() + "".join(items))
    made = call(car, "plan", "new", "p", "--from", "working")
    git(car, "checkout", "-q", "car.toml")
    rest = (["show", "p"], ["list"], ["set", "p", "engine.bore=91 mm"], ["adopt", "p"])
    return [made, *(call(car, "plan", *words_) for words_ in rest)]


def plan_charges(car: Path, count: int) -> list[Said]:
    """A plan with as many lines of a quote."""
    items = [f"charge[line {n}]=5" for n in range(count)]
    return [call(car, "plan", "new", "p"),
            call(car, "plan", "set", "p", "currency=EUR", "engine.bore=91 mm", *items),
            call(car, "plan", "show", "p"), call(car, "plan", "quote", "p")]  # fmt: skip


CASES: dict[str, Case] = {
    "header: one title": heading, "header: columns": columns, "header: lines above": preamble,
    "value: a note": value, "value: a figure": figure, "value: a key's parts": key,
    "value: a message": message, "file name": name, "list: a checklist": checklist,
    "list: joints of a sheet": joints, "list: in car.toml": works,
    "list: all of it wrong": alike, "plan: its texts": plan_text,
    "plan: its changes": plan_changes, "plan: lines of its quote": plan_charges,
}  # fmt: skip


def cost(place: Path, case: Case, count: int, traced: bool) -> tuple[float, str]:
    """Processor time of a case in a ledger of its own, or lines that ran; how its calls ended."""
    with tempfile.TemporaryDirectory(dir=place) as folder:
        usual(Path(folder) / "car").close()
        if traced:
            with lines_run() as run:
                said = case(Path(folder) / "car", count)
            spent = float(run.number)
        else:
            before = time.process_time()
            said = case(Path(folder) / "car", count)
            spent = time.process_time() - before
    assert all("itself failed" not in one.err for one in said), [one.err for one in said]
    return spent, ", ".join(str(one.status) for one in said)


LOG = """
import re, sys
from buildlog.cli.main import run
try:
    run(sys.argv[1:])
finally:
    print("peak", re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1])
"""
TITLES = "t [s],n [1/min],P [kW],AFR,lambda,T [degC],p [kPa],v [m/s]\n"


def flat(number: int) -> str:
    """No sweep anywhere."""
    return "0.01,2500,60.1,12.5,0.99,80.5,101.3,22.0"


def pulls(number: int) -> str:
    """A pull of 900 rows in the middle, at little load before and after."""
    into = number - 5_000_000
    n, power = (2500 + into * 4, 60 + into / 10) if 0 <= into < 900 else (2000, 1)
    return f"{number / 100:.2f},{n},{power:.1f},12.5,0.85,80.5,101.3,22.0"


def large_log(place: Path) -> str:
    """What is said of logs of 400 MB, and the memory that it took."""
    usual(place / "car").close()
    for name, row in (("flat.csv", flat), ("log.csv", pulls)):
        with (place / "car" / name).open("w") as file:
            file.write(TITLES)
            file.writelines(row(number) + "\n" for number in range(10_000_000))
    told = []
    add = ["--session", "run", "--gear", "4", "--standard-applied", "none"]
    for words_ in (["dyno", "add", "flat.csv", *add], ["dyno", "add", "log.csv", *add],
                   ["dyno", "log", "log.csv", "--session", "run"],
                   ["dyno", "coast", "log.csv", "--mass", "1385 kg"], ["attach", "log.csv"],
                   ["attach", "--outside", "log.csv"],
                   ["record", "-m", "x", "--odometer", "unknown"], ["verify"]):  # fmt: skip
        ended = subprocess.run([sys.executable, "-c", LOG, *words_], cwd=place / "car", text=True,
                               stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False,
                               env=os.environ | {"PYTHONPATH": str(ROOT)})  # fmt: skip
        said, _, peak = ended.stdout.rpartition("peak ")
        told.append(f"{' '.join(words_)[:40]:42}{int(peak) / 1024:6.0f} MB  exit {ended.returncode}"
                    f"  {' '.join(said.split())[:110]}")  # fmt: skip
    return "\n".join(told)


def digits(place: Path, count: int) -> str:
    """An integer of so many digits, by hand and by `set`."""
    usual(place / f"car-{count}").close()
    car = place / f"car-{count}"
    before = time.process_time()
    said = call(car, "set", f"engine.cylinders={'9' * count}")
    (car / "car.toml").write_text(f"x = {'9' * count}\n" + (car / "car.toml").read_text())
    by_hand = call(car, "check")
    spent = time.process_time() - before
    first = (by_hand.out + by_hand.err).strip().split("\n")[0]
    return f"{count:>7} digits {spent:6.2f} s  exit {said.status}, {by_hand.status}  {first[:90]}"


def main() -> int:
    """Print the table."""
    asked = argparse.ArgumentParser()
    asked.add_argument("words", nargs="*")
    said = asked.parse_args()
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        pin(patch, place)
        (place / "home/.gitconfig").write_text(WHO)
        at_home_in(place)
        print(
            f"{'words':26}"
            + "".join(f"{count:>20,}" for count in COUNTS)
            + "   growth; the longest ended with"
        )
        for row, case in CASES.items():
            if said.words and not any(word in row for word in said.words):
                continue
            cost(place, case, 2, traced=False)  # what a process loads once
            spent = [cost(place, case, count, traced=False)[0] for count in COUNTS]
            lines = [cost(place, case, count, traced=True)[0] for count in COUNTS]
            ended = cost(place, case, COUNTS[-1], traced=False)[1]
            shown = "".join(f"{one:10.2f} ({two / 1e6:5.2f} M)"
                            for one, two in zip(spent, lines, strict=True))  # fmt: skip
            grown = f"{spent[-1] / spent[-2]:.1f} ({lines[-1] / lines[-2]:.1f})"
            print(f"{row:26}{shown}   {grown}   exit {ended}", flush=True)
        if not said.words or "digits" in said.words:
            print(*(digits(place, count) for count in (*COUNTS, 20_000)), sep="\n", flush=True)
        if not said.words or "log" in said.words:
            print(large_log(place), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())

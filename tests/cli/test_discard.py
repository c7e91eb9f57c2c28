"""What is not recorded is taken out of the folder, kept, and put back byte for byte."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest

from buildlog.desk.acts.discarding import discard
from buildlog.desk.snapshot import opening
from buildlog.store.ledger import taken_out
from tests.conftest import Call
from tests.histories import PULL, SESSION, usual
from tests.terminal import at_terminal


@pytest.fixture
def car(tmp_path: Path, buildlog: Call) -> Path:
    with usual(tmp_path / "car") as ledger:
        folder = ledger.folder
    session = folder / "dyno/2026-03-14-stage-1"
    session.mkdir()
    (session / "session.toml").write_text(SESSION)
    (session / "pull-1.csv").write_bytes(PULL)
    (folder / "attachments/photos").mkdir(parents=True)
    (folder / "attachments/photos/a.jpg").write_bytes(b"\xff\xd8\xff\xd9")
    buildlog("fault", "add", "belt squeals", "--date", "2026-03-14", at=folder)
    buildlog("checklist", "start", "before-dyno", "--date", "2026-03-14")
    buildlog("torque", "add", "header flange", "--torque", "22 N*m", "--date", "2026-03-14")
    return folder


def files(folder: Path) -> dict[str, bytes]:
    found = (path for path in folder.rglob("*") if path.is_file() and ".git" not in path.parts)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


@pytest.mark.parametrize(
    ("name", "gone"),
    [
        ("2026-03-14-stage-1", ["dyno/2026-03-14-stage-1/pull-1.csv",
                                "dyno/2026-03-14-stage-1/session.toml"]),
        ("dyno/2026-03-14-stage-1", 2), ("squeals", 1), ("checks/2026-03-14-before-dyno.toml", 1),
        ("2026-03-14-header-flange", 1), ("attachments/photos/a.jpg", 1),
    ],
)  # fmt: skip
def test_one_thing_goes_whole_and_comes_back(
    car: Path, buildlog: Call, name: str, gone: list[str] | int
) -> None:
    before = files(car)
    done = buildlog("discard", name, "--json", at=car)
    assert done.status == 0, done.err
    told = json.loads(done.out)
    missing = sorted(set(before) - set(files(car)))
    assert missing == sorted(told["things"][0]["paths"])
    assert missing == gone if isinstance(gone, list) else len(missing) == gone
    assert not any((car / folder).is_dir() and not any((car / folder).iterdir())
                   for folder in ("dyno/2026-03-14-stage-1", "attachments/photos"))  # fmt: skip
    listed = json.loads(buildlog("discard", "--back", "--json").out)["kept"]
    assert [one["paths"] for one in listed] == [told["things"][0]["paths"]]
    assert buildlog("discard", "--back", told["kept_as"]).status == 0
    assert files(car) == before
    assert "nothing is kept" in buildlog("discard", "--back").out


@pytest.mark.parametrize(
    ("arguments", "status", "hint"),
    [
        ([], 2, "--all"),
        (["baseline"], 4, "--corrects"),
        (["2026-01-07-baseline"], 4, "--corrects"),
        (["car.toml"], 4, "buildlog set"),
        (["dyno/2026-03-14-stage-1/pull-1.csv"], 4, "discard 2026-03-14-stage-1"),
        (["nothing"], 3, ""),
        (["2026-03-14"], 3, "2026-03-14-"),
        (["2026-03-14-stage-1", "nothing"], 3, ""),
        (["--back", "2026-03-14-9"], 3, "kept: nothing"),
        (["../../etc/passwd"], 3, ""),
    ],
)
def test_what_cannot_be_taken_out_is_refused_and_all_stays(
    car: Path, buildlog: Call, arguments: list[str], status: int, hint: str
) -> None:
    before = files(car)
    done = buildlog("discard", *arguments, at=car)
    assert done.status == status, done.out + done.err
    assert hint in done.err
    assert files(car) == before


def test_all_is_shown_first_and_taken_when_it_is_agreed(car: Path, buildlog: Call) -> None:
    before = files(car)
    shown = buildlog("discard", "--all", at=car)
    assert "nothing taken out yet: 5 things" in shown.out
    assert files(car) == before
    screen = at_terminal(car, ["discard", "--all"], ["n"], prompt="[y/N]:")
    assert "2026-03-14-header-flange" in screen
    assert files(car) == before
    assert buildlog("discard", "--all", "--yes").status == 0
    assert set(files(car)) == {
        "car.toml", "dyno/2026-01-07-baseline/session.toml", "dyno/2026-01-07-baseline/pull-1.csv",
    }  # fmt: skip
    assert buildlog("discard", "--all").status == 3


def test_pulls_added_to_a_recorded_session_go_and_its_text_is_as_it_was(
    car: Path, buildlog: Call
) -> None:
    own = car / "dyno/2026-01-07-baseline/session.toml"
    recorded = own.read_bytes()
    own.write_bytes(recorded + b'\n[[pull]]\nfile = "pull-2.csv"\n')
    (own.parent / "pull-2.csv").write_bytes(PULL)
    before = files(car)
    assert buildlog("discard", "2026-01-07-baseline", at=car).status == 0
    assert own.read_bytes() == recorded
    assert not (own.parent / "pull-2.csv").exists()
    name = json.loads(buildlog("discard", "--back", "--json").out)["kept"][0]["name"]
    assert buildlog("discard", "--back", name).status == 0
    assert files(car) == before


def test_another_file_in_its_place_is_not_written_over(car: Path, buildlog: Call) -> None:
    buildlog("discard", "squeals", at=car)
    buildlog("fault", "add", "belt squeals", "--date", "2026-03-14", "--note", "again")
    name = json.loads(buildlog("discard", "--back", "--json").out)["kept"][0]["name"]
    done = buildlog("discard", "--back", name)
    assert done.status == 6
    assert "another file stands there" in done.err
    assert b"again" in (car / "faults/2026-03-14-belt-squeals.toml").read_bytes()


def test_it_is_kept_for_a_week_and_no_longer(car: Path) -> None:
    now = dt.datetime(2026, 3, 14, tzinfo=dt.UTC)
    for days in (0, 6, 8):
        taken_out.keep(car, {f"faults/{days}.toml": b"x"}, {}, now + dt.timedelta(days=days))
    assert [one.paths[0] for one in taken_out.kept(car)] == ["faults/6.toml", "faults/8.toml"]
    half = taken_out.kept(car)[0].place.parent / "2026-03-20-9"
    half.mkdir()  # whose note was never written
    taken_out.keep(car, {"faults/9.toml": b"x"}, {}, now + dt.timedelta(days=9))
    assert not half.exists()


def test_a_death_in_between_loses_nothing(car: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is gone from the folder is kept: the copy comes before the first file goes."""
    before = files(car)
    unlink, count = Path.unlink, []

    def dies(self: Path, missing_ok: bool = False) -> None:
        if self.suffix in (".csv", ".toml") and car in self.parents:
            count.append(self)
            if len(count) == 2:
                raise KeyboardInterrupt
        unlink(self, missing_ok)

    with monkeypatch.context() as patch, opening.ledger(car) as ledger:
        patch.setattr(Path, "unlink", dies)
        with pytest.raises(KeyboardInterrupt):
            discard(ledger, ["2026-03-14-stage-1"])
    (kept,) = taken_out.kept(car)
    assert {path: kept.data(path) for path in kept.paths} | files(car) == before

"""Clocks that are wrong, keys of long ago, and two contents under one git id (K5, K6, D6)."""

from __future__ import annotations

import datetime as dt
import time
import zlib
from pathlib import Path
from typing import Any

import pytest
from dulwich.objects import Blob, ShaFile

from buildlog.findings import Finding
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import verify
from tests.histories import CAR, SHOP, START, git, history, loosen, put, record, usual

HOUR, DAY, YEAR = dt.timedelta(hours=1), dt.timedelta(days=1), dt.timedelta(days=365.25)


def at(year: int, month: int, day: int, *clock: int) -> dt.datetime:
    hour, minute, second = (*clock, 0, 0, 0)[:3]
    return dt.datetime(year, month, day, hour, minute, second, tzinfo=dt.UTC)


BEHIND = [
    START - HOUR, START - DAY, START - 10 * YEAR, at(1970, 1, 1), at(1970, 1, 1, 0, 0, 1),
    at(2001, 9, 9, 1, 46, 39),
]  # fmt: skip
AHEAD = [
    START + DAY * 30, START + 10 * YEAR, at(2038, 1, 19, 3, 14, 7), at(2038, 1, 19, 3, 14, 8),
    at(2100, 2, 28, 23, 59, 59), at(2106, 2, 7, 6, 28, 16),
]  # fmt: skip


def two_more(folder: Path, first: dt.datetime) -> Ledger:
    """Three usual entries, one of a clock that is wrong, one after the clock was put right."""
    ledger = usual(folder)
    for number, now in enumerate((first, START + 9 * DAY)):
        (folder / "car.toml").write_text(CAR.replace("9.2", f"8.{number}"))
        ledger.record(EntryFacts(f"clock {number}", work_date=(START + DAY * (8 + number)).date()),
                      Recorder(SHOP, now))  # fmt: skip
    return ledger


@pytest.mark.parametrize("moment", [*BEHIND, *AHEAD], ids=str)
def test_a_wrong_clock_is_a_note_and_the_chain_gives_the_order(
    moment: dt.datetime, tmp_path: Path
) -> None:
    with two_more(tmp_path / "car", moment) as ledger:
        entries = ledger.entries()
        assert [entry.subject for entry in entries][-2:] == ["clock 0", "clock 1"]
        assert [entry.number for entry in entries] == [1, 2, 3, 4, 5]
        assert entries[3].recorded_at == moment
        found = verify(ledger)
    assert found.verdict == "consistent"
    assert {(one.code, one.severity) for one in found.findings} == {("clock", "note")}
    odd = entries[3] if moment in BEHIND else entries[4]  # ahead: the next one looks late
    assert [one.where for one in found.findings] == [odd.id]
    git(tmp_path / "car", "fsck", "--full", "--strict")


ZONES = ["UTC", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Europe/London"]


def over_the_doubled_hour(folder: Path) -> str:
    """Three entries an hour apart while London's 1 o'clock of 2026-10-25 is there twice."""
    with history(folder, [put("car.toml", CAR), record("intake")]) as ledger:
        for number in range(3):
            (folder / "car.toml").write_text(CAR.replace("9.2", f"8.{number}"))
            local = (at(2026, 10, 24, 23, 30) + number * HOUR).astimezone()
            ledger.record(EntryFacts("x", work_date=dt.date(2026, 10, 24)), Recorder(SHOP, local))
        assert verify(ledger).findings == ()
        return ledger.entries()[-1].id


def test_the_zone_and_summer_time_change_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ids = set()
    for number, zone in enumerate(ZONES):
        with monkeypatch.context() as patch:
            patch.setenv("TZ", zone)
            time.tzset()
            ids.add(over_the_doubled_hour(tmp_path / str(number)))
    time.tzset()
    assert len(ids) == 1  # the same id wherever the shop stands


def test_two_contents_under_one_git_id_are_told_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SHA-1 is made to agree: every check of git's kind passes, the SHA-256 chain does not."""
    folder = tmp_path / "car"
    usual(folder).close()
    loosen(folder)
    name = git(folder, "rev-parse", "HEAD:car.toml").strip()
    other = git(folder, "cat-file", "blob", name).replace("9.0", "8.0").encode()
    place = folder / ".git/objects" / name[:2] / name[2:]
    place.chmod(0o644)
    place.write_bytes(zlib.compress(f"blob {len(other)}\0".encode() + other))
    (folder / "car.toml").write_bytes(other)
    assert {one.code for one in judged(folder)} >= {"object", "digest"}
    collide(monkeypatch, other, name)
    assert {one.code for one in judged(folder)} == {"digest"}


def judged(folder: Path) -> list[Finding]:
    with Ledger.open(folder) as ledger:
        found = verify(ledger)
    assert found.verdict == "altered"
    return [one for one in found.findings if one.severity == "error"]


def collide(monkeypatch: pytest.MonkeyPatch, data: bytes, name: str) -> None:
    """Let this content have that git id, as a pair of colliding files would."""
    honest = ShaFile.sha

    class Forged:
        def digest(self) -> bytes:
            return bytes.fromhex(name)

        def hexdigest(self) -> str:
            return name

    def sha(self: ShaFile, *arguments: Any, **options: Any) -> Any:
        same = isinstance(self, Blob) and self.data == data
        return Forged() if same else honest(self, *arguments, **options)

    monkeypatch.setattr(ShaFile, "sha", sha)

"""Ledgers of any length for the benchmarks: real entries, written without waiting for the disk.

The car, its session and its pulls are those of the demo's baseline. In every twentieth entry
car.toml changes; a session of three pulls is added every ten entries, in longer histories
twenty times in all; the other entries carry words only.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from dulwich.objects import Blob, ShaFile

from buildlog.store.git import message, packs
from buildlog.store.git.message import EntryFacts
from buildlog.store.git.repo import MAIN, REGULAR
from buildlog.store.ledger import append
from buildlog.store.ledger.ledger import Ledger

START = datetime(2016, 1, 4, 9, 0, tzinfo=UTC)
CAR_EVERY, SESSION_EVERY = 20, 10


def material() -> dict[str, bytes]:
    """The demo's files at its first session, by path."""
    from buildlog.desk.acts.replay import demo_source, replay

    with tempfile.TemporaryDirectory() as folder:
        replay(demo_source(), Path(folder))
        with Ledger.open(Path(folder)) as ledger:
            first = next(entry for entry in ledger.entries() if ledger.sessions_added(entry))
            return {path: ledger.read(first, path) for path in ledger.files(first)}


def demo_with_layouts(folder: Path, scratch: Path) -> Path:
    """The demo as `dyno add` records it today: session.toml holds the layout of its raw files."""
    import tomlkit

    from buildlog.analysis.pulls.recorded_layout import layout_table
    from buildlog.desk.acts.replay import demo_source, replay
    from buildlog.rawfiles.layout import find_layout

    source = shutil.copytree(demo_source(), scratch)
    for session in source.rglob("session.toml"):
        said = tomlkit.parse(session.read_text("utf-8"))
        raw = session.parent / said.unwrap()["pull"][0]["file"]
        said["layout"] = layout_table(find_layout(raw, raw.name))
        session.write_text(tomlkit.dumps(said), "utf-8")
    replay(source, folder)
    return folder


def make(folder: Path, count: int, number: int, files: dict[str, bytes]) -> Path:
    """A ledger of `count` entries; `number` makes it another car."""
    folder.mkdir(parents=True, exist_ok=True)
    waited, os.fsync = os.fsync, lambda _: None  # nobody is told "recorded" here
    try:
        with Ledger.create(folder, nonce=f"{number:032x}") as ledger:
            _write(ledger, count, number, files)
    finally:
        os.fsync = waited
    return folder


def _write(ledger: Ledger, count: int, number: int, files: dict[str, bytes]) -> None:
    car = files["car.toml"].replace(b'name = "', f'name = "{number} '.encode(), 1)
    session = {Path(p).name: data for p, data in files.items() if p.startswith("dyno/")}
    held: dict[bytes, tuple[int, str]] = {}
    tip, ledger_id = None, f"{number:032x}"
    made, every = -1.0, max(SESSION_EVERY, count // 20)
    for index in range(count):
        objects: list[ShaFile] = []
        day = START + timedelta(days=2 * index * 1000 // max(count, 1000))
        measured = None
        if index % CAR_EVERY == 0:
            made = 1300 + (number * 7 + index) % 200
            _hold(ledger, held, objects, "car.toml", _with_mass(car, made))
        if index % every == SESSION_EVERY // 2:
            name = f"{day.date()}-{index}"
            for file, data in session.items():
                said = _on(data, day.date()) if file == "session.toml" else data
                _hold(ledger, held, objects, f"dyno/{name}/{file}", said)
            measured = f"{95_000 + 37 * (index % 90)} W at 5500 rpm, wheels, SAE J1349, 3 pulls"
        facts = EntryFacts(
            f"work {index}", kind="dyno" if measured else "found" if index == 0 else "build",
            stage=f"stage-{index // 20}" if index % 20 == 5 else None,
            odometer=f"{60_000 + 40 * index} mi", work_date=day.date(), done_by="T2",
            changed="chassis mass" if index % CAR_EVERY == 0 else None, measured=measured,
        )  # fmt: skip
        parents = [tip] if tip else []
        nonce = None if tip else f"{number:032x}"
        shop = append.identity("Quarry Lane Motors", ledger_id)
        text, when = message.build(facts, nonce=nonce), int(day.timestamp())
        trees, commit = append.chained(ledger.repo, held, parents, shop, when, text)
        packs.gather(ledger.repo.git, ledger.repo.objects)
        with ledger.repo.adding([*objects, *trees, commit]):
            pass
        tip = commit.id.decode()
        ledger_id = ledger_id if parents else tip
    ledger.repo.move(MAIN, None, tip or "")
    (ledger.folder / "car.toml").write_bytes(_with_mass(car, made))
    for path, (_, blob) in held.items():
        place = ledger.folder / path.decode()
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(ledger.repo.blob(blob))


def _hold(
    ledger: Ledger, held: dict[bytes, tuple[int, str]], objects: list[ShaFile], path: str,
    data: bytes,
) -> None:  # fmt: skip
    blob = Blob.from_string(data)
    objects.append(blob)
    ledger.repo.expect(blob.id.decode(), data)
    held[path.encode()] = (REGULAR, blob.id.decode())


def _with_mass(car: bytes, mass: float) -> bytes:
    lines = car.split(b"\n")
    found = next(i for i, line in enumerate(lines) if line.startswith(b"mass"))
    lines[found] = f'mass = "{mass:.0f} kg"'.encode()
    return b"\n".join(lines)


def _on(session: bytes, day: date) -> bytes:
    lines = session.split(b"\n")
    found = next(i for i, line in enumerate(lines) if line.startswith(b"date"))
    lines[found] = f"date = {day}".encode()
    return b"\n".join(lines)

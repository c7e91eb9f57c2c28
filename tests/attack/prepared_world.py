"""A shop's place in which every command that writes finds something to write."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric import ed25519
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
)

from buildlog.store.ledger import recorded
from tests.attack.taps import MADE_BEFORE
from tests.attack.worlds import at_home_in, done
from tests.cli.dyno_ledger import dyno_ledger, write_visit
from tests.logger_files import Logger, pull
from tests.page.served import PNG


def prepared(place: Path) -> Path:
    """What every command that writes finds something to write in; see the functions below."""
    place.mkdir()
    at_home_in(place)
    _files(place)
    _car(place)
    _other_states_of_it(place)
    _measured(place)
    assert MADE_BEFORE.run(place).status == 0
    done(place / "car", "pack")  # `tern` stays as entries leave it
    return place


def _files(place: Path) -> None:
    (place / "note.txt").write_text("boost gauge: 7 psi\n")
    rows = [f"{n},{n / 50:.2f}" for n in range(2500, 6500, 50)]
    (place / "pull.csv").write_text("\n".join(["n [1/min],P [kW]", *rows, ""]))
    (place / "joints.csv").write_text("joint,count,torque\nhead bolt,4,60 N*m\ncap,2,45 N*m\n")
    (place / "seen.toml").write_text('[set]\n"engine.bore" = "90.4 mm"\n')
    (place / "gap.png").write_bytes(PNG)
    (place / "staff.toml").write_text('codes = ["D-07", "K-02"]\n')
    (place / "run-1.csv").write_bytes(pull(1))
    (place / "wideband.csv").write_bytes(Logger(10, 1.01).file(3.7, "time [s],speed [km/h],lambda"))
    for number in range(1, 5):
        key = ed25519.Ed25519PrivateKey.generate()
        (place / f"bench-{number}").write_bytes(
            key.private_bytes(Encoding.PEM, PrivateFormat.OpenSSH, NoEncryption())
        )
        (place / f"bench-{number}").chmod(0o600)
        (place / f"bench-{number}.pub").write_bytes(
            key.public_key().public_bytes(Encoding.OpenSSH, PublicFormat.OpenSSH) + b"\n"
        )


def _car(place: Path) -> None:
    """`car`: entries, a plan, a key, and each kind of thing begun; its `copy` with an entry of its
    own; a package."""
    done(place, "new", "car", "--name", "Marrow Tern", "--year", "1994")
    car = place / "car"
    done(car, "record", "-m", "as found", "--odometer", "88000 mi")
    shutil.copytree(car, place / "lost")
    done(car, "set", "engine.bore=90.2 mm")
    done(car, "key", "add", "bench 1", "--key", str(place / "bench-1"))
    second = ("--public", str(place / "bench-2.pub"), "--key", str(place / "bench-1"))
    done(car, "key", "add", "bench 2", *second)
    done(car, "record", "-m", "bored", "--odometer", "88100 mi", "--stage", "stage-1")
    done(car, "plan", "new", "cam")
    done(car, "plan", "set", "cam", "engine.bore=91 mm")
    done(car, "sync", str(place / "copy"))
    done(place / "copy", "attach", str(place / "note.txt"))
    done(place / "copy", "record", "-m", "a note", "--odometer", "88200 mi")
    done(car, "handover", "--to", "R. Holloway", "--no-pdf", str(place / "given"))
    done(car, "attach", "--personal", str(place / "note.txt"), "--folder", "kept")
    done(car, "due", "add", "engine oil", "--every", "5000 mi")
    done(car, "checklist", "start", "first-start")
    done(car, "checklist", "tick", "fuel-leaks", "--result", "pass")
    done(car, "record", "-m", "half a list, kept", "--odometer", "unknown")
    done(car, "set", "engine.compression_ratio=9.6")
    done(car, "waiting", "add", "head gasket", "--for", "part")
    done(car, "fault", "add", "rattle when cold")
    done(car, "discard", "rattle")
    done(car, "fault", "add", "belt squeals")
    done(car, "torque", "sheet", str(place / "joints.csv"), "--title", "head")


def _other_states_of_it(place: Path) -> None:
    """`lost`: without its branch. `beside`: what another computer recorded here, unjoined."""
    done(place / "lost", "set", "engine.bore=90.2 mm")
    done(place / "lost", "record", "-m", "bored", "--odometer", "88100 mi")
    here, there = place / "beside", place / "there"
    for folder in (here, there, place / "shop/early"):
        shutil.copytree(place / "lost", folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(recorded, "_computer", lambda: "bench-k-02")
        done(there, "fault", "add", "belt squeals")
        done(there, "record", "-m", "squeals", "--odometer", "88120 mi")
    for folder in ("objects", "buildlog"):
        shutil.copytree(there / ".git" / folder, here / ".git" / folder, dirs_exist_ok=True)
    shutil.rmtree(there)
    (place / "lost/.git/refs/heads/main").unlink()


def _measured(place: Path) -> None:
    """`tern`: a car with a visit, a session that is not recorded, a plan that can be quoted."""
    tern = dyno_ledger(place / "tern", [("baseline", {"peaks": [100_000, 100_500, 99_500]})])
    done(tern, "set", "engine.compression_ratio=9.4")
    done(tern, "record", "-m", "raised", "--stage", "stage-1", "--odometer", "88500 mi")
    again = {"peaks": [104_000, 104_500, 103_800]}
    write_visit(tern / "dyno/2026-05-02-again", dt.date(2026, 5, 2), again)
    done(tern, "record", "-m", "measured again", "--odometer", "88600 mi")
    for name in ("cam", "head", "quoted"):
        done(tern, "plan", "new", name)
        done(tern, "plan", "set", name, "engine.compression_ratio=9.8", "charge[work]=300.00",
             "currency=USD", "time=2 working days", "valid_until=2099-07-10")  # fmt: skip
    done(tern, "plan", "quote", "quoted")
    done(tern, "dyno", "add", str(place / "run-1.csv"), "--session", "run", "--gear", "4",
         "--date", "2026-05-14", "--standard-applied", "none", "--dyno", "R1")  # fmt: skip

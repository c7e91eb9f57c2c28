"""The files that calls read beside the ledger, the same each time; the people have no names."""

from __future__ import annotations

import base64
from pathlib import Path

# A grey picture of 8 by 8 points with a position, which way up it was taken, and an artist.
_PHOTO = (
    "/9j/4AAQSkZJRgABAQAAAQABAAD/4QCqRXhpZgAATU0AKgAAAAgAAwESAAMAAAABAAYAAAE7AAIAAAAKAAAAMoglAAQA"
    "AAABAAAAPAAAAABBbiBBcnRpc3QAAAQAAQACAAAAAk4AAAAAAgAFAAAAAwAAAHIAAwACAAAAAkUAAAAABAAFAAAAAwAA"
    "AIoAAAAAAAAANAAAAAEAAAAeAAAAAQAAAAMAAAACAAAADQAAAAEAAAAYAAAAAQAAAAUAAAAC/9sAQwBQNzxGPDJQRkFG"
    "WlVQX3jIgnhubnj1r7mRyP///////////////////////////////////////////////////8AACwgACAAIAQERAP/E"
    "ABQAAQAAAAAAAAAAAAAAAAAAAAP/xAAUEAEAAAAAAAAAAAAAAAAAAAAA/9oACAEBAAA/ADf/2Q=="
)
_ANSWERS = """\
[part]
clutch = "as recorded"
flywheel = "not-seen"

[set]
"fuel.injectors.flow" = "440 cc/min"
"exhaust.mufflers" = 1

[note]
"fuel.injectors" = "red ones, no mark"
"""
_JOINTS = """\
Engine manual, table 4
Joint;Qty;Thread;Class;Stage 1 [Nm];Stage 2 [Nm];Angle;Torque;Sequence;Tool;Remark
Cylinder head;14;M11x1.5;10.9;30;60;90°;;from the centre;W-2;oil the threads
TOP END;;;;;;;;;;
Main caps;8;M10x1.5;10.9;;;;40-45 Nm;;W-2;
Sump;16;M6x1.0;8.8;;;;8,5 Nm;;W-1;
"""
_TOLD = b"""\
Date: 2026-06-09
Odometer: 30 mi
Gear: 4th
Temperature: 68.5 F
Barometer: 29.31 inHg
Humidity: 41 %
Correction: uncorrected

"""
_SIGNING = 'shop = "Estovale"\nsigning_key = "../in/key-1"\n'
_RECHECK = "dyno/2026-06-06-stage-2-recheck"


def prepare(place: Path) -> None:
    """Lay out, beside the ledger `car`: `in` to read, `out` to write, `stick` to sync with."""
    for name in ("in", "out", "stick", "shop"):
        (place / name).mkdir()
    inside = place / "in"
    for number, grade in enumerate((0.002, -0.002), 1):
        _lines(inside / f"coast-{number}.csv", "Time (s),Road Speed (km/h)", _coast(grade))
    _lines(inside / "blind.csv", "Time (s),Power (kW)", [f"{i},{i}" for i in range(40)])
    _lines(inside / "open.csv", "N,P", [f"{2000 + 20 * i},{40 + i / 2}" for i in range(200)])
    for number in (1, 2, 3):
        _steeper(place / "car" / _RECHECK / f"run-{number}.csv", inside / f"run-{number}.csv")
    _lines(inside / "wide.csv", "Time (s),Road Speed (km/h),Lambda,Boost (kPa)", _wide())
    log = (place / "car/dyno/2026-05-09-stage-2/pulls.txt").read_bytes()
    (inside / "log.txt").write_bytes(log[: log.rindex(b"\n", 0, -400) + 1])
    (inside / "told.txt").write_bytes(_TOLD + log.partition(b"\n")[2])
    _lines(inside / "sites.txt", "# servers", ["../stick"])
    _lines(inside / "drum.csv", "Time (s),V", _coast(0))
    (inside / "answers.toml").write_text(_ANSWERS, "utf-8")
    (inside / "head.csv").write_text(_JOINTS, "utf-8")
    (inside / "T26-005.bin").write_bytes(bytes(range(256)))
    (inside / "manifold.jpg").write_bytes(base64.b64decode(_PHOTO))
    (inside / "signing.toml").write_text(_SIGNING, "utf-8")
    for number in (1, 2, 3):
        _key(inside / f"key-{number}", number)


def _lines(file: Path, head: str, rows: list[str]) -> None:
    file.write_text("\n".join([head, *rows]) + "\n", "utf-8", newline="\n")


def _wide() -> list[str]:
    """A wideband's ten rows a second: held, a pull to 200 km/h, the lift."""
    rows = []
    for step in range(200):
        t = step / 10
        rise, fall = min(max(t - 3, 0), 13), max(t - 16, 0)
        lean = 1.0 if t < 3 else 1.4 if t > 16 else 0.86 - 0.002 * rise
        speed = 60 + 10.8 * rise - 8 * fall
        rows.append(f"{t:.1f},{speed:.2f},{lean + (step % 3 - 1) / 500:.3f},{55 + step % 2}")
    return rows


def _steeper(of: Path, file: Path) -> None:
    """Road speed against power, with a little more power the faster it turns."""
    head, *rows = of.read_text("utf-8-sig").splitlines()
    pairs = [row.split(",") for row in rows]
    more = [f"{speed},{float(power) + i / 100:.1f}" for i, (speed, power) in enumerate(pairs)]
    _lines(file, head, more)


def _key(place: Path, number: int) -> None:
    """A pair of keys that is the same each time: nothing is protected by it."""
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    private = Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32)
    kept = (form.Encoding.PEM, form.PrivateFormat.OpenSSH, form.NoEncryption())
    place.write_bytes(private.private_bytes(*kept))
    place.chmod(0o600)
    shown = private.public_key().public_bytes(form.Encoding.OpenSSH, form.PublicFormat.OpenSSH)
    place.with_name(f"{place.name}.pub").write_bytes(shown + b"\n")


def _coast(grade: float) -> list[str]:
    """A car of 1500 kg running down a grade, in small steps of time."""
    speed, rows = 33.0, []
    for step in range(4001):
        if step % 10 == 0:
            rows.append(f"{step / 100:.1f},{speed * 3.6:.2f}")
        force = 150 + 1.5 * speed + 0.45 * speed**2 + 1500 * 9.80665 * grade
        speed -= force / 1546 * 0.01
    return rows

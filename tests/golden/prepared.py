"""The files that calls read beside the ledger, the same each time."""

from __future__ import annotations

from pathlib import Path


def prepare(place: Path) -> None:
    """Lay out `in/` (to be read) and `out/` (to be written to) beside the ledger."""
    for name in ("in", "out"):
        (place / name).mkdir()
    for number, grade in enumerate((0.002, -0.002), 1):
        _lines(place / f"in/coast-{number}.csv", "Time (s),Road Speed (km/h)", _coast(grade))
    _lines(place / "in/blind.csv", "Time (s),Power (kW)", [f"{i},{i}" for i in range(40)])


def _lines(file: Path, head: str, rows: list[str]) -> None:
    file.write_text("\n".join([head, *rows]) + "\n", "utf-8", newline="\n")


def _coast(grade: float) -> list[str]:
    """A car of 1500 kg running down a grade, in small steps of time."""
    speed, rows = 33.0, []
    for step in range(4001):
        if step % 10 == 0:
            rows.append(f"{step / 100:.1f},{speed * 3.6:.2f}")
        force = 150 + 1.5 * speed + 0.45 * speed**2 + 1500 * 9.80665 * grade
        speed -= force / 1546 * 0.01
    return rows

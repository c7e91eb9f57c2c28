"""Raw bytes of on-board diagnostics by the scalings of SAE J1979.

The worked values are those of the reference tables (04 to 11 secondary, three consistent
tables; the others from memory): 1A F8 is 1726 rpm, 8C is +9.375 %, 6E 14 is lambda 0.85999.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from buildlog.errors import InvalidInput, UsageError
from buildlog.rawfiles import obd
from buildlog.rawfiles.spec import ColumnSpec, parse_map
from buildlog.rawfiles.table import read_table
from buildlog.units import find


def shown(pid: int, data: bytes) -> float:
    """The bytes of an answer, read as a cell and shown in the parameter's own unit."""
    known, name = obd.PARAMETERS[pid], f"J1979 {pid:02X} bytes"
    unit, own = obd.unit(name, (known.dimension,)), find(known.unit, (known.dimension,))
    reader = obd.cell_reader(name)
    assert unit is not None
    assert own is not None
    assert reader is not None
    return own.from_si(unit.to_si(reader(data.ljust(known.length, b"\0").hex())))


@pytest.mark.parametrize(
    ("pid", "data", "value"),
    [
        (0x0C, "1AF8", 1726.0),
        (0x06, "8C", 9.375),
        (0x09, "80", 0.0),
        (0x0E, "96", 11.0),
        (0x0F, "41", 25.0),
        (0x10, "2EE0", 120.0),
        (0x24, "6E14", 0.85999),
        (0x34, "6E148000", 0.85999),
        (0x44, "8000", 1.0),
        (0x04, "FF", 100.0),
        (0x05, "00", -40.0),
        (0x0B, "FF", 255.0),
        (0x0C, "FFFF", 16383.75),
        (0x10, "FFFF", 655.35),
    ],
)
def test_worked_values(pid: int, data: str, value: float) -> None:
    assert shown(pid, bytes.fromhex(data)) == pytest.approx(value, abs=5e-6)


@pytest.mark.parametrize("pid", obd.PARAMETERS)
def test_a_column_of_whole_numbers_gives_the_same_as_its_bytes(pid: int) -> None:
    known = obd.PARAMETERS[pid]
    unit = obd.unit(f"J1979 {pid:02X}", (known.dimension,))
    assert unit is not None
    own = find(known.unit, (known.dimension,))
    assert own is not None
    for raw in (0, 1, 77, 256**known.size - 1):
        data = raw.to_bytes(known.size, "big")
        assert own.from_si(unit.to_si(raw)) == pytest.approx(shown(pid, data), abs=1e-9)


def test_a_log_of_raw_numbers_is_read_in_si() -> None:
    text = b"a,b,c\n6904,65,96\n7200,66,100\n"
    columns = [
        ColumnSpec("engine_speed", "a", "J1979 0C"),
        ColumnSpec("intake_temperature", "b", "J1979 0F"),
        ColumnSpec("manifold_pressure", "c", "J1979 0B"),
    ]
    channels = read_table(text, "log.csv", columns).channels
    assert (channels["engine_speed"] * 30 / 3.141592653589793).tolist() == pytest.approx(
        [1726.0, 1800.0]
    )
    assert channels["intake_temperature"].tolist() == pytest.approx([298.15, 299.15])
    assert channels["manifold_pressure"].tolist() == pytest.approx([96_000, 100_000])


def test_it_can_be_typed_on_the_command_line_and_comes_back_as_written() -> None:
    spec = parse_map("engine_speed=a:J1979 0c", ["a"])
    assert spec.unit == "J1979 0C"
    assert spec.unit_row() == obd.unit("J1979-010C", ("angular_speed",))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("J1979 FF", "not a known parameter"), ("J1979 0D", "road speed, no angular speed")],
)
def test_what_does_not_fit_is_said(text: str, sentence: str) -> None:
    with pytest.raises(InvalidInput, match=sentence) as caught:
        ColumnSpec("engine_speed", "a", text).unit_row()
    assert caught.value.hint


# Cells of hexadecimal bytes


@pytest.mark.parametrize(
    ("cell", "pid", "whole"),
    [
        ("41 0C 1A F8", 0x0C, 0x1AF8),
        ("410C1AF8", 0x0C, 0x1AF8),
        ("0x1A 0xF8", 0x0C, 0x1AF8),
        ("1A F8", 0x0C, 0x1AF8),
        ("1af8", 0x0C, 0x1AF8),
        ("41-0c-1a-f8", 0x0C, 0x1AF8),
        ("41 0C 1A F8 00 00 00", 0x0C, 0x1AF8),  # filled up to a whole frame
        ("41 0C 1A F8 0D 37", 0x0D, 0x37),  # two parameters in one answer
        ("41 0F 41", 0x0F, 0x41),
        ("41 0C", 0x0C, 0x410C),  # two bytes are the data of a parameter of two
        ("41 24 6E 14 80 00", 0x24, 0x6E14),
        ("6E 14 80 00", 0x24, 0x6E14),
    ],
)
def test_bytes_in_a_cell(cell: str, pid: int, whole: int) -> None:
    reader = obd.cell_reader(f"J1979 {pid:02X} bytes")
    assert reader is not None
    assert reader(cell) == whole


@pytest.mark.parametrize("cell", ["41 0D 37", "7F 01 12", "41 A6 00 00 12 34"])
def test_an_answer_to_another_question_is_an_empty_cell(cell: str) -> None:
    reader = obd.cell_reader("J1979 0C bytes")
    assert reader is not None
    assert math.isnan(reader(cell))


@pytest.mark.parametrize(
    ("cell", "sentence"),
    [
        ("10 14 49 02 01 57 50 30", "answer in several frames"),
        ("21 5A 5A 5A 39 39 5A 54", "answer in several frames"),
        ("41 0C 1A", "breaks off"),
        ("1A", "neither an answer"),
        ("7E8 04 41 0C 1A F8", "not whole bytes"),
        ("04 41 0C 1A F8", "neither an answer"),
        ("rpm", "not whole bytes"),
    ],
)
def test_what_are_no_bytes_of_it_is_refused_with_line_and_column(cell: str, sentence: str) -> None:
    text = f"time,response\n0.0,41 0C 1A F8\n0.1,{cell}\n0.2,41 0C 1B 00\n".encode()
    columns = [
        ColumnSpec("time", "time", "s"),
        ColumnSpec("engine_speed", "response", "J1979 0C bytes"),
    ]
    with pytest.raises(InvalidInput, match=sentence) as caught:
        read_table(text, "log.csv", columns)
    assert caught.value.where == 'log.csv, line 3, column "response"'
    assert caught.value.hint


def test_a_column_of_answers_in_turn_carries_several_channels() -> None:
    rows = ["0.0,41 0C 1A F8", "0.1,41 0D 37", "0.2,", "0.3,41 0C 1C 20", "0.4,41 0D 38"]
    text = "\n".join(["time,response", *rows, ""]).encode()
    columns = [
        ColumnSpec("time", "time", "s"),
        ColumnSpec("engine_speed", "response", "J1979 0C bytes"),
        ColumnSpec("road_speed", "response", "J1979 0D bytes"),
    ]
    table = read_table(text, "log.csv", columns)
    rpm = table.channels["engine_speed"] * 30 / math.pi
    assert rpm[[0, 3]].tolist() == pytest.approx([1726.0, 1800.0])
    assert (table.channels["road_speed"][[1, 4]] * 3.6).tolist() == pytest.approx([55.0, 56.0])
    assert table.empty == {"time": 0, "engine_speed": 3, "road_speed": 3}


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_log_of_times_and_bytes_alone_is_a_table(delimiter: str) -> None:
    rows = [f"{i / 10:.1f}|41 0C 1A {i:02X}|0x{60 + i:02X}" for i in range(40)]
    text = "\n".join(["time|speed|pressure", *rows, ""]).replace("|", delimiter).encode()
    columns = [
        ColumnSpec("engine_speed", "speed", "J1979 0C bytes"),
        ColumnSpec("manifold_pressure", "pressure", "J1979 0B bytes"),
    ]
    channels = read_table(text, "log.csv", columns).channels
    assert (channels["engine_speed"] * 30 / math.pi).tolist() == pytest.approx(
        [(0x1A00 + i) / 4 for i in range(40)]
    )
    assert channels["manifold_pressure"].tolist() == pytest.approx(
        [1000 * (60 + i) for i in range(40)]
    )


def test_bytes_read_as_numbers_are_refused_with_the_unit_to_write() -> None:
    text = b"time,speed,load\n0.0,41 0C 1A F8,1\n0.1,41 0C 1A FA,1\n"
    with pytest.raises(InvalidInput) as caught:
        read_table(text, "log.csv", [ColumnSpec("engine_speed", "speed", "J1979 0C")])
    assert "J1979 0C bytes" in (caught.value.hint or "")


def test_a_log_of_bytes_is_added_by_one_command(demo_copy: Path, buildlog: Any) -> None:
    speeds = [2200 + 10 * i for i in range(300)]
    rows = [
        f"{i / 50:.2f},{0.02 * n:.2f},41 0C {4 * n >> 8:02X} {4 * n & 255:02X}"
        for i, n in enumerate(speeds)
    ]
    (demo_copy / "hex.csv").write_text("\n".join(["t [s],P wheel [kW],answer", *rows, ""]))
    done = buildlog(
        "dyno", "add", "hex.csv", "--session", "hex", "--gear", "4", "--odometer", "92100 mi",
        "--date", "2026-11-21", "--air-temperature", "20 degC", "--air-pressure", "990 hPa",
        "--humidity", "45 percent", "--dyno-kind", "inertia", "--dyno", "R1",
        "--standard-applied", "none", "--map", "engine_speed=answer:J1979 0C bytes",
        "--json", at=demo_copy,
    )  # fmt: skip
    assert done.status == 0, done.err
    (pull,) = json.loads(buildlog("dyno", "sheet", "hex", "--json").out)["pulls"]
    assert pull["at"] == pytest.approx(speeds[-1], rel=0.005)


def test_bytes_are_typed_on_the_command_line_and_an_unknown_parameter_is_named() -> None:
    assert parse_map("engine_speed=a:J1979 0C bytes", ["a"]).unit == "J1979 0C bytes"
    with pytest.raises(UsageError, match="J1979 A6 is not a known parameter"):
        parse_map("engine_speed=a:J1979 A6 bytes", ["a"])


@pytest.mark.parametrize("pid", obd.PARAMETERS)
def test_bytes_and_whole_numbers_mean_the_same(pid: int) -> None:
    known = obd.PARAMETERS[pid]
    reader = obd.cell_reader(f"J1979 {pid:02X} bytes")
    unit = obd.unit(f"J1979 {pid:02X} bytes", (known.dimension,))
    plain = obd.unit(f"J1979 {pid:02X}", (known.dimension,))
    assert reader is not None
    assert unit is not None
    assert plain is not None
    for raw in (0, 1, 65, 256**known.size - 1):
        data = raw.to_bytes(known.size, "big") + bytes(known.length - known.size)
        assert reader(data.hex(" ")) == raw
        assert reader(bytes([0x41, pid, *data]).hex()) == raw
        assert unit.to_si(raw) == plain.to_si(raw)

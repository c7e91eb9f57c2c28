"""Raw bytes of on-board diagnostics by the scalings of SAE J1979.

The worked values are those of the reference tables (04 to 11 secondary, three consistent
tables; the others from memory): 1A F8 is 1726 rpm, 8C is +9.375 %, 6E 14 is lambda 0.85999.
"""

from __future__ import annotations

import pytest

from buildlog.errors import InvalidInput
from buildlog.rawfiles import obd
from buildlog.rawfiles.spec import ColumnSpec, parse_map
from buildlog.rawfiles.table import read_table


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
    assert obd.value(pid, bytes.fromhex(data)) == pytest.approx(value, abs=5e-6)


@pytest.mark.parametrize("pid", obd.PARAMETERS)
def test_a_column_of_whole_numbers_gives_the_same_as_its_bytes(pid: int) -> None:
    known = obd.PARAMETERS[pid]
    unit = obd.unit(f"J1979 {pid:02X}", (known.dimension,))
    assert unit is not None
    from buildlog.units import find

    own = find(known.unit, (known.dimension,))
    assert own is not None
    for raw in (0, 1, 77, 256**known.size - 1):
        data = raw.to_bytes(known.size, "big")
        assert own.from_si(unit.to_si(raw)) == pytest.approx(obd.value(pid, data), abs=1e-9)


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


def test_too_few_bytes_are_refused() -> None:
    with pytest.raises(InvalidInput, match="needs 2 bytes"):
        obd.value(0x0C, b"\x1a")

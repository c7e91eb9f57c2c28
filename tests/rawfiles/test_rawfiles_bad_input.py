"""Files that must be refused, each with one sentence that names the line."""

from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from rawfile_examples import RUN

from buildlog.errors import BuildlogError, InvalidInput, NotFound, UsageError
from buildlog.rawfiles.propose import propose
from buildlog.rawfiles.spec import ColumnSpec, parse_map
from buildlog.rawfiles.table import read_table

RPM_POWER = [ColumnSpec("engine_speed", "RPM", "rpm"), ColumnSpec("power", "Power (kW)", "kW")]
HEAD = "RPM,Power (kW),Torque (Nm)\n"


def good_lines(count: int = 20) -> list[str]:
    return [f"{n:.0f},{p:.2f},{t:.2f}" for n, p, t, _ in RUN[:count]]


def with_line(number: int, text: str) -> bytes:
    """A sound file of 21 lines with one of them replaced."""
    lines = [HEAD.strip(), *good_lines()]
    lines[number - 1] = text
    return ("\n".join(lines) + "\n").encode()


def refusal(data: bytes) -> InvalidInput:
    with pytest.raises(InvalidInput) as caught:
        read_table(data, "pull.csv", RPM_POWER)
    return caught.value


@pytest.mark.parametrize("data", [b"", b"  \r\n\r\n", b"\xef\xbb\xbf"])
def test_empty_file(data: bytes) -> None:
    assert str(refusal(data)).splitlines()[0] == "pull.csv: the file is empty"


@pytest.mark.parametrize(
    "data",
    [HEAD.encode(), b"RPM;Power (kW)", b"nothing but words\nin this file\n", b"42\n43\n44\n"],
)
def test_no_table(data: bytes) -> None:
    assert (
        str(refusal(data)).splitlines()[0] == "pull.csv: no table of numbers was found in the file"
    )


@pytest.mark.parametrize(
    "data",
    [
        b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
        b"%PDF-1.7\n1 0 obj\n",
        b"PK\x03\x04abc",
        b"RPM\x01,1\n",
    ],
)
def test_binary(data: bytes) -> None:
    assert str(refusal(data)).splitlines()[0] == "pull.csv: the file holds bytes that are no text"


def test_zero_byte_far_down() -> None:
    data = (HEAD + "3000,80,250\n" * 20000).encode() + b"30\0000,80,250\n"
    error = refusal(data)
    assert (error.what, error.where) == ("a zero byte stands in the text", "pull.csv, line 20002")


@pytest.mark.parametrize(
    ("line", "text", "count"),
    [(7, "2500,80", "2 cells"), (21, "3900", "1 cell"), (2, "2000,1,2,3", "4 cells")],
)
def test_ragged_row(line: int, text: str, count: str) -> None:
    error = refusal(with_line(line, text))
    assert error.what == f"the line has {count} where the table has 3"
    assert error.where == f"pull.csv, line {line}"


def test_ragged_row_in_a_long_file_is_found_by_the_fast_way_too() -> None:
    lines = [HEAD.strip(), *["3000,80.5,250.1"] * 200_000]
    lines[150_000] = "3000,80.5"
    lines[150_001] = "3000,80.5,250.1,7"
    error = refusal("\n".join(lines).encode())
    assert error.where == "pull.csv, line 150001"


def test_ragged_row_outside_the_wanted_rows_is_no_matter() -> None:
    data = with_line(21, "3900")
    table = read_table(data, "pull.csv", RPM_POWER, rows=(3, 19))
    assert (table.rows, table.first_line) == (17, 4)


def test_decimal_comma_in_a_comma_file() -> None:
    lines = ["RPM,Power", *(f"{n:.0f},5,{p:.0f},5" for n, p, _, _ in RUN)]
    error = refusal("\n".join(lines).encode())
    assert error.what == "the line has 4 cells where the table has 2"
    assert "decimal comma" in str(error)


def test_word_in_a_wanted_column() -> None:
    error = refusal(with_line(9, "2700,ERR,200"))
    assert error.what == '"ERR" in column "Power (kW)" is no number'
    assert error.where == "pull.csv, line 9"


def test_word_in_another_column_is_no_matter() -> None:
    assert read_table(with_line(9, "2700,81,ERR"), "pull.csv", RPM_POWER).rows == 20


@pytest.mark.parametrize("cell", ["inf", "-inf", "1e999"])
def test_infinite(cell: str) -> None:
    error = refusal(with_line(5, f"2300,{cell},200"))
    assert error.where == "pull.csv, line 5"
    assert "is no number" in error.what


@pytest.mark.parametrize(
    "cell", ["1.2.3", "0x10", "1_000", "12 hp", "1e", "--5", "+-3", "1,5", "٣٤"]
)
def test_never_a_wrong_number(cell: str) -> None:
    quoted = f'"{cell}"' if "," in cell else cell
    error = refusal(with_line(5, f"2300,{quoted},200"))
    assert error.where == "pull.csv, line 5"


def test_undecidable_separator_in_one_cell() -> None:
    lines = ["RPM;Power (kW)", *(f"{n:.1f};{p:.2f}".replace(".", ",") for n, p, *_ in RUN)]
    lines[3] = "2.200;44,50"
    error = refusal("\n".join(lines).encode())
    assert error.what == '"2.200" in column "RPM" could be 2.200 or 2200'
    assert error.where == "pull.csv, line 4"


def test_undecidable_separator_in_the_whole_file() -> None:
    error = refusal(b"RPM;Power (kW)\n2,100;104,250\n2,200;105,125\n2,300;106,750\n")
    assert error.what == '"2,100" could be 2.100 or 2100, and nothing in the file decides it'


def test_three_decimals_are_read_where_another_cell_decides() -> None:
    data = b"RPM;Power (kW)\n2100,5;104,250\n2200,5;105,125\n2300,5;106,750\n"
    table = read_table(data, "pull.csv", RPM_POWER)
    np.testing.assert_allclose(table.channels["power"], [104250, 105125, 106750])


def test_second_table_below() -> None:
    lines = [HEAD.strip(), *good_lines(), "", "Time,Lambda,Boost", "0.1,0.9,50", "0.2,0.9,51"]
    error = refusal("\n".join(lines).encode())
    assert error.what == "a second table with other columns begins here"
    assert error.where == "pull.csv, line 23"


def test_header_that_does_not_fit() -> None:
    lines = ["RPM,Power", *good_lines()]
    error = refusal("\n".join(lines).encode())
    assert error.what == "the header names 2 columns but the lines below have 3 cells"
    assert error.where == "pull.csv, line 1"


def test_unknown_column_names_the_nearest() -> None:
    with pytest.raises(InvalidInput) as caught:
        read_table(with_line(1, HEAD.strip()), "pull.csv", [ColumnSpec("power", "Power kW", "kW")])
    assert str(caught.value).splitlines() == [
        'pull.csv: there is no column "Power kW" for power',
        '  do: did you mean "Power (kW)"?',
    ]


def test_wrong_dimension() -> None:
    with pytest.raises(InvalidInput) as caught:
        read_table(with_line(1, HEAD.strip()), "pull.csv", [ColumnSpec("power", "RPM", "rpm")])
    assert caught.value.what == '"rpm" is no unit of power'
    assert caught.value.where == 'column "RPM"'


def test_channel_given_twice() -> None:
    twice = [ColumnSpec("power", "RPM", "kW"), ColumnSpec("power", "Power (kW)", "kW")]
    with pytest.raises(InvalidInput, match="two columns are given for power"):
        read_table(with_line(1, HEAD.strip()), "pull.csv", twice)


@pytest.mark.parametrize("rows", [(0, 5), (5, 4), (1, 21), (30, 40)])
def test_rows_that_are_not_there(rows: tuple[int, int]) -> None:
    with pytest.raises(InvalidInput, match="rows"):
        read_table(with_line(1, HEAD.strip()), "pull.csv", RPM_POWER, rows=rows)


def test_wanted_columns_without_numbers() -> None:
    data = b"RPM,Power (kW),x\n" + b",,1\n" * 5
    with pytest.raises(InvalidInput, match="the wanted columns hold no numbers"):
        read_table(data, "pull.csv", RPM_POWER)


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="there is no such file"):
        read_table(tmp_path / "none.csv", "none.csv", RPM_POWER)


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(InvalidInput, match="cannot be read"):
        propose(tmp_path, "folder")


@pytest.mark.parametrize(
    ("text", "what", "hint"),
    [
        ("power", '"power" does not say which column is which channel', "CHANNEL=COLUMN:UNIT"),
        ("powr=P:kW", '"powr" is no channel', 'did you mean "power"?'),
        ("power=P", "the unit is missing", "CHANNEL=COLUMN:UNIT"),
        ("power=P:Nm", '"Nm" is no unit of power', "hp, PS, kW, W"),
        ("power=Leistng:kW", 'there is no column "Leistng"', 'did you mean "Leistung"?'),
    ],
)
def test_map_errors(text: str, what: str, hint: str) -> None:
    with pytest.raises(UsageError) as caught:
        parse_map(text, ["Drehzahl", "Leistung", "P"])
    assert caught.value.what == what
    assert caught.value.hint is not None
    assert hint in caught.value.hint


def test_map_takes_spellings_and_colons_in_names() -> None:
    assert parse_map("power=CH: Leistung:ps").name == "CH: Leistung"
    assert parse_map("engine_speed=n:1/min").unit == "rpm"
    assert parse_map("lambda=L1").unit == "1"
    assert parse_map("air_fuel_ratio=AFR").display_stoichiometric == 14.7


@pytest.mark.parametrize("seed", range(300))
def test_damaged_files_end_in_one_of_our_errors_or_in_numbers(seed: int) -> None:
    """Random cuts, repeats and bytes: never another exception."""
    random = np.random.default_rng(seed)
    data = bytearray(with_line(1, HEAD.strip()))
    for _ in range(random.integers(1, 6)):
        at = int(random.integers(0, len(data)))
        kind = random.integers(0, 3)
        if kind == 0:
            del data[at : at + int(random.integers(1, 40))]
        elif kind == 1:
            data[at:at] = bytes(random.integers(0, 256, 3, dtype=np.uint8))
        else:
            data[at:at] = random.choice([b",", b";", b"\n", b'"', b"\t", b"."])
    with suppress(BuildlogError):
        proposal = propose(bytes(data), "damaged.csv")
        table = read_table(bytes(data), "damaged.csv", proposal.specs())
        assert table.rows > 0
        assert not any(np.isinf(values).any() for values in table.channels.values())

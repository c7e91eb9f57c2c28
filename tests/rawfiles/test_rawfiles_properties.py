"""A random table in a random dialect reads back as the same numbers, by either way of reading."""

import math
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildlog.errors import InvalidInput, MissingExtra
from buildlog.rawfiles import decode as decoding
from buildlog.rawfiles.cells import Dialect, ambiguous
from buildlog.rawfiles.fixed import cell_ends, read_columns
from buildlog.rawfiles.layout import find_layout
from buildlog.rawfiles.notes import metadata
from buildlog.rawfiles.propose import propose
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table

NAMES = [
    ("engine_speed", "Drehzahl", "rpm"),
    ("power", "Power", "kW"),
    ("torque", "Couple", "Nm"),
    ("lambda", "Lambda", "1"),
    ("oil_temperature", "Oil temp", "K"),
]
NUMBER = st.integers(-10_000_000, 10_000_000).map(lambda n: n / 100)


@st.composite
def files(draw: st.DrawFn) -> tuple[bytes, list[list[float]], list[str]]:
    """Bytes of a file, the numbers row by row, the notes above it."""
    width = draw(st.integers(2, len(NAMES)))
    rows = draw(st.lists(st.lists(NUMBER, min_size=width, max_size=width), min_size=3, max_size=30))
    delimiter = draw(st.sampled_from([";", "\t", "|", ",", "  "]))
    decimal = draw(st.sampled_from(".," if delimiter != "," else "."))
    lines = [delimiter.join(f"{cell:.2f}".replace(".", decimal) for cell in row) for row in rows]
    header, notes = _header(draw, width, delimiter), _notes(draw)
    if draw(st.booleans()) and delimiter != "  ":
        lines = [line + delimiter for line in lines]
    newline = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    codec = draw(
        st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
    )
    end = newline if draw(st.booleans()) else ""
    text = newline.join([*notes, *([""] if notes else []), *header, *lines]) + end
    return text.encode(codec), rows, notes


def _header(draw: st.DrawFn, width: int, delimiter: str) -> list[str]:
    names, units = [n for _, n, _ in NAMES[:width]], [u for _, _, u in NAMES[:width]]
    if draw(st.booleans()):
        return [delimiter.join(names), delimiter.join(f"[{unit}]" for unit in units)]
    return [delimiter.join(names)]


def _notes(draw: st.DrawFn) -> list[str]:
    return draw(
        st.lists(
            st.sampled_from(["Car: Marrow Tern", "Öl: 5W-40", "# gear 4", "Datum = 2026-03-14"]),
            max_size=4,
            unique=True,
        )
    )


def specs(width: int) -> list[ColumnSpec]:
    return [ColumnSpec(*named) for named in NAMES[:width]]


def expected(rows: list[list[float]]) -> np.ndarray:
    table = np.array(rows)
    factors = [one.unit_row().factor for one in specs(table.shape[1])]
    return table * factors


def read(data: bytes, width: int) -> np.ndarray:
    table = read_table(data, "x.csv", specs(width))
    return np.column_stack([table.channels[channel] for channel, *_ in NAMES[:width]])


@settings(max_examples=300)
@given(files())
def test_round_trip_in_any_dialect(file: tuple[bytes, list[list[float]], list[str]]) -> None:
    data, rows, notes = file
    np.testing.assert_allclose(read(data, len(rows[0])), expected(rows), rtol=1e-12)
    layout = find_layout(data, "x.csv")
    assert len(metadata(layout.above, layout.dialect)) == len(notes)


@settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(files(), st.integers(1, 200))
def test_chunks_of_any_size_give_the_same(
    monkeypatch: pytest.MonkeyPatch, file: tuple[bytes, list[list[float]], list[str]], size: int
) -> None:
    data, rows, _ = file
    with monkeypatch.context() as patch:
        patch.setattr(decoding, "CHUNK", size)
        np.testing.assert_allclose(read(data, len(rows[0])), expected(rows), rtol=1e-12)


@settings(max_examples=100)
@given(files(), st.data())
def test_rows_are_a_slice_of_the_whole(
    file: tuple[bytes, list[list[float]], list[str]], data: st.DataObject
) -> None:
    raw, rows, _ = file
    first = data.draw(st.integers(1, len(rows)))
    last = data.draw(st.integers(first, len(rows)))
    width = len(rows[0])
    table = read_table(raw, "x.csv", specs(width), rows=(first, last))
    got = np.column_stack([table.channels[channel] for channel, *_ in NAMES[:width]])
    np.testing.assert_array_equal(got, read(raw, width)[first - 1 : last])


@settings(max_examples=150)
@given(files())
def test_a_proposal_never_invents_a_unit(file: tuple[bytes, list[list[float]], list[str]]) -> None:
    """Every unit comes from the header or is marked as assumed; every open one is a question."""
    data, rows, _ = file
    proposal = propose(data, "x.csv")
    text = decoding.decode(data, "x.csv")
    for column in proposal.columns:
        if column.unit not in (None, "1") and not column.assumed:
            assert f"[{column.unit}]" in text
        if column.channel and column.unit is None:
            assert any(f'"{column.name}"' in question.text for question in proposal.asked)
    assert proposal.rows == len(rows)


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(".,"))
def test_a_number_is_read_as_python_reads_it_or_refused(number: float, decimal: str) -> None:
    for text in (repr(number), f"{number:.3f}", f"{number:.6e}"):
        cell = text.replace(".", decimal)
        read_back = Dialect(";", decimal).number(cell)
        assert read_back == float(text)


@given(st.integers(0, 999_999_999), st.integers(0, 99), st.sampled_from([(".", ","), (",", ".")]))
def test_grouped_numbers(whole: int, hundredths: int, signs: tuple[str, str]) -> None:
    """ "1.234,5" and "1,234.5": right with a decimal part, refused where it cannot be decided."""
    grouping, decimal = signs
    grouped = f"{whole:,}".replace(",", grouping)
    dialect = Dialect(";", decimal)
    assert dialect.number(f"{grouped}{decimal}{hundredths:02}") == pytest.approx(
        whole + hundredths / 100
    )
    alone = dialect.number(grouped)
    assert alone == whole or (alone is None and ambiguous(grouped))


@given(st.text(max_size=12))
def test_no_text_breaks_the_number_reader(text: str) -> None:
    number = Dialect(";", ",").number(text)
    assert number is None or isinstance(number, float)


@given(st.binary(max_size=400))
def test_no_bytes_break_the_decoder(data: bytes) -> None:
    with suppress(InvalidInput, MissingExtra):  # bytes may begin as an MDF file does
        text = decoding.decode(data, "x.csv")
        assert "\0" not in text
        assert "\r\n" not in text


@pytest.mark.parametrize("decimal", [".", ","])
def test_fast_and_slow_way_agree(decimal: str) -> None:
    """The same long table once plain and once with a quoted cell, which only the slow way reads."""
    random = np.random.default_rng(7)
    numbers = random.uniform(-5000, 5000, (3000, 4)).round(3)
    lines = [";".join(f"{x:.3f}".replace(".", decimal) for x in row) for row in numbers]
    head = "Drehzahl;Power;Couple;Lambda\n"
    plain = (head + "\n".join(lines)).encode()
    lines[0] = ";".join(f'"{cell}"' for cell in lines[0].split(";"))
    quoted = (head + "\n".join(lines)).encode()
    np.testing.assert_array_equal(read(plain, 4), read(quoted, 4))
    assert not math.isnan(float(read(plain, 4).sum()))


@settings(max_examples=200)
@given(
    st.lists(st.integers(-(10**14), 10**14), min_size=1, max_size=40),
    st.integers(0, 12),
    st.sampled_from(".,"),
    st.sampled_from(["\n", "\r\n"]),
)
def test_fixed_decimals_are_read_to_the_last_bit(
    wholes: list[int], decimals: int, point: str, newline: str
) -> None:
    """Against Python's own correctly rounded float()."""
    texts = [f"{whole / 10**decimals:.{decimals}f}"[:15].rstrip(".") for whole in wholes]
    lines = "".join(f"1;{text.replace('.', point)}{newline}" for text in texts)
    signs = np.frombuffer(lines.encode(), np.uint8)
    ends = cell_ends(signs, ";", 2)
    assert ends is not None
    values = read_columns(signs, ends, [1], point)
    if values is not None:
        assert values[:, 0].tolist() == [float(text) for text in texts]
    else:
        assert len({len(text.partition(".")[2]) for text in texts}) > 1 or "-" in texts


@pytest.mark.parametrize(
    "cell", ["", "-", ".", "-.", "+5", " 5", "5 ", "1e5", "nan", "5-5", "1.2.3", "1234567890123456"]
)
def test_fixed_reader_leaves_anything_else_to_the_careful_one(cell: str) -> None:
    signs = np.frombuffer(f"1;{cell}\n".encode(), np.uint8)
    ends = cell_ends(signs, ";", 2)
    assert ends is not None
    assert read_columns(signs, ends, [1], ".") is None

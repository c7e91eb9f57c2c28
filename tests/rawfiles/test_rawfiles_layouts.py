"""Every layout of LAYOUTS.md: the right columns and units are proposed, the numbers read back."""

import numpy as np
import pytest
import rawfile_examples as layouts
from rawfile_examples import EXAMPLES, LETTERHEAD, RUN, comma

from buildlog import units
from buildlog.rawfiles.channel_words import CHANNELS
from buildlog.rawfiles.propose import FileProposal, propose
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table


def questions(proposal: FileProposal) -> tuple[str, ...]:
    return tuple(question.text for question in proposal.asked)


def proposed(name: str) -> FileProposal:
    return propose(EXAMPLES[name]().data, f"{name}.csv")


@pytest.mark.parametrize("name", EXAMPLES)
def test_channels_and_units_are_proposed(name: str) -> None:
    example = EXAMPLES[name]()
    found = {column.name: column for column in propose(example.data, name).columns}
    for channel, (column, unit) in example.columns.items():
        assert (found[column].channel, found[column].unit) == (channel, unit)


@pytest.mark.parametrize("name", EXAMPLES)
def test_numbers_read_back_in_si(name: str) -> None:
    example = EXAMPLES[name]()
    specs = [ColumnSpec(channel, *named) for channel, named in example.columns.items()]
    table = read_table(example.data, name, specs)
    for channel, (_, text) in example.columns.items():
        unit = units.find(text, CHANNELS[channel].dimensions)
        assert unit is not None
        truth = np.array(example.truth[channel]) * unit.factor + unit.offset
        np.testing.assert_allclose(table.channels[channel], truth, atol=0.051 * unit.factor)


@pytest.mark.parametrize("name", EXAMPLES)
def test_what_is_proposed_can_be_read(name: str) -> None:
    data = EXAMPLES[name]().data
    proposal = propose(data, name)
    labels = [run.label if run.columns else None for run in proposal.runs] or [None]
    for label in labels:
        assert read_table(data, name, proposal.specs(label)).rows >= 40


@pytest.mark.parametrize(
    "name",
    [
        "plain_comma",
        "german_spreadsheet",
        "utf16_log",
        "comment_signs",
        "columns_of_spaces",
        "french",
        "quoted_cells",
        "front_and_rear",
        "summary_row",
        "trailing_delimiter",
    ],
)
def test_a_clear_file_raises_no_question_and_no_finding(name: str) -> None:
    proposal = proposed(name)
    assert questions(proposal) == ()
    assert proposal.findings == ()


def test_letterhead_gives_conditions_and_keeps_every_line() -> None:
    proposal = proposed("letterhead")
    found = {condition.field: condition.value for condition in proposal.conditions}
    assert found == {
        "date": "2026-03-14",
        "odometer": "88412 mi",
        "gear": "4",
        "air.temperature": "68.5 degF",
        "air.pressure": "29.31 inHg",
        "air.humidity": "41 %",
        "standard_applied": "none",
    }
    assert proposal.metadata["Car"] == "Marrow Tern 2.6"
    assert proposal.metadata["Max power"] == "123 hp @ 6200"
    assert len(proposal.metadata) == len(LETTERHEAD) + 2


def test_padded_letterhead_gives_german_conditions() -> None:
    found = {one.field: one.value for one in proposed("padded_letterhead").conditions}
    assert found["date"] == "2026-03-14"
    assert found["odometer"] == "142285 km"
    assert found["air.pressure"] == "992.4 hPa"
    assert found["standard_applied"] == "DIN 70020"


@pytest.mark.parametrize("name", ["side_by_side_named_in_cells", "side_by_side_named_above"])
def test_runs_side_by_side_are_proposed(name: str) -> None:
    proposal = proposed(name)
    assert [run.label.casefold() for run in proposal.runs] == ["run 1", "run 2"]
    assert all(run.columns and run.rows is None for run in proposal.runs)


@pytest.mark.parametrize("name", ["one_after_another", "blank_line_between"])
def test_runs_one_after_another_are_proposed_and_read_by_rows(name: str) -> None:
    data = EXAMPLES[name]().data
    proposal = propose(data, name)
    size = len(RUN)
    assert [run.rows for run in proposal.runs] == [
        (1, size),
        (size + 1, 2 * size),
        (2 * size + 1, 3 * size),
    ]
    whole = read_table(data, name, proposal.specs())
    second = read_table(data, name, proposal.specs(), rows=proposal.runs[1].rows)
    for channel, values in second.channels.items():
        np.testing.assert_array_equal(values, whole.channels[channel][size : 2 * size])
    line = data.decode().split("\n")[second.first_line - 1]
    assert line.startswith("2000,")


def test_a_run_number_splits_the_file() -> None:
    size = len(RUN)
    assert [run.rows for run in proposed("clock_time").runs] == [(1, size), (size + 1, 2 * size)]


def test_wheel_power_is_preferred_and_the_crank_figure_named() -> None:
    found = {column.name: column for column in proposed("front_and_rear").columns}
    assert found["P wheel [kW]"].at == "wheel"
    assert found["P engine [kW]"].channel is None
    assert found["P engine [kW]"].why == '"P wheel [kW]" is read instead'


def test_empty_cells_are_counted() -> None:
    example = layouts.multi_rate()
    specs = [ColumnSpec(channel, *named) for channel, named in example.columns.items()]
    table = read_table(example.data, "log", specs)
    slow = sum(1 for i in range(len(RUN)) if i % 10)
    assert table.empty == {
        "time": 0,
        "engine_speed": 0,
        "coolant_temperature": slow,
        "oil_temperature": slow,
        "throttle": 0,
    }


def test_no_header_asks_for_everything() -> None:
    data = b"\n".join(f"{n:.0f},{p:.2f}".encode() for n, p, *_ in RUN)
    proposal = propose(data, "bare.csv")
    assert [column.name for column in proposal.columns] == ["column 1", "column 2"]
    assert all(column.channel is None for column in proposal.columns)
    assert questions(proposal) == (
        "the file has no header: what do its 2 columns hold? (--map CHANNEL=column 1:UNIT)",
    )
    table = read_table(data, "bare.csv", [ColumnSpec("power", "column 2", "kW")])
    assert table.rows == len(RUN)


def test_missing_units_are_assumed_by_size_or_asked() -> None:
    lines = ["RPM,Power,MAP,Speed"]
    lines += [f"{n:.0f},{p:.2f},{100 + n / 100:.1f},{n / 50:.1f}" for n, p, *_ in RUN]
    columns = {c.name: c for c in propose("\n".join(lines).encode(), "u.csv").columns}
    assert (columns["RPM"].unit, columns["RPM"].assumed) == ("rpm", False)
    assert (columns["MAP"].unit, columns["MAP"].assumed) == ("kPa", True)
    assert (columns["Power"].channel, columns["Power"].unit) == ("power", None)
    assert columns["Speed"].channel is None
    assert columns["Speed"].candidates == ("engine_speed", "road_speed")


def test_open_columns_become_questions_with_candidates() -> None:
    lines = ["RPM,Power,Speed", *(f"{n:.0f},{p:.2f},{n / 50:.1f}" for n, p, *_ in RUN)]
    assert questions(propose("\n".join(lines).encode(), "u.csv")) == (
        'in which unit is "Power" (power): hp, PS, kW, W? (--map power=Power:UNIT)',
        'is "Speed" engine_speed or road_speed? (--map CHANNEL=Speed:UNIT)',
    )


@pytest.mark.parametrize(
    ("power", "torque", "per_kw", "per_nm"),
    [("kW", "Nm", 1, 1), ("PS", "Nm", layouts.PS, 1), ("hp", "lb-ft", layouts.HP, layouts.LBFT)],
)
def test_power_torque_identity_finds_missing_units(
    power: str, torque: str, per_kw: float, per_nm: float
) -> None:
    """Source: the identity P = T * omega; unit values by NIST SP 811 (as pint has them)."""
    lines = ["RPM,Power,Torque"]
    lines += [f"{n:.0f},{p / per_kw:.2f},{t / per_nm:.2f}" for n, p, t, _ in RUN]
    columns = propose("\n".join(lines).encode(), "u.csv").columns
    assert [(column.unit, column.assumed) for column in columns[1:]] == [
        (power, True),
        (torque, True),
    ]


def test_a_stream_with_two_sweeps_is_split() -> None:
    up = [row[0] for row in RUN]
    speeds = [*up, *up[::-3], *up]
    lines = ["RPM,Power (kW)", *(f"{n:.0f},{n / 50:.1f}" for n in speeds)]
    runs = propose("\n".join(lines).encode(), "s.csv").runs
    assert [run.rows for run in runs] == [
        (1, len(up)),
        (len(speeds) - len(up) + 1, len(speeds)),
    ]
    assert runs[0].why == "the speed rises from low to high again"


def test_like_names_are_numbered_as_session_toml_names_them() -> None:
    data = b"RPM,Temp,Temp\n" + b"\n".join(b"%d,20,%d" % (n, n) for n in range(1000, 1100))
    assert [c.name for c in propose(data, "t.csv").columns] == ["RPM", "Temp", "Temp#2"]


def test_an_unknown_unit_is_asked_for_by_its_text() -> None:
    lines = ["Speed [x1000 rpm],Power (kW)", *(f"{n / 1000:.2f},{p:.2f}" for n, p, *_ in RUN)]
    assert questions(propose("\n".join(lines).encode(), "u.csv")) == (
        'the unit "x1000 rpm" of "Speed [x1000 rpm]" is not known: export the pull in another,'
        " or map it (--map CHANNEL=Speed [x1000 rpm]:UNIT)",
    )


def test_corrected_power_asks_for_the_standard_and_observed_power_is_preferred() -> None:
    lines = ["RPM,Corr Power (hp)", *(f"{n:.0f},{p:.2f}" for n, p, *_ in RUN)]
    assert questions(propose("\n".join(lines).encode(), "u.csv")) == (
        '"Corr Power (hp)" is corrected: by which standard? (--standard-applied NAME)',
    )
    lines = ["RPM,Corr Power (hp),Obs Power (hp)"]
    lines += [f"{n:.0f},{p * 1.02:.2f},{p:.2f}" for n, p, *_ in RUN]
    proposal = propose("\n".join(lines).encode(), "u.csv")
    assert [column.channel for column in proposal.columns] == ["engine_speed", None, "power"]
    assert questions(proposal) == ()


def test_two_like_sensors_are_a_question() -> None:
    lines = ["RPM,Lambda 1,Lambda 2", *(f"{n:.0f},{x:.3f},{x + 0.01:.3f}" for n, _, _, x in RUN)]
    assert questions(propose("\n".join(lines).encode(), "u.csv")) == (
        'which column is lambda: "Lambda 1" or "Lambda 2"? (--map lambda=COLUMN:UNIT)',
    )


def test_a_map_wins_over_the_guess() -> None:
    lines = ["RPM,Lambda 1,Lambda 2", *(f"{n:.0f},{x:.3f},{x + 0.01:.3f}" for n, _, _, x in RUN)]
    data = "\n".join(lines).encode()
    proposal = propose(data, "u.csv", [ColumnSpec("lambda", "Lambda 2", "1")])
    assert questions(proposal) == ()
    assert [spec.name for spec in proposal.specs()] == ["RPM", "Lambda 2"]
    assert proposal.columns[2].why == "as mapped"


def test_dates_with_time_in_the_first_column() -> None:
    lines = ["Timestamp,RPM,Power (kW)"]
    lines += [f"2026-03-14T12:00:{i:02}.5,{n:.0f},{p:.2f}" for i, (n, p, *_) in enumerate(RUN)]
    data = "\n".join(lines).encode()
    table = read_table(data, "t.csv", [ColumnSpec("time", "Timestamp", "s")])
    np.testing.assert_array_equal(np.diff(table.channels["time"]), 1.0)


def test_a_line_of_bare_delimiters_is_a_break_and_no_row() -> None:
    """Also where other cells are empty, which the fast way fills on its own."""
    one = [f"{n:.0f};;{comma(p)}" for n, p, *_ in RUN]
    data = "\n".join(["n [1/min];T [°C];P [kW]", *one, ";;", *one]).encode()
    size = len(RUN)
    specs = [ColumnSpec("engine_speed", "n [1/min]", "rpm")]
    assert read_table(data, "b.csv", specs).rows == 2 * size
    assert [run.rows for run in propose(data, "b.csv").runs] == [(1, size), (size + 1, 2 * size)]


def test_a_note_right_above_a_header_of_units_is_no_name() -> None:
    lines = ["Car;Marrow Tern", "rpm;kW", *(f"{n:.0f};{comma(p)}" for n, p, *_ in RUN)]
    proposal = propose("\n".join(lines).encode(), "u.csv")
    assert [column.name for column in proposal.columns] == ["rpm", "kW"]
    assert proposal.metadata == {"Car": "Marrow Tern"}


def test_a_few_rows_between_blank_lines_are_no_run() -> None:
    one = [f"{n:.0f},{p:.2f}" for n, p, *_ in RUN]
    lines = ["RPM,Power (kW)", *one, "", *one[:3], "", *one]
    runs = propose("\n".join(lines).encode(), "r.csv").runs
    assert [run.rows for run in runs] == [(1, 46), (50, 95)]

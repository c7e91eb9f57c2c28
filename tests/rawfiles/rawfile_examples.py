"""One file for each paragraph of LAYOUTS.md, written from its words; all show the same made-up run.

`RUN` is the truth: engine speed [rpm], power [kW], torque [Nm], lambda. Each file rounds it in its
own units; `Expected` says what must come back and how closely the printing allows.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

HP, PS, LBFT = (
    0.7456998715822702,
    0.73549875,
    1.3558179483314004,
)  # kW, kW, N*m: pint and NIST SP 811
SPEEDS = [2000.0 + 100.0 * n for n in range(46)]


def _torque(rpm: float) -> float:
    return 180.0 + 60.0 * math.sin((rpm - 2000.0) / 4500.0 * math.pi * 0.8)


def _power(rpm: float) -> float:
    return _torque(rpm) * rpm * math.pi / 30.0 / 1000.0


def _lambda(rpm: float) -> float:
    return 0.92 - 0.00002 * (rpm - 2000.0)


RUN = [(rpm, _power(rpm), _torque(rpm), _lambda(rpm)) for rpm in SPEEDS]


@dataclass(frozen=True)
class Example:
    """A file's bytes and, per channel and column name, the unit to be proposed and the numbers."""

    data: bytes
    columns: dict[str, tuple[str, str]]  # channel: (column name, unit)
    truth: dict[str, list[float]]  # channel: numbers as printed, in the column's unit


def comma(number: float, digits: int = 2) -> str:
    return f"{number:.{digits}f}".replace(".", ",")


def point(number: float, digits: int = 2) -> str:
    return f"{number:.{digits}f}"


def plain_comma() -> Example:
    head = "Engine Speed (rpm),Power (hp),Torque (lb-ft),AFR"
    rows = [(n, p / HP, t / LBFT, x * 14.7) for n, p, t, x in RUN]
    lines = [head, *(f"{n:.0f},{p:.2f},{t:.2f},{a:.2f}" for n, p, t, a in rows)]
    return Example(
        "\n".join(lines).encode(),
        {
            "engine_speed": ("Engine Speed (rpm)", "rpm"),
            "power": ("Power (hp)", "hp"),
            "torque": ("Torque (lb-ft)", "lb-ft"),
            "air_fuel_ratio": ("AFR", "1"),
        },
        _truth(rows, ("engine_speed", "power", "torque", "air_fuel_ratio")),
    )


def german_spreadsheet() -> Example:
    lines = ["Drehzahl;Leistung;Drehmoment;Lambda", "[1/min];[kW];[Nm];[-]"]
    lines += [f"{n:.0f};{comma(p)};{comma(t)};{comma(x, 3)}" for n, p, t, x in RUN]
    return Example("\r\n".join([*lines, ""]).encode("latin-1"), GERMAN, _truth(RUN, GERMAN))


GERMAN = {
    "engine_speed": ("Drehzahl", "rpm"),
    "power": ("Leistung", "kW"),
    "torque": ("Drehmoment", "Nm"),
    "lambda": ("Lambda", "1"),
}


def _log_text() -> str:
    lines = ["Zeit [s]\tn [1/min]\tP [PS]\tKühlmitteltemperatur [°C]"]
    lines += [
        f"{0.05 * i:.2f}\t{n:.1f}\t{p / PS:.2f}\t{85 + 0.1 * i:.1f}" for i, n, p in _counted()
    ]
    return "\r\n".join([*lines, ""])


def _counted() -> list[tuple[int, float, float]]:
    return [(i, row[0], row[1]) for i, row in enumerate(RUN)]


_LOG = {
    "time": ("Zeit [s]", "s"),
    "engine_speed": ("n [1/min]", "rpm"),
    "power": ("P [PS]", "PS"),
    "coolant_temperature": ("Kühlmitteltemperatur [°C]", "°C"),
}


def _log(data: bytes) -> Example:
    rows = [(0.05 * i, n, p / PS, 85 + 0.1 * i) for i, n, p in _counted()]
    return Example(data, _LOG, _truth(rows, _LOG))


def utf16_log() -> Example:
    return _log(b"\xff\xfe" + _log_text().encode("utf-16-le"))


def utf16_without_mark() -> Example:
    return _log(_log_text().encode("utf-16-be"))


def utf8_with_mark() -> Example:
    return _log(b"\xef\xbb\xbf" + _log_text().encode())


LETTERHEAD = [
    "Shop: Fernhill Works",
    "Car: Marrow Tern 2.6",
    "Date: 2026-03-14",
    "Odometer: 88412 mi",
    "Gear: 4",
    "Air temperature: 68.5 F",
    "Barometer (inHg): 29.31",
    "Humidity: 41 %",
    "Correction: none",
]
_US = {
    "engine_speed": ("RPM", "rpm"),
    "power": ("Wheel Power hp", "hp"),
    "torque": ("Wheel Torque lb-ft", "lb-ft"),
}


def _us_rows() -> list[tuple[float, ...]]:
    return [(n, p / HP, t / LBFT) for n, p, t, _ in RUN]


def letterhead() -> Example:
    lines = [*LETTERHEAD, "", ",".join(name for name, _ in _US.values())]
    lines += [f"{n:.0f},{p:.1f},{t:.1f}" for n, p, t in _us_rows()]
    lines += ["", "Max power: 123 hp @ 6200", "Car ran well, no knock heard"]
    return Example("\n".join(lines).encode(), _US, _truth(_us_rows(), _US))


def padded_letterhead() -> Example:
    lines = ["Datum;14.03.2026;;", "Kilometerstand;142285;km;", "Gang;4;;", ";;;"]
    lines += ["Lufttemperatur;20,3;°C;", "Luftdruck;992,4;hPa;", "rel. Luftfeuchte;41;%;"]
    lines += ["Korrektur;DIN 70020;;", ";;;", "Drehzahl;Leistung;Drehmoment;Lambda"]
    lines += ["1/min;kW;Nm;-"]
    lines += [f"{n:.0f};{comma(p)};{comma(t)};{comma(x, 3)}" for n, p, t, x in RUN]
    return Example("\r\n".join(lines).encode("cp1252"), GERMAN, _truth(RUN, GERMAN))


def comment_signs() -> Example:
    lines = ["# logged on the rollers, gear 4", "# gain 1.0", "# time s, speed km/h, power kW"]
    rows = [(0.1 * i, 40 + i, row[1]) for i, row in enumerate(RUN)]
    lines += [f"{t:.2f},{v:.1f},{p:.2f}" for t, v, p in rows] + ["# end"]
    columns = {
        "time": ("time s", "s"),
        "road_speed": ("speed km/h", "km/h"),
        "power": ("power kW", "kW"),
    }
    return Example("\n".join(lines).encode(), columns, _truth(rows, columns))


def columns_of_spaces() -> Example:
    lines = [
        "  Engine Speed rpm    Power kW   Torque Nm",
        "  ----------------    --------   ---------",
    ]
    lines += [f"{n:18.0f}{p:12.2f}{t:12.2f}" for n, p, t, _ in RUN]
    columns = {
        "engine_speed": ("Engine Speed rpm", "rpm"),
        "power": ("Power kW", "kW"),
        "torque": ("Torque Nm", "Nm"),
    }
    return Example("\n".join(lines).encode(), columns, _truth(RUN, columns))


def side_by_side_named_in_cells() -> Example:
    head = "Run 1 Speed (rpm);Run 1 Power (kW);Run 2 Speed (rpm);Run 2 Power (kW)"
    lines = [head]
    for i, (n, p, _, _) in enumerate(RUN):
        second = f"{n + 50:.0f};{comma(p * 1.01)}" if i < 40 else ";"
        lines.append(f"{n:.0f};{comma(p)};{second}")
    columns = {"engine_speed": ("Run 2 Speed (rpm)", "rpm"), "power": ("Run 2 Power (kW)", "kW")}
    rows = [(n + 50, p * 1.01) for n, p, _, _ in RUN[:40]]
    return Example("\n".join(lines).encode(), columns, _truth(rows, columns))


def side_by_side_named_above() -> Example:
    lines = ["Run 1;;;Run 2;;", "rpm;kW;Nm;rpm;kW;Nm"]
    for n, p, t, _ in RUN:
        lines.append(";".join(map(comma, (n, p, t, n, p * 1.02, t * 1.02))))
    columns = {
        "engine_speed": ("Run 2 rpm", "rpm"),
        "power": ("Run 2 kW", "kW"),
        "torque": ("Run 2 Nm", "Nm"),
    }
    rows = [(n, p * 1.02, t * 1.02) for n, p, t, _ in RUN]
    return Example("\n".join(lines).encode(), columns, _truth(rows, columns))


def one_after_another() -> Example:
    lines: list[str] = []
    for run in (1, 2, 3):
        lines += [f"Run {run}", "RPM,Power (hp),AFR", *_scaled(run), ""]
    return Example("\n".join(lines).encode(), _STACKED, _stacked_truth())


def blank_line_between() -> Example:
    lines = ["RPM,Power (hp),AFR"]
    for run in (1, 2, 3):
        lines += [*_scaled(run), ""]
    return Example("\n".join(lines).encode(), _STACKED, _stacked_truth())


_STACKED = {
    "engine_speed": ("RPM", "rpm"),
    "power": ("Power (hp)", "hp"),
    "air_fuel_ratio": ("AFR", "1"),
}


def _scaled(run: int) -> list[str]:
    return [f"{n:.0f},{p / HP * (1 + run / 100):.2f},{x * 14.7:.2f}" for n, p, _, x in RUN]


def _stacked_truth() -> dict[str, list[float]]:
    rows = [(n, p / HP * (1 + run / 100), x * 14.7) for run in (1, 2, 3) for n, p, _, x in RUN]
    return _truth(rows, _STACKED)


def french() -> Example:
    lines = ["Régime (tr/min);Puissance (ch);Couple (N.m);Température d'admission (°C)"]
    rows = [(n, p / PS, t, 20 + n / 500) for n, p, t, _ in RUN]
    for n, p, t, c in rows:
        thousands, rest = divmod(n, 1000)
        lines.append(
            f"{thousands:.0f}\u00a0{rest:05.1f}".replace(".", ",")
            + f";{comma(p)};{comma(t)};{comma(c, 1)}"
        )
    columns = {
        "engine_speed": ("Régime (tr/min)", "rpm"),
        "power": ("Puissance (ch)", "PS"),
        "torque": ("Couple (N.m)", "Nm"),
        "intake_temperature": ("Température d'admission (°C)", "°C"),
    }
    return Example("\n".join(lines).encode(), columns, _truth(rows, columns))


def quoted_cells() -> Example:
    lines = ['"Engine Speed (rpm)","Power (hp)","Torque, wheels (ft-lb)"']
    lines += [f'"{n:,.1f}","{p:.2f}","{t:.2f}"' for n, p, t in _us_rows()]
    columns = {
        "engine_speed": ("Engine Speed (rpm)", "rpm"),
        "power": ("Power (hp)", "hp"),
        "torque": ("Torque, wheels (ft-lb)", "ft-lb"),
    }
    return Example("\n".join(lines).encode(), columns, _truth(_us_rows(), columns))


def trailing_delimiter() -> Example:
    lines = ["Drehzahl [1/min];Leistung [kW];Drehmoment [Nm]"]
    lines += [f"{n:.0f};{comma(p)};{comma(t)};" for n, p, t, _ in RUN]
    columns = {
        "engine_speed": ("Drehzahl [1/min]", "rpm"),
        "power": ("Leistung [kW]", "kW"),
        "torque": ("Drehmoment [Nm]", "Nm"),
    }
    return Example("\n".join(lines).encode(), columns, _truth(RUN, columns))


def multi_rate() -> Example:
    lines = ["time [ms]|n [rpm]|coolant temp [°C]|oil temp [°C]|TPS [%]"]
    rows = []
    for i, (n, *_) in enumerate(RUN):
        slow = (80 + i / 10, 90 + i / 10) if i % 10 == 0 else (math.nan, math.nan)
        lines.append(f"{i * 20}|{n:.0f}|{_blank(slow[0])}|{_blank(slow[1])}|{99.5:.1f}")
        rows.append((i * 20.0, n, *slow, 99.5))
    columns = {
        "time": ("time [ms]", "ms"),
        "engine_speed": ("n [rpm]", "rpm"),
        "coolant_temperature": ("coolant temp [°C]", "°C"),
        "oil_temperature": ("oil temp [°C]", "°C"),
        "throttle": ("TPS [%]", "%"),
    }
    return Example("\n".join(lines).encode(), columns, _truth(rows, columns))


def _blank(number: float) -> str:
    return "" if math.isnan(number) else f"{number:.1f}"


def front_and_rear() -> Example:
    lines = ["n [1/min]\tP front [kW]\tP rear [kW]\tP wheel [kW]\tP engine [kW]\tP loss [kW]"]
    rows = [(n, p * 0.4, p * 0.6, p, p * 1.16, p * 0.16) for n, p, _, _ in RUN]
    lines += ["\t".join(map(point, row)) for row in rows]
    columns = {
        "engine_speed": ("n [1/min]", "rpm"),
        "power_front": ("P front [kW]", "kW"),
        "power_rear": ("P rear [kW]", "kW"),
        "power": ("P wheel [kW]", "kW"),
        "power_loss": ("P loss [kW]", "kW"),
    }
    truth = _truth([(row[0], row[1], row[2], row[3], row[5]) for row in rows], columns)
    return Example("\n".join(lines).encode(), columns, truth)


def clock_time() -> Example:
    lines = ["Time,Run,RPM,Power (kW)"]
    rows = []
    for run in (4, 5):
        for i, (n, p, _, _) in enumerate(RUN):
            seconds = run * 120 + 0.25 * i
            lines.append(f"12:{int(seconds // 60):02}:{seconds % 60:05.2f},{run},{n:.0f},{p:.2f}")
            rows.append((12 * 3600 + seconds, run, n, p))
    columns = {
        "time": ("Time", "s"),
        "run_number": ("Run", "1"),
        "engine_speed": ("RPM", "rpm"),
        "power": ("Power (kW)", "kW"),
    }
    return Example("\n".join(lines).encode(), columns, _truth(rows, columns))


def german_thousands() -> Example:
    lines = ["Drehzahl [U/min];Leistung [PS];Drehmoment [Nm]"]
    rows = [(n - 1300, p / PS, t) for n, p, t, _ in RUN]
    for n, p, t in rows:
        whole = f"{n:,.1f}".translate(str.maketrans(",.", ".,"))
        lines.append(f"{whole};{comma(p)};{comma(t)}")
    columns = {
        "engine_speed": ("Drehzahl [U/min]", "rpm"),
        "power": ("Leistung [PS]", "PS"),
        "torque": ("Drehmoment [Nm]", "Nm"),
    }
    return Example("\n".join(lines).encode(), columns, _truth(rows, columns))


def old_newlines() -> Example:
    example = plain_comma()
    return Example(example.data.replace(b"\n", b"\r"), example.columns, example.truth)


def summary_row() -> Example:
    lines = ["Drehzahl;Leistung;Drehmoment;Lambda", "1/min;kW;Nm;-"]
    lines += [f"{n:.0f};{comma(p)};{comma(t)};{comma(x, 3)}" for n, p, t, x in RUN]
    lines += ["Max;6500;155,71;0,920"]
    return Example("\n".join(lines).encode(), GERMAN, _truth(RUN, GERMAN))


def _truth(
    rows: list[tuple[float, ...]] | list[tuple[float, float, float, float]],
    channels: dict[str, tuple[str, str]] | tuple[str, ...],
) -> dict[str, list[float]]:
    return {channel: [row[j] for row in rows] for j, channel in enumerate(channels)}


EXAMPLES: dict[str, Callable[[], Example]] = {
    make.__name__: make
    for make in (
        plain_comma,
        german_spreadsheet,
        utf16_log,
        utf16_without_mark,
        utf8_with_mark,
        letterhead,
        padded_letterhead,
        comment_signs,
        columns_of_spaces,
        side_by_side_named_in_cells,
        side_by_side_named_above,
        one_after_another,
        blank_line_between,
        french,
        quoted_cells,
        trailing_delimiter,
        multi_rate,
        front_and_rear,
        clock_time,
        german_thousands,
        old_newlines,
        summary_row,
    )
}

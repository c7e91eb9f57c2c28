"""Make the demo car's raw dyno files and calibration files. Every number here is invented.

Run `python demo_vehicle/make_curves.py`: it writes the same bytes each time. Nothing was
measured; there is no such car, shop, dyno or supplier. The curves are shaped to be plausible:
wheel power in reference air (SAE J1349), brought to the air of the day the other way round
(a raw file holds observed values), with noise along each pull and a small offset per pull.

The package is not imported: what it computes from these files is not built from its formulas.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

Array = np.ndarray
Files = dict[str, bytes]
HP, KW, LBF_FT, PSI, INHG = 745.6998715822702, 1e3, 1.3558179483314004, 6894.757, 3386.389
RPM = np.pi / 30  # rad/s
MPH = 0.44704
FINAL_DRIVE = 3.91  # fourth gear is direct
SLIP = 0.01  # of the tyre on the roller
PULL_OFFSET, NOISE, MEMORY = 0.002, 0.0045, 0.83  # shares of power; memory from row to row


def generator(seed: int) -> np.random.RandomState:
    """Random numbers whose sequence numpy has frozen for good."""
    return np.random.RandomState(seed)


# --- the car, in reference air -----------------------------------------------------------


def natural(speed: Array, peak_hp: float, at: float, torque_at: float) -> Array:
    """Wheel power [W] with its peak at `at` and its torque peak at `torque_at` [rpm]."""
    x, top = (speed - torque_at) / torque_at, (at - torque_at) / torque_at
    fall = 1 / (3 * top**2 * at / torque_at + top**3)
    shape = 1 - np.where(x > 0, fall * x**3, 0.5 * x**2)
    power: Array = peak_hp * HP / at / (1 - fall * top**3) * speed * shape
    return power


def turbocharged(speed: Array, peak_hp: float) -> Array:
    """Wheel power [W] that leaves the unboosted curve near 2,600 rpm."""
    boosted = natural(speed, peak_hp, 5450, 3900)
    spooled = 1 / (1 + np.exp(-(speed - 2550) / 170))
    power: Array = spooled * boosted + (1 - spooled) * 0.93 * natural(speed, 142, 5600, 4200)
    return power


def shaken(speed: Array) -> Array:
    """How far a shaking hose is open at its clamp, 0 to 1: about 300 rpm wide at 4,900 rpm."""
    return np.exp(-0.5 * ((speed - 4900) / 105) ** 2)


def boost(speed: Array) -> Array:
    """Manifold pressure above ambient [psi], held by a spring; it creeps up by half a psi."""
    held = 9.0 / (1 + np.exp(-(speed - 2600) / 170))
    creep = np.interp(speed, [3200, 4700, 6400], [0, 0.5, -0.1])
    gauge: Array = held + creep - 0.8 * shaken(speed)
    return gauge


# --- the day -----------------------------------------------------------------------------


def factor_j1349(pressure: float, celsius: float, humidity: float) -> float:
    """What observed power is multiplied by to get power in reference air."""
    vapour = humidity * 611.2 * np.exp(17.62 * celsius / (243.12 + celsius))  # Magnus
    ratio = 99e3 / (pressure - vapour) * ((celsius + 273.15) / 298.15) ** 0.5
    return float((ratio - 0.15) / 0.85)


def scattered(rng: np.random.RandomState, curve: Array) -> Array:
    """One pull's reading of a curve: an offset for the pull, and noise that remembers."""
    shocks = rng.standard_normal(len(curve))
    noise = np.empty(len(curve))
    noise[0] = shocks[0]
    for i in range(1, len(curve)):
        noise[i] = MEMORY * noise[i - 1] + (1 - MEMORY**2) ** 0.5 * shocks[i]
    return curve * (1 + PULL_OFFSET * rng.standard_normal() + NOISE * noise)


def sweep(
    rng: np.random.RandomState, start: float, end: float, seconds: float
) -> tuple[Array, Array]:
    """Time [s] at 20 Hz and a rising engine speed [rpm] with the unrest of a brake's control."""
    time = np.arange(0, seconds + 0.01, 0.05)
    speed = start + (end - start) * time / seconds + rng.standard_normal(len(time)) * 1.5
    return time, np.round(np.maximum.accumulate(speed))


def wobble(rng: np.random.RandomState, level: Array | float, spread: float, rows: int) -> Array:
    """A logged channel: its level and the noise of its sensor."""
    return level + spread * rng.standard_normal(rows)


def road_speed(speed: Array, circumference: float) -> Array:
    """Roller surface speed [m/s] in fourth gear."""
    return speed / 60 * circumference / FINAL_DRIVE * (1 - SLIP)


# --- writing -----------------------------------------------------------------------------


def rows(columns: Sequence[tuple[Array, int]], delimiter: str, decimal: str = ".") -> list[str]:
    """One text line per row; each column with its own number of decimals."""
    cells = [[f"{v:.{digits}f}" for v in values] for values, digits in columns]
    lines = (delimiter.join(line) for line in zip(*cells, strict=True))
    return [line.replace(".", decimal) for line in lines]


def text(lines: Iterable[str], newline: str = "\n") -> str:
    """Lines as a file has them."""
    return "".join(line + newline for line in lines)


def baseline() -> Files:
    """Three files, US units, comma; the third pull was lifted early and rolls back."""
    rng = generator(260211)
    factor = factor_j1349(29.52 * INHG, (64 - 32) / 1.8, 0.46)
    head = "Time [s],Engine Speed [rpm],Road Speed [mph],Power [hp],Torque [lb-ft],AFR"
    files = {}
    for number in (1, 2, 3):
        time, speed = sweep(rng, 2000, 6150 if number == 3 else 6300, 12)
        power = scattered(rng, natural(speed, 142.1, 5600, 4200)) / factor
        if number == 3:
            time, speed, power = lifted(time, speed, power)
        mixture = wobble(rng, 12.85 + 0.25 * (speed < 2500), 0.05, len(speed))
        columns = [(time, 2), (speed, 0), (road_speed(speed, 1.898) / MPH, 1), (power / HP, 1)]
        columns += [(power / (speed * RPM) / LBF_FT, 1), (mixture, 2)]
        files[f"pull-{number}.csv"] = text([head, *rows(columns, ",")]).encode()
    return {f"02-baseline/dyno/2026-02-11-baseline/{name}": data for name, data in files.items()}


def lifted(time: Array, speed: Array, power: Array) -> tuple[Array, Array, Array]:
    """The half second after the throttle was closed."""
    after = np.arange(1, 11)
    return (
        np.append(time, time[-1] + 0.05 * after),
        np.append(speed, np.round(speed[-1] - 14 * after)),
        np.append(power, power[-1] * 0.72**after),
    )


def stage_1() -> Files:
    """Two calibrations on one day: semicolons, decimal comma, German words, Latin-1."""
    rng = generator(260314)
    factor = factor_j1349(100420, 19.5, 0.52)
    head = [
        "Zeit;Drehzahl;Radleistung;Drehmoment;Lambda;Saugrohrdruck;Kühlmitteltemperatur",
        "[s];[1/min];[kW];[Nm];[-];[hPa];[°C]",
    ]
    files = {}
    for name, peak, at in (("t26-002", 147.0, 5650), ("t26-003", 150.8, 5700)):
        for number in (1, 2, 3):
            time, speed = sweep(rng, 2000, 6350, 12)
            power = scattered(rng, natural(speed, peak, at, 4300)) / factor
            n = len(speed)
            mixture = wobble(rng, 0.895 if name == "t26-002" else 0.872, 0.004, n)
            manifold = wobble(rng, 993 - 0.003 * speed, 1.0, n)
            coolant = 86 + 0.35 * time + rng.uniform(0, 1)
            columns = [(time, 2), (speed, 0), (power / KW, 1), (power / (speed * RPM), 1)]
            columns += [(mixture, 3), (manifold, 0), (coolant, 1)]
            lines = [*head, *rows(columns, ";", ",")]
            files[f"{name}-lauf-{number}.csv"] = text(lines, "\r\n").encode("latin-1")
    return {f"04-stage-1/dyno/2026-03-14-stage-1/{name}": data for name, data in files.items()}


STAGE_2_HEAD = (
    "Time (s)\tEngine Speed (rpm)\tRoad Speed (mph)\tPower (hp)\tTorque (lb-ft)\tLambda"
    "\tBoost (psi)\tFuel Pressure (psi)\tSpark (deg)\tIntake Temp (degF)"
)


def stage_2() -> Files:
    """Three pulls one below the other in one file, tabs; a hose is shaken open at 4,900 rpm."""
    rng = generator(260520)
    factor = factor_j1349(29.35 * INHG, (77 - 32) / 1.8, 0.55)
    lines = ["# Dunmarrow Works, dyno R1, Marrow Tern 2.6, fourth gear", STAGE_2_HEAD]
    for number in (1, 2, 3):
        lines += [""] if number > 1 else []
        lines += rows(stage_2_pull(rng, factor), "\t")
    return {"09-stage-2/dyno/2026-05-09-stage-2/pulls.txt": text(lines).encode()}


def stage_2_pull(rng: np.random.RandomState, factor: float) -> list[tuple[Array, int]]:
    """One pull's columns. Rail pressure follows the manifold, so it dips where boost dips."""
    time, speed = sweep(rng, 2000, 6300, 11)
    n = len(speed)
    sagging = turbocharged(speed, 211.6) * (1 - 0.034 * shaken(speed))
    power = scattered(rng, sagging) / factor
    manifold = boost(speed)
    mixture = np.interp(speed, [2120, 2260], [0.86, 0.80])
    spark = np.interp(speed, [2000, 2800, 3600, 6300], [22, 16, 15, 19.5])
    return [
        (time, 2), (speed, 0), (road_speed(speed, 1.905) / MPH, 1), (power / HP, 1),
        (power / (speed * RPM) / LBF_FT, 1), (wobble(rng, mixture, 0.004, n), 3),
        (wobble(rng, manifold, 0.06, n), 2), (wobble(rng, 43.5 + manifold, 0.12, n), 1),
        (wobble(rng, spark, 0.1, n), 1), (wobble(rng, 88 + 2.2 * time, 0.3, n), 1),
    ]  # fmt: skip


def loggers() -> Files:
    """A logger with a clock of its own beside stage 2, ten rows a second: engine speed and the
    temperature before the turbine, from before each pull until after the throttle was closed."""
    rng = generator(260509)
    files = {}
    for number, late in ((1, 4.2), (2, 3.6), (3, 5.1)):
        time = np.arange(-3, 13.01, 0.1)
        speed = np.interp(time, [-3, 0, 11, 13], [1900, 2000, 6300, 3400])
        heat = np.interp(time, [-3, 0, 4, 11, 13], [1040, 1058, 1274, 1602, 1472])
        columns = [(time + 3 + late, 2), (wobble(rng, speed, 6, len(time)), 0)]
        columns += [(wobble(rng, heat, 2.7, len(time)), 0)]
        lines = ["Time (s),Engine Speed (rpm),Turbine Inlet Temp (degF)", *rows(columns, ",")]
        files[f"exhaust-{number}.csv"] = text(lines).encode()
    return {f"09-stage-2/dyno/2026-05-09-stage-2/{name}": data for name, data in files.items()}


def recheck() -> Files:
    """Another machine, exported without its engine speed: road speed and power only."""
    rng = generator(260606)
    factor = factor_j1349(98480, 26.5, 0.41)
    files = {}
    for number in (1, 2, 3):
        grid = np.arange(2050, 6280, 18.0)
        speed = grid + rng.standard_normal(len(grid))
        power = scattered(rng, turbocharged(speed, 206.5)) / factor
        columns = [(road_speed(speed, 1.905) * 3.6, 1), (power / KW, 1)]
        lines = ["Road Speed (km/h),Power (kW)", *rows(columns, ",")]
        files[f"run-{number}.csv"] = text(lines).encode("utf-8-sig")
    folder = "16-stage-2-recheck/dyno/2026-06-06-stage-2-recheck"
    return {f"{folder}/{name}": data for name, data in files.items()}


def calibrations() -> Files:
    """Stand-ins for calibration files: a line that says so, and bytes that mean nothing."""
    folders = {"T26-002": "03-stage-1-parts", "T26-003": "04-stage-1", "T26-004": "07-calibration"}
    return {
        f"{folder}/attachments/{name}.bin": f"invented calibration {name}\n".encode()
        + generator(int(name[-3:])).bytes(480)
        for name, folder in folders.items()
    }


def everything() -> Files:
    """Path below files/ and content of every generated file."""
    return baseline() | stage_1() | stage_2() | loggers() | recheck() | calibrations()


def main() -> None:
    """Write all of them."""
    for name, data in everything().items():
        path = Path(__file__).parent / "files" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


if __name__ == "__main__":
    main()
